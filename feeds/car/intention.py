"""What a driver means to do on one lap: the line, the speeds, and how feet and hand treat each corner.

What comes of it is up to the car.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from feeds.car.marks import Marks
from feeds.car.plan import SpeedPlan


@dataclass(slots=True)
class Habit:
    """How feet and hand treat one corner on one lap; what is 0 or None is done as ever."""

    marks: Marks
    delay: float = 0.0
    """s that the foot stays as it is behind the throttle's place"""
    late: float = 0.0
    """s that no more than balance throttle is given once there would be power"""
    hardest: float = math.inf
    """m/s^2 that is braked at most"""
    coast: tuple[float, float] | None = None
    """m: between these places the car rolls"""
    lift: float = 0.0
    """s, on the way out"""
    sure: float = 0.6
    """s of power before it"""
    shift_down: float = 0.0
    """rev/min that the lower gear may need more than usual"""
    over_limit: float | None = None
    """rev/min over the limit at which the lower gear is taken"""
    shift_up: float = 0.0
    """rev/min later than usual, negative earlier"""
    lock: float = 0.0
    """slip of the front wheels"""
    spin: float = 0.0
    """slip of the driven wheels"""


@dataclass(slots=True)
class Intention:
    """One lap as it is meant: path by the circuit's stations, speeds by the plan's places, habits by corner."""

    step: float
    offset: list[float]
    course: list[float]
    curvature: list[float]
    plan: SpeedPlan
    habits: dict[int, Habit]

    def nearing(self, station: float) -> Habit | None:
        """The habit at the corner whose slowest part comes next on this lap."""
        return next((habit for habit in self.habits.values() if station < habit.marks.slow), None)

    def leaving(self, station: float) -> Habit | None:
        """The habit at the corner whose slowest part was passed last on this lap."""
        passed = [habit for habit in self.habits.values() if station >= habit.marks.slow]
        return passed[-1] if passed else None

    def offset_at(self, station: float) -> float:
        """m to the left of the centre line."""
        return self._read(self.offset, station)

    def course_at(self, station: float) -> float:
        """rad to the left of the centre line's heading."""
        return self._read(self.course, station)

    def bend_at(self, station: float) -> float:
        """1/m, curvature of the path."""
        return self._read(self.curvature, station)

    def _read(self, values: list[float], station: float) -> float:
        index = station / self.step
        low = int(index)
        share, count = index - low, len(values) - 1
        return values[low % count] * (1.0 - share) + values[(low + 1) % count] * share
