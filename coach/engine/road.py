"""The road that this car has shown: how wide it is, and, where the source sends no edges, how far out it was driven."""

from __future__ import annotations

from math import exp

import numpy as np

from coach.engine.along import value_along
from coach.engine.conduct import CAR_WIDTH
from coach.engine.lap import Floats, GridLap
from coach.engine.stretch import Stretch
from coach.vocabulary.sample import Sample

ENOUGH = 3
"""Clean laps before the widest of them says anything of the road (choice)."""
SMOOTH = 0.1
"""s, time constant of the lateral acceleration: a kerb's blow is no cornering."""
LEFT, RIGHT = 1, -1
"""Sides, as signs of an offset to the left (ISO 8855)."""


class Road:
    """Learns from every sample and from every whole clean lap.

    The lateral offset of a lap is taken from the first clean lap's path, at the same distance along its normal. The
    outermost and innermost offset by place are the road that was shown.
    """

    def __init__(self) -> None:
        self.width = CAR_WIDTH
        """m, of the car"""
        self.lateral = 0.0
        """m/s^2, the greatest lateral acceleration so far, smoothed"""
        self._smooth = 0.0
        self._t: float | None = None
        self._laps = 0
        self._length = 0.0
        self._x = self._y = self._across_x = self._across_y = self._most = self._least = np.zeros(0)

    def watch(self, sample: Sample) -> None:
        """Takes one sample in."""
        if sample.car_width is not None and sample.car_width > 0.0:
            self.width = sample.car_width
        if sample.ay is None:
            return
        step = 0.0 if self._t is None else max(0.0, sample.t - self._t)
        self._t = sample.t
        self._smooth += (abs(sample.ay) - self._smooth) * (1.0 - exp(-step / SMOOTH))
        self.lateral = max(self.lateral, self._smooth)

    def learn(self, lap: GridLap) -> None:
        """Takes a whole, clean lap in; one without positions shows nothing."""
        x, y = lap.get("x"), lap.get("y")
        if x is None or y is None:
            return
        if self._laps == 0:
            self._begin(lap, x, y)
        places = np.linspace(0.0, lap.length, len(self._x))
        offset = (np.interp(places, lap.distance, x) - self._x) * self._across_x
        offset += (np.interp(places, lap.distance, y) - self._y) * self._across_y
        self._most = np.maximum(self._most, offset)
        self._least = np.minimum(self._least, offset)
        self._laps += 1

    @property
    def known(self) -> bool:
        """Whether enough clean laps were seen."""
        return self._laps >= ENOUGH

    def gap(self, side: int, distance: float, x: float, y: float) -> float:
        """m from a car at `x`, `y`, `distance` m along the lap, to the outermost that was driven there on `side`.

        Negative beyond it. The line may lie between: `distance` < 0 is in the lap before.
        """
        count = len(self._x) - 1
        place = distance % self._length / self._length * count
        i = min(int(place), count - 1)
        part = place - i

        def at(values: Floats) -> float:
            return float(values[i] + part * (values[i + 1] - values[i]))

        offset = (x - at(self._x)) * at(self._across_x) + (y - at(self._y)) * at(self._across_y)
        return at(self._most) - offset if side == LEFT else offset - at(self._least)

    def _begin(self, lap: GridLap, x: Floats, y: Floats) -> None:
        self._x, self._y, self._length = x, y, lap.length
        dx, dy = np.gradient(x), np.gradient(y)
        size = np.maximum(np.hypot(dx, dy), 1e-9)
        self._across_x, self._across_y = -dy / size, dx / size
        self._most, self._least = np.zeros(len(x)), np.zeros(len(x))


def offset_from(line: Stretch, distance: float, x: float, y: float) -> float:
    """m to the left of `line`'s path of a car at `x`, `y`, `distance` m along the lap; NaN where it was not driven."""
    i = line.index(distance)
    if not 0 < i < len(line):
        return float("nan")
    dx, dy = line["x"][i] - line["x"][i - 1], line["y"][i] - line["y"][i - 1]
    there_x, there_y = value_along(line.d, line["x"], distance), value_along(line.d, line["y"], distance)
    size = (dx * dx + dy * dy) ** 0.5
    if there_x is None or there_y is None or not size > 0.0:
        return float("nan")
    return float((dx * (y - there_y) - dy * (x - there_x)) / size)
