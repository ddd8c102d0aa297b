"""What wants to be said: a finding, a praise, a sentence at the line, an answer."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from coach.vocabulary.events import Fault, Spoken

CORRECTION, REMINDER, PRAISE, SUMMARY, STATUS = "correction", "reminder", "praise", "summary", "status"
"""The kinds of cues."""


class Rank(IntEnum):
    """What goes first."""

    ASKED = 0
    FIRST = 1
    FUEL = 2
    TOPIC = 3
    OTHER = 4
    PRAISE = 5
    LINE = 6


@dataclass(slots=True, eq=False)
class Wish:
    """One thing that wants to be said, since `since` (s), of `worth` s.

    `texts`: wordings, the fullest first; `named`: those that name the corner, for where another one was driven
    since (empty: the texts serve everywhere); `wide`: those for several corners at once. `place`: m from the line
    where it is out of date, None for none; `until`: s at which it is. `fault`: the finding of a correction.
    `receipt`: it only tells that a press was heard. `away`: that place has been out of sight. `obstacle`: what kept
    it back when there was room otherwise.
    """

    kind: str
    rank: Rank
    since: float
    texts: tuple[str, ...]
    named: tuple[str, ...] = ()
    wide: tuple[str, ...] = ()
    worth: float = 0.0
    about: str | None = None
    of: tuple[Spoken, ...] = ()
    corner: int | None = None
    lap: int = 0
    place: float | None = None
    until: float | None = None
    fault: Fault | None = None
    receipt: bool = False
    away: bool = False
    obstacle: str = ""

    @property
    def order(self) -> tuple[int, float]:
        """The least is said first; a receipt last, for it would take the room of what is news on this straight."""
        return (len(Rank) if self.receipt else self.rank, -self.worth)
