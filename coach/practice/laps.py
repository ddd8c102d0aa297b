"""Laps as the stages count them: clean, spoilt, or neither."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from coach.vocabulary.events import Passed

SPOILS = frozenset({"off_track", "cut", "spin"})
"""What the driver did wrong: it ends a row of clean laps."""
APART = frozenset({"out_lap", "in_lap", "standing_start", "pit", "paused", "gap", "reset"})
"""What makes a lap say nothing of the driver: it neither ends a row nor counts in it."""
STANDING = frozenset({"standing_start"})

CLEAN, SPOILT, NEITHER = "clean", "spoilt", "neither"


@dataclass(frozen=True, slots=True)
class DrivenLap:
    """One lap that ended. `kind`: clean, spoilt or neither; `standing`: the first of a race, clean but for its start.

    `time` s of a clean one, else None; `fuel` L that it took, None where that is not known; `passes` of its corners;
    `stint` counts the times that the car went out.
    """

    kind: str
    standing: bool
    time: float | None
    fuel: float | None
    passes: tuple[Passed, ...]
    stint: int


def kind_of(time: float | None, clean: bool, why_not: Collection[str]) -> str:
    """What a lap counts as, from its `Lap` event: the driver's own mistake goes before all else that it was."""
    if SPOILS.intersection(why_not):
        return SPOILT
    if clean and time is not None:
        return CLEAN
    if time is None or APART.intersection(why_not):
        return NEITHER
    return SPOILT


class Row:
    """Clean laps in a row, as they end. An incident ends it at once, even of a lap that is given up."""

    def __init__(self) -> None:
        self.count = 0
        self._ended = 0
        self._is_broken = False

    def lap_over(self, kind: str) -> None:
        """A lap of that kind ended."""
        self._ended += kind != NEITHER
        if kind == CLEAN:
            self.count += 1
        elif kind == SPOILT:
            self.incident()

    def incident(self) -> None:
        """The car went off or spun, or a lap was spoilt otherwise."""
        self.count, self._is_broken = 0, True

    def is_early(self, needed: int) -> bool:
        """Whether so many in a row are not there because too few laps were driven, not because one was spoilt."""
        return self._ended < needed or not self._is_broken
