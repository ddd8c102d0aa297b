"""The running lap's channels, one row a sample, in columns."""

from __future__ import annotations

from array import array
from bisect import bisect_left

from coach.engine.along import value_along
from coach.vocabulary.sample import Sample

NAN = float("nan")

CHANNELS = (
    "speed",
    "throttle",
    "brake",
    "steer",
    "gear",
    "engine_speed",
    "ay",
    "yaw_rate",
    "vx",
    "vy",
    "x",
    "y",
    "edge_left",
    "edge_right",
)
"""Scalar channels kept as they came; NaN where the source did not have them."""
STANDING = 0.5
"""m/s: under this a car stands."""


class Tape:
    """Columns of one lap. `t` s; `reach` m, the furthest distance from the line so far, so never falling.

    `front` and `rear` are the mean wheel speeds (m/s) of the axles; every other column is a sample's channel.
    """

    __slots__ = ("columns", "front", "reach", "rear", "t")

    def __init__(self) -> None:
        self.t = array("d")
        self.reach = array("d")
        self.front = array("d")
        self.rear = array("d")
        self.columns: dict[str, array[float]] = {name: array("d") for name in CHANNELS}

    def __len__(self) -> int:
        return len(self.t)

    def append(self, t: float, distance: float, sample: Sample) -> None:
        """Adds a row: `sample`'s channels at `t`, at `distance` m from the line.

        Of a car that stands only the first and the last row are kept: it may stand for hours.
        """
        reach = self.reach
        still = sample.speed is not None and sample.speed < STANDING
        if still and len(reach) > 1 and distance <= reach[-1] == reach[-2]:
            self._drop_last()
        self.t.append(t)
        reach.append(distance if not reach or distance > reach[-1] else reach[-1])
        for name, column in self.columns.items():
            value = getattr(sample, name)
            column.append(NAN if value is None else value)
        wheels = sample.wheel_speed
        if wheels is None:
            self.front.append(NAN)
            self.rear.append(NAN)
        else:
            self.front.append(0.5 * (wheels[0] + wheels[1]))
            self.rear.append(0.5 * (wheels[2] + wheels[3]))

    def _drop_last(self) -> None:
        for column in (self.t, self.reach, self.front, self.rear, *self.columns.values()):
            column.pop()

    def __getitem__(self, channel: str) -> array[float]:
        return self.columns[channel]

    def index(self, distance: float) -> int:
        """The first row at or beyond `distance`; `len(tape)` where the lap has not come so far."""
        return bisect_left(self.reach, distance)

    def time_at(self, distance: float) -> float | None:
        """s: when `distance` was first reached, interpolated; None where it was not (yet) driven in this lap."""
        return value_along(self.reach, self.t, distance)

    def value_at(self, channel: str, distance: float) -> float | None:
        """The channel at `distance`, interpolated; None where not driven or not sent."""
        return value_along(self.reach, self.columns[channel], distance)
