"""Another brake point than the plan's: earlier, later, or with nothing pressed before it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from feeds.car.marks import WAY_IN, Marks, braked_from
from feeds.car.plan import SpeedPlan, rolls

Floats = NDArray[np.float64]

RUN_IN = 10.0
"""m before it from which it is read how the car gains speed."""
ROLL = 0.5
"""m between two places at which the speed of a rolling car is reckoned."""


def brake_earlier(plan: SpeedPlan, marks: Marks, metres: float, earliest: float) -> None:
    """Move the corner's brake point by `metres` before the plan's; as hard as ever, the slowest speed is kept.

    The plan's lies behind `earliest` (m).
    """
    way = _Approach(plan, marks, metres, earliest)
    begins = way.brake - metres
    reached = way.place_of(way.speed_at(begins))
    moved = np.interp(way.places + (reached - begins), way.places, way.speed)
    way.put(np.where(way.places >= begins, np.minimum(way.speed, moved), way.speed))


def brake_later(plan: SpeedPlan, marks: Marks, metres: float, earliest: float) -> None:
    """Move the corner's brake point by `metres` behind the plan's, which lies behind `earliest` (m).

    The speed grows on as it did. What is planned behind it stays: the car is too fast for it, and is braked as hard as
    its tyres allow until it is not.
    """
    way = _Approach(plan, marks, 0.0, earliest)
    at_mark = way.speed_at(way.brake) ** 2
    gain = max(at_mark - way.speed_at(way.brake - RUN_IN) ** 2, 0.0) / RUN_IN
    grown = np.sqrt(at_mark + gain * np.maximum(way.places - way.brake, 0.0))
    late = (way.places > way.brake) & (way.places <= way.brake + metres + 0.5 * plan.step)
    way.put(np.where(late, np.maximum(way.speed, grown), way.speed))


def coasting(plan: SpeedPlan, marks: Marks, seconds: float, earliest: float) -> tuple[float, float]:
    """From where to where (m, may begin before the line) the car rolls for `seconds` s and then meets the plan again.

    Where it is slower than planned by then even at the corner's slowest place, it rolls up to there. The plan's brake
    point lies behind `earliest` (m).
    """
    way = _Approach(plan, marks, seconds * plan.at(marks.brake), earliest)
    begins = place = way.brake
    for place in way.places[way.places >= way.brake].tolist():
        begins, speed = _rolled_from(place, way.speed_at(place), seconds)
        if speed <= way.speed_at(begins):
            break
    return begins, place


def _rolled_from(place: float, speed: float, seconds: float) -> tuple[float, float]:
    """Where, and how fast, a car was `seconds` s before it came to `place` m at `speed` m/s, both feet off."""
    while seconds > 0.0:
        before = math.sqrt(speed * speed + 2.0 * rolls(speed) * ROLL)
        seconds -= 2.0 * ROLL / (speed + before)
        place, speed = place - ROLL, before
    return place, speed


class _Approach:
    """The plan from some way `before` a corner's brake point (m) to its slowest place.

    `places` in m rise over the line; `speed` is the plan's there, `brake` where it begins to fall.
    """

    def __init__(self, plan: SpeedPlan, marks: Marks, before: float, earliest: float) -> None:
        self._plan = plan
        slow = round((marks.slow if marks.slow > marks.brake else marks.slow + plan.circuit.length) / plan.step)
        bound = max(math.ceil(earliest / plan.step), slow - int(WAY_IN / plan.step))
        found = braked_from(plan, slow, bound)
        mark = round(marks.brake / plan.step) if found is None else found
        self._index = np.arange(mark - math.ceil((before + RUN_IN) / plan.step), slow + 1)
        self._mark = mark - int(self._index[0])
        self.places: Floats = plan.step * self._index.astype(np.float64)
        self.speed: Floats = np.array([plan.speed[i % plan.count] for i in self._index])
        self.brake = mark * plan.step

    def speed_at(self, place: float) -> float:
        """m/s; behind the slowest place the slowest speed."""
        return float(np.interp(place, self.places, self.speed))

    def place_of(self, speed: float) -> float:
        """m: where the braking has come down to `speed` m/s."""
        falling = np.minimum.accumulate(self.speed[self._mark :])
        return float(np.interp(-speed, -falling, self.places[self._mark :]))

    def put(self, speed: Floats) -> None:
        """Make `speed` the plan's."""
        for i, v in zip(self._index, speed.tolist(), strict=True):
            self._plan.speed[i % self._plan.count] = v
