"""The topic that is worked on: how often it is still told, and when it is mended or stuck."""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.planner.record import Record
from coach.vocabulary.events import Fault

SHARES = (1.0, 0.5, 0.25)
"""Share of its findings that is told, a step further with each clean lap (2.2: Winstein & Schmidt 1990, a schedule
that fades to half on average was kept better than one of every time; the steps are a choice)."""
CLEAN = 3
"""Passes without it that mend it (choice; a fault of every second lap stays away so long one time in eight)."""
CLEAN_EACH = 2
"""Passes without it at each of several corners."""
REWORD = 2
"""Times that a wording is told in vain before another is tried (choice)."""
PATIENCE = 6
"""Laps on which it was told, after which a topic that comes up as often as ever is stuck (choice)."""
HARDLY = 0.75
"""Share of what came up at first that a stuck topic still comes up with (choice)."""


@dataclass(slots=True)
class Topic:
    """One fault that is worked on, since `since` (lap). `fixed`: asked for from outside, so neither faded nor left."""

    fault: str
    since: int
    corners: list[int | None]
    fixed: bool = False
    level: int = 0
    credit: float = 0.0
    told: int = 0
    told_laps: set[int] = field(default_factory=set)
    reminded: dict[int, int] = field(default_factory=dict)
    """by corner: the lap of the last reminder"""
    hits: dict[int, int] = field(default_factory=dict)
    """by lap: times that it came up"""

    def found(self, fault: Fault, record: Record) -> None:
        """It came up once more, as `record` knows already."""
        self.hits[fault.lap] = self.hits.get(fault.lap, 0) + 1
        if fault.corner not in self.corners:
            self.corners.append(fault.corner)
        if record.trail(self.fault, fault.corner).hits_in_a_row > 1:
            self.level = 0

    def is_due(self, fade: bool) -> bool:
        """Whether this finding is told: all at first, fewer as it improves."""
        self.credit += 1.0 if self.fixed or not fade else SHARES[self.level]
        if self.credit < 1.0:
            return False
        self.credit -= 1.0
        return True

    def say(self, lap: int) -> None:
        """A cue spoke of it."""
        self.told += 1
        self.told_laps.add(lap)

    @property
    def attempt(self) -> int:
        """Which wording it is told in: another one where the last did not help."""
        return self.told // REWORD

    def lap_over(self, lap: int, record: Record) -> None:
        """A lap ended: without it, the next is told less often."""
        if self.hits.get(lap):
            return
        judged = any(turn.lap == lap for corner in self.corners for turn in record.trail(self.fault, corner).turns)
        if judged:
            self.level = min(self.level + 1, len(SHARES) - 1)
            self.told -= self.told % REWORD  # it helped: the wording stays

    def is_mended(self, record: Record) -> bool:
        """Whether it has stayed away from each of its corners for long enough."""
        rows = [record.trail(self.fault, corner).clean_in_a_row for corner in self.corners]
        return bool(rows) and min(rows) >= min(CLEAN_EACH, CLEAN) and sum(rows) >= CLEAN

    def is_stuck(self, lap: int) -> bool:
        """Whether it comes up as often as ever, though it was told for laps."""
        if self.fixed or len(self.told_laps) < PATIENCE:
            return False
        span = PATIENCE // 2
        first = sum(self.hits.get(self.since + n, 0) for n in range(span))
        last = sum(self.hits.get(lap - n, 0) for n in range(span))
        return last >= HARDLY * first

    def gain(self, record: Record) -> float | None:
        """s a lap that its corners are quicker since; None where that is not known."""
        gains = [record.gain(self.fault, corner) for corner in self.corners]
        known = [gain for gain in gains if gain is not None]
        return sum(known) if known else None
