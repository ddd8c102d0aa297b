"""What was driven so far, as the stages look at it."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection
from math import ceil, isfinite
from statistics import median

from coach.practice.laps import CLEAN, NEITHER, STANDING, DrivenLap, Row, kind_of
from coach.vocabulary.events import Fault, Passed, Stores

KEPT = 100
"""Laps that are kept: more than any stage looks back on."""
INCIDENTS = frozenset({"spin", "off_track"})
"""Faults that end a row of clean laps at once, whatever becomes of the lap."""
LATEST = 5
"""Laps whose median time says how many laps are left of a time."""
MOST_LAPS = 10_000
"""Laps left beyond which a source's number is none: some send the greatest that there is."""


class Driven:
    """Fed passes, findings, stores and laps in their order."""

    def __init__(self) -> None:
        self.laps: deque[DrivenLap] = deque(maxlen=KEPT)
        self.row = Row()
        self.topic: str | None = None
        """the fault that is worked on"""
        self.length: int | None = None
        """laps of the race or session, where the source says how many are left"""
        self.fuel: float | None = None
        """L in the tank"""
        self.laps_left: int | None = None
        self._passes: list[Passed] = []
        self._stint = self._ended = 0
        """the stint that runs, and laps that ended since the car was put on the circuit"""

    def passed(self, event: Passed) -> None:
        """The car has left a corner."""
        if event.marks:
            self._passes.append(event)

    def found(self, fault: Fault) -> None:
        """A fault was found."""
        if fault.fault in INCIDENTS:
            self.row.incident()

    def stores(self, event: Stores) -> None:
        """What is left of fuel, laps and time."""
        self.fuel = event.fuel if event.fuel is not None and isfinite(event.fuel) else None
        self.laps_left = self._left(event)
        if self.laps_left is not None:
            self.length = max(self.length or 0, self.laps_left + self._ended)

    def lap_over(
        self, time: float | None, clean: bool, why_not: Collection[str] = (), fuel: float | None = None
    ) -> None:
        """A lap ended, as its `Lap` event says; `fuel` L that it took."""
        kind = kind_of(time, clean, why_not)
        self.row.lap_over(kind)
        standing = kind == NEITHER and time is not None and STANDING.issuperset(why_not)
        self._ended += 1
        whole = kind == CLEAN or standing
        if not whole:
            self._stint += 1
        passes = tuple(self._passes)
        self._passes = []
        self.laps.append(DrivenLap(kind, standing, time if kind == CLEAN else None, fuel, passes, self._stint))
        if not whole:
            self._stint += 1

    def new_run(self) -> None:
        """The car was put back: the lap that ran is given up. What went wrong in it has ended the row already."""
        self._passes = []
        self._stint += 1
        self._ended, self.length = 0, None

    def passes(self, laps: int) -> list[Passed]:
        """Those of the last so many laps that ended."""
        return [passed for lap in list(self.laps)[-laps:] for passed in lap.passes]

    def times(self) -> list[float]:
        """s of the clean laps, the newest last."""
        return [lap.time for lap in self.laps if lap.time is not None]

    def stint(self) -> list[DrivenLap]:
        """The laps of the stint that runs, clean ones and a standing start; before its first those of the last one."""
        number = max((lap.stint for lap in self.laps if lap.kind == CLEAN or lap.standing), default=None)
        return [lap for lap in self.laps if lap.stint == number]

    def _left(self, event: Stores) -> int | None:
        left = event.laps_left
        if left is not None and isfinite(left):
            return round(left) if 0.0 < left <= MOST_LAPS else None
        times = self.times()[-LATEST:]
        a_lap = median(times) if times else 0.0
        if event.time_left is None or not isfinite(event.time_left) or event.time_left <= 0.0 or a_lap <= 0.0:
            return None
        laps = event.time_left / a_lap
        return ceil(laps) if laps <= MOST_LAPS else None
