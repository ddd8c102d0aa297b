"""Where this driver's own full throttle ended on each straight the last time round.

The reference may brake later than a driver who still has to learn it. A cue timed by the reference alone would then
sound under brakes, so each stretch of the reference is taken to end where the driver last ended it, if sooner.
"""

from __future__ import annotations

from coach.planner import rules
from coach.planner.windows import Stretch


class Habit:
    """Fed where the car is once a sample; remembers one pass of each stretch."""

    def __init__(self) -> None:
        self._ends: dict[int, list[float]] = {}
        self._now: Stretch | None = None
        self._seen: list[float] = []
        self._full_at: float | None = None

    def reset(self) -> None:
        """Drop the running pass: the car was moved, or its samples are missing."""
        self._now, self._seen, self._full_at = None, [], None

    def update(self, stretch: Stretch | None, distance: float, full: bool, held: bool) -> None:
        """`full`: throttle full now; `held`: full but for the cut of a gear change. `distance` m from the line."""
        if full and stretch is not self._now:
            self._full_at = None  # full throttle outlasted the stretch
        if self._full_at is not None and not held:
            self._seen.append(self._full_at)
            self._full_at = None
        if stretch is not self._now and self._full_at is None:
            if self._now is not None:
                self._ends[self._now.index] = self._seen
            self._now, self._seen = stretch, []
        if full and stretch is not None and stretch is self._now:
            self._full_at = distance

    def end(self, stretch: Stretch, distance: float, length: float) -> float:
        """m from the line where the stretch ends for this driver, on from `distance`, or `distance` itself where it is
        ending now; `length` m of the lap."""
        left = (stretch.end - distance) % length
        for place in self._ends.get(stretch.index, ()):
            if (distance - place) % length < rules.SPREAD:
                return distance
            left = min(left, (place - distance) % length)
        return distance + left
