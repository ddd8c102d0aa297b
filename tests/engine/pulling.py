"""A made car on a made lap of one straight: its pull is a formula, so every best shift has a closed form.

A lap is a straight at full throttle, 1 s or so of braking, and a bend at the speed that the straight begins with.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from coach.engine.faults.base import Finding
from coach.engine.faults.upshift import UpshiftWatch
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample

BEND, BEND_ACROSS, BRAKES, STEP = 40.0, 10.0, 12.0, 0.002
"""m, m/s^2, m/s^2, s"""
GRAVITY = 9.81


@dataclass(frozen=True)
class MadeCar:
    """Torque `most` - `fall` x rev/min up to the `limit`, where it is 0; `turns` rev/min for each m/s by gear; `gain`
    m/s^2 for each Nm and rev/min per m/s; `drag` m/s^2 for each (m/s)^2."""

    most: float = 600.0
    fall: float = 0.05
    limit: float = 9500.0
    turns: dict[int, float] = field(default_factory=lambda: {3: 200.0, 4: 150.0})
    gain: float = 8.75e-5
    drag: float = 0.0

    def pull(self, gear: int, speed: float) -> float:
        """m/s^2 at `speed` m/s"""
        turns = self.turns[gear] * speed
        torque = self.most - self.fall * turns if turns < self.limit else 0.0
        return self.gain * torque * self.turns[gear] - self.drag * speed * speed


class Driver:
    """Drives laps and gives their samples; `change` may alter the keys of any of them."""

    def __init__(self, car: MadeCar, length: float = 500.0, begins: float = 22.0, rate: float = 60.0) -> None:
        self.car, self.length, self.begins, self.rate = car, length, begins, rate
        self.t = self.time = 0.0
        """`time`: s that the last straight took"""
        self._due = 0.0

    def lap(
        self,
        shift: float,
        change: Callable[[float, float, int], dict[str, Any]] | None = None,
        slope: Callable[[float], float] | None = None,
        first: int = 3,
        hold: float = 0.0,
    ) -> Iterator[Sample]:
        """Shifts from gear `first` at `shift` m/s, or `hold` s after it.

        `change`: by m, m/s and gear; `slope`: m of height for each m.
        """
        place, speed, gear, height, waited = 0.0, self.begins, first, 0.0, 0.0
        start = self.t
        while place < self.length:
            if gear == first and speed >= shift:
                waited += STEP
                gear += waited > hold
            yield from self._sample(place, speed, gear, height, change, throttle=1.0, brake=0.0, ay=0.0)
            rise = slope(place) if slope is not None else 0.0
            more = (self.car.pull(gear, speed) - GRAVITY * rise) * STEP
            place += (speed + 0.5 * more) * STEP
            height += rise * speed * STEP
            speed += more
            self.t += STEP
        self.time = self.t - start - (place - self.length) / speed
        while speed > self.begins:
            yield from self._sample(place, speed, gear, height, change, throttle=0.0, brake=1.0, ay=0.0)
            place, speed, self.t = place + speed * STEP, speed - BRAKES * STEP, self.t + STEP
        end = place + BEND
        while place < end:
            yield from self._sample(place, speed, first, height, change, throttle=0.3, brake=0.0, ay=BEND_ACROSS)
            place, self.t = place + speed * STEP, self.t + STEP

    def laps(self, shifts: Iterable[float], **more: Any) -> Iterator[Sample]:
        for shift in shifts:
            yield from self.lap(shift, **more)

    def _sample(
        self,
        place: float,
        speed: float,
        gear: int,
        height: float,
        change: Callable[[float, float, int], dict[str, Any]] | None,
        **pedals: float,
    ) -> Iterator[Sample]:
        if self.t < self._due:
            return
        self._due += 1.0 / self.rate
        turns = min(self.car.turns[gear] * speed, self.car.limit)
        values: dict[str, Any] = {
            "lap_distance": place, "speed": speed, "gear": gear, "engine_speed": turns, "z": height, **pedals
        }  # fmt: skip
        if change is not None:
            values |= change(place, speed, gear)
        yield Sample(self.t, **values)


class Judge:
    """Shown and watch of one session."""

    def __init__(self) -> None:
        self.shown, self.watch = Shown(), UpshiftWatch()
        self.told_at: list[float] = []

    def take(self, samples: Iterable[Sample]) -> list[Finding]:
        found: list[Finding] = []
        for sample in samples:
            self.shown.watch(sample)
            now = self.watch.watch(sample, sample.lap_distance or 0.0, self.shown)
            self.told_at += [sample.t] * len(now)
            found += now
        return found


@cache
def _learned(shifts: tuple[float, ...], rate: float) -> tuple[Driver, Judge]:
    driver, judge = Driver(MadeCar(), rate=rate), Judge()
    judge.take(driver.laps(shifts))
    return driver, judge


def learned(shifts: tuple[float, ...], rate: float = 60.0) -> tuple[Driver, Judge]:
    """A session of the made car after laps with these shifts, to go on with."""
    return deepcopy(_learned(shifts, rate))
