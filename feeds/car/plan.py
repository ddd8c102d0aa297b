"""The speed plan: how fast the line can be driven with the grip that a driver uses, place by place.

Cornering speed from the car's envelope, then a backward pass for the brakes and a forward pass for the drive, each with
what the cornering leaves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from feeds.car.circuit import GRAVITY, Circuit
from feeds.car.line import Path

Floats = NDArray[np.float64]

STRIDE = 4
"""stations of the circuit between two places of the plan: about 2 m."""
FASTEST = 110.0
"""m/s up to which the car's envelope is read."""


def rolls(speed: float) -> float:
    """m/s^2 that a car loses at `speed` with both feet off, about."""
    return 0.4 + 0.0006 * speed * speed


class Limits(Protocol):
    """What a car can do, m/s^2 at a speed in m/s."""

    def lateral(self, speed: float) -> float: ...

    def braking(self, speed: float) -> float: ...

    def drive(self, speed: float) -> float: ...


class Table:
    """A car's envelope by whole metres a second, for quick reading."""

    def __init__(self, limits: Limits) -> None:
        speeds = [float(max(v, 1)) for v in range(int(FASTEST) + 2)]
        self.lateral = [limits.lateral(v) for v in speeds]
        self.braking = [limits.braking(v) for v in speeds]
        self.drive = [limits.drive(v) for v in speeds]
        self.traction = max(self.drive)

    def read(self, values: list[float], speed: float) -> float:
        """`values` at `speed`, between the whole metres a second."""
        speed = min(max(speed, 0.0), FASTEST)
        low = int(speed)
        return values[low] + (values[low + 1] - values[low]) * (speed - low)


@dataclass(slots=True)
class Use:
    """How much of the car's grip a driver uses: shares of cornering, braking and driving forces.

    `mixing`: beside a share u of the cornering, 1 - u^mixing of the other forces; 2 would be the most a tyre gives.
    """

    cornering: float
    braking: float
    driving: float
    mixing: float


class SpeedPlan:
    """Speed (m/s) and acceleration (m/s^2) along a path, by place every `step` m of the centre line."""

    def __init__(
        self,
        circuit: Circuit,
        path: Path,
        table: Table,
        use: Use,
        slower: Floats | None = None,
        hardest: Floats | None = None,
    ) -> None:
        """By station: `slower` scales the cornering speed, `hardest` m/s^2 is the most that is braked."""
        self.circuit, self.table, self.use = circuit, table, use
        self.step = circuit.step * STRIDE
        self.count = len(circuit.station[:-1:STRIDE])
        self.curvature = path.curvature[:-1:STRIDE].tolist()
        self.ahead = (path.stretch[:-1:STRIDE] * self.step).tolist()
        self.ahead[-1] *= (circuit.length - (self.count - 1) * self.step) / self.step
        self.grade = [GRAVITY * circuit.grade(i * self.step) for i in range(self.count)]
        self.limit = [self._cornering(abs(bend)) for bend in self.curvature]
        if slower is not None:
            self.limit = [v * share for v, share in zip(self.limit, slower[:-1:STRIDE].tolist(), strict=True)]
        self.speed = list(self.limit)
        self._backward([math.inf] * self.count if hardest is None else hardest[:-1:STRIDE].tolist())
        self._forward()
        self.settle()

    def settle(self) -> None:
        """Read the accelerations anew from the speeds; a step down in them is no more than all of the brakes."""
        speed, table = self.speed, self.table
        change = [(speed[(i + 1) % self.count] ** 2 - speed[i] ** 2) / (2 * self.ahead[i]) for i in range(self.count)]
        most = [table.read(table.braking, v) for v in speed]
        self.acceleration: list[float] = [max(a, -b) for a, b in zip(change, most, strict=True)]

    def at(self, place: float) -> float:
        """m/s at a place (m)."""
        return self._read(self.speed, place)

    def acceleration_at(self, place: float) -> float:
        """m/s^2 at a place (m)."""
        return self._read(self.acceleration, place)

    def bend_at(self, place: float) -> float:
        """1/m, curvature of the path at a place (m)."""
        return self._read(self.curvature, place)

    def seconds(self, begins: float, ends: float) -> float:
        """s from a place to a later one (m, may lie behind the line)."""
        first, last = begins / self.step, ends / self.step
        total = 0.0
        for i in range(math.floor(first), math.ceil(last)):
            share = min(i + 1, last) - max(i, first)
            mean = (self.speed[i % self.count] + self.speed[(i + 1) % self.count]) / 2
            total += share * self.ahead[i % self.count] / mean
        return total

    def _read(self, values: list[float], place: float) -> float:
        index = place / self.step
        low = int(index)
        share = index - low
        return values[low % self.count] * (1.0 - share) + values[(low + 1) % self.count] * share

    def beside(self, speed: float, bend: float) -> float:
        """The share of braking or drive that cornering at `bend` (1/m) leaves.

        One tyre would leave sqrt(1 - u^2); with the weight off the inner wheels and the rear, a person leaves more.
        """
        limit = self.use.cornering * self.table.read(self.table.lateral, speed)
        used = min(abs(bend) * speed * speed / limit, 1.0)
        return 1.0 - math.pow(used, self.use.mixing)

    def pedal(self, speed: float, acceleration: float) -> float:
        """The throttle (0..1) that gives `acceleration` at `speed` m/s, about."""
        full, roll = self.table.read(self.table.drive, speed), rolls(speed)
        return min(max((acceleration + roll) / (0.98 * full + roll), 0.0), 1.0)

    def _cornering(self, bend: float) -> float:
        speed = FASTEST
        for _ in range(12):
            limit = self.use.cornering * self.table.read(self.table.lateral, speed)
            speed = min(math.sqrt(limit / max(bend, 1e-6)), FASTEST)
        return speed

    def _backward(self, hardest: list[float]) -> None:
        speed, start = self.speed, min(range(self.count), key=self.limit.__getitem__)
        for i in range(start - 1, start - 1 - self.count, -1):
            here, after = i % self.count, (i + 1) % self.count
            v = speed[after]
            slow = self.use.braking * self.table.read(self.table.braking, v) * self.beside(v, self.curvature[here])
            slow = min(slow + self.grade[here], hardest[here])
            reach = math.sqrt(max(v * v + 2 * slow * self.ahead[here], 1.0))
            speed[here] = min(speed[here], reach)

    def _forward(self) -> None:
        speed, start = self.speed, min(range(self.count), key=self.limit.__getitem__)
        for i in range(start, start + self.count):
            here, after = i % self.count, (i + 1) % self.count
            v = speed[here]
            push = self.pull(v, self.curvature[here]) - self.grade[here]
            reach = math.sqrt(max(v * v + 2 * push * self.ahead[here], 1.0))
            speed[after] = min(speed[after], reach)

    def pull(self, speed: float, bend: float) -> float:
        """m/s^2 of drive that power and the tyres beside the cornering allow."""
        traction = self.use.driving * self.table.traction * self.beside(speed, bend)
        return min(self.table.read(self.table.drive, speed), traction)
