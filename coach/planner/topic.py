"""The topic that is worked on: how often it is still told, and when it is mended or stuck."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

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
SPAN = 3
"""Laps that are held against as many before them: a topic that comes up as often as then is stuck (choice)."""
HARDLY = 0.75
"""Share of what came up before that is as often as then (choice)."""


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
    reminded: dict[int, int] = field(default_factory=dict)
    """by corner: the lap of the last reminder"""
    hits: dict[int, int] = field(default_factory=dict)
    """by lap that was judged: times that it came up"""

    def shifted(self, laps: int) -> Topic:
        """The same by another count of laps, `laps` more; of how it went, what tells whether it is stuck."""
        hits = {lap + laps: times for lap, times in sorted(self.hits.items())[-2 * SPAN :]}
        reminded = {corner: lap + laps for corner, lap in self.reminded.items()}
        return replace(self, since=self.since + laps, corners=list(self.corners), hits=hits, reminded=reminded)

    def found(self, fault: Fault, lap: int, record: Record) -> None:
        """It came up once more, as `record` knows already."""
        self.hits[lap] = self.hits.get(lap, 0) + 1
        if fault.corner not in self.corners:
            self.corners.append(fault.corner)
        again = record.trail(self.fault, fault.corner).hits_in_a_row > 1
        if again or self.hits.get(lap - 1):
            self.level = 0

    def is_due(self, fade: bool) -> bool:
        """Whether this finding is told: all at first, fewer as it improves."""
        self.credit += 1.0 if self.fixed or not fade else SHARES[self.level]
        self.level = max(self.level - 1, 0)
        if self.credit < 1.0:
            return False
        self.credit -= 1.0
        return True

    def say(self) -> None:
        """A cue spoke of it."""
        self.told += 1

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
            self.hits[lap] = 0
            self.level = min(self.level + 1, len(SHARES) - 1)
            self.told -= self.told % REWORD  # it helped: the wording stays

    def is_mended(self, record: Record) -> bool:
        """Whether it has stayed away from each of its corners for long enough."""
        rows = [record.trail(self.fault, corner).clean_in_a_row for corner in self.corners]
        return bool(rows) and min(rows) >= min(CLEAN_EACH, CLEAN) and sum(rows) >= CLEAN

    def is_stuck(self) -> bool:
        """Whether it comes up as often as before, though it has been worked on for laps."""
        since = [count for lap, count in sorted(self.hits.items()) if lap >= self.since]
        if self.fixed or len(since) < 2 * SPAN:
            return False
        return sum(since[-SPAN:]) >= HARDLY * sum(since[-2 * SPAN : -SPAN])

    def gain(self, record: Record) -> float | None:
        """s a lap that its corners are quicker since; None where that is not known."""
        gains = [record.gain(self.fault, corner) for corner in self.corners]
        known = [gain for gain in gains if gain is not None]
        return sum(known) if known else None
