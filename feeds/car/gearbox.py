"""The gearbox: which gear is in, and how far the clutch has closed behind it."""

from __future__ import annotations

from feeds.car.spec import CarSpec


class Gearbox:
    """`gear` in use: -1 reverse, 0 neutral or between two gears, 1 and up forward."""

    __slots__ = ("_engage", "_left", "_ratios", "_shift", "_top", "closed", "cut", "gear", "ratio", "wanted")

    def __init__(self, spec: CarSpec, gear: int) -> None:
        self._top = len(spec.gears)
        self._ratios = {i: spec.ratio(i) for i in range(-1, self._top + 1)}
        self._shift, self._engage = spec.shift_time, spec.engage_time
        self._left = 0.0
        self.gear = self.wanted = self._nearest(gear)
        self.ratio = self._ratios[self.gear]
        """turns of the engine for one of the wheels, 0 where none is in"""
        self.closed = 1.0
        """0..1: how far the clutch has closed since the last gear went in"""
        self.cut = False
        """the ignition is cut: the box is between two gears on its way up"""

    def advance(self, dt: float, wanted: int) -> None:
        """`dt` s pass with the gear `wanted` asked for; one that the box lacks is the nearest it has.

        A gear asked for while the box is between two takes the place of the one it was on its way to.
        """
        if wanted != self.wanted:
            self._ask(self._nearest(wanted))
        if self._left > 0.0:
            self._left -= dt
            if self._left <= 0.0:
                self._set(self.wanted, 0.0)
        elif self.closed < 1.0:
            self.closed = min(self.closed + dt / self._engage, 1.0) if self._engage > 0.0 else 1.0

    def _ask(self, wanted: int) -> None:
        if wanted == self.wanted:
            return
        if self.gear != 0:
            self.cut = wanted > self.gear > 0
        self.wanted = wanted
        if wanted == 0:
            self._left = 0.0
            self._set(0, 1.0)
        elif self._left <= 0.0:
            self._left = self._shift
            self.gear, self.ratio = 0, 0.0
            if self._left <= 0.0:
                self._set(wanted, 0.0)

    def _set(self, gear: int, closed: float) -> None:
        self.gear, self.ratio, self.closed = gear, self._ratios[gear], closed
        self.cut = False

    def _nearest(self, gear: int) -> int:
        return min(max(gear, -1), self._top)
