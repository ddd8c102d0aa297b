"""A drive: the car, its driver and the circuit, step by step, as the generic stream's samples."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from coach.vocabulary.errors import InputError
from feeds.car.car import Car, Controls
from feeds.car.circuit import GRAVITY, Circuit
from feeds.car.driver import SHIFT_UP, Driver
from feeds.car.envelope import Envelope
from feeds.car.leeway import Leeway
from feeds.car.mind import Mind
from feeds.car.mistakes import Mistake
from feeds.car.person import Person
from feeds.car.place import Place
from feeds.car.plan import Table
from feeds.car.spec import CarSpec

RATES = (20, 360)
"""Datagrams a second, least and most."""
GLANCE = 0.0056
"""s: the driver looks and acts at least so often."""
STEPS = 2
"""of the physics in between: at most 1/360 s each."""
RUN_UP = 250.0
"""m before the line from which the drive begins, rolling."""
RUN_OUT = 12.0
"""s behind the line in which what is to be said of the last corner is said."""
STEERING_RATIO = 13.0
"""Turns of the steering wheel for one of the road wheels."""

Row = dict[str, Any]


@dataclass(frozen=True)
class DriveSpec:
    """What is driven: `laps` whole laps from a rolling start, sampled `rate` times a second."""

    circuit: Circuit
    car: CarSpec
    person: Person
    laps: int = 4
    rate: int = 60
    seed: int = 1
    fuel: float = 25.0
    """L at the start"""
    mistakes: Sequence[Mistake] = field(default_factory=tuple)
    run_out: float = RUN_OUT
    """s that are driven behind the line at the end"""


class Drive:
    """Iterate it for the stream's datagrams, one dict of the contract's keys each.

    `lap_times` fills as the line is crossed: s by lap number, interpolated between two steps.
    """

    def __init__(self, spec: DriveSpec) -> None:
        low, high = RATES
        if not low <= spec.rate <= high:
            raise InputError(f"rate: {spec.rate} datagrams a second; choose from {low} to {high}")
        if spec.laps < 1:
            raise InputError(f"laps: {spec.laps}; drive one at least")
        for mistake in spec.mistakes:
            if mistake.lap > spec.laps:
                raise InputError(f"{mistake}: there are laps 1 to {spec.laps}; drive more, or give another lap")
        self._spec = spec
        envelope = Envelope(spec.car, spec.car.mass_with(spec.fuel))
        self._mind = Mind(spec.circuit, Table(envelope), spec.person, spec.mistakes, spec.seed)
        self._envelope = envelope
        leeway = Leeway(spec.car, self._mind)
        for mistake in spec.mistakes:
            leeway.check(mistake)
        self.lap_times: dict[int, float] = {}

    @property
    def mind(self) -> Mind:
        """The driver's plan and marks."""
        return self._mind

    def __iter__(self) -> Iterator[Row]:
        spec, circuit = self._spec, self._spec.circuit
        glances = math.ceil(1.0 / (spec.rate * GLANCE))
        dt = 1.0 / (spec.rate * glances * STEPS)
        self.lap_times.clear()
        car, place = self._placed()
        driver = Driver(car, self._envelope, self._mind, place)
        row, crossed, last = _Row(spec), 0.0, None
        number = 0
        while place.laps <= spec.laps or car.t - crossed < spec.run_out:
            yield row.of(number / spec.rate, car, driver.controls, place, car.t - crossed if place.laps else None, last)
            number += 1
            for _ in range(glances):
                station, laps = place.station, place.laps
                driver.act(dt * STEPS)
                grade = circuit.grade(station)
                for _ in range(STEPS):
                    car.step(driver.controls, dt, grade)
                place.find(car.x, car.y)
                if place.laps > laps:
                    moment = car.t - dt * STEPS * place.station / (circuit.length - station + place.station)
                    if laps:
                        last = moment - crossed
                        self.lap_times[laps] = last
                    crossed = moment

    def _placed(self) -> tuple[Car, Place]:
        """The car at its run-up, on the line and at the speed that is meant there."""
        circuit, spec = self._spec.circuit, self._spec
        meant = self._mind.lap(0)
        station = circuit.length - RUN_UP
        index = int(station / circuit.step)
        heading, offset = float(circuit.heading[index]), meant.offset_at(index * circuit.step)
        x = float(circuit.x[index]) - offset * math.sin(heading)
        y = float(circuit.y[index]) + offset * math.cos(heading)
        speed = meant.plan.at(station)
        gear = next(g for g in range(1, len(spec.car.gears) + 1) if self._fits(speed, g))
        car = Car(spec.car, x, y, heading + meant.course_at(station), speed, gear, spec.fuel)
        place = Place(circuit, index * circuit.step)
        place.find(x, y)
        return car, place

    def _fits(self, speed: float, gear: int) -> bool:
        car = self._spec.car
        return gear == len(car.gears) or car.engine_speed(speed, gear) < SHIFT_UP * car.engine.limit


class _Row:
    """Makes the datagram of a moment."""

    def __init__(self, spec: DriveSpec) -> None:
        self._circuit = spec.circuit
        self._fixed = {
            "session": "practice",
            "session_kind": "practice",
            "track": spec.circuit.name,
            "car": spec.car.name,
            "driver": spec.person.name,
        }
        self._limit = spec.car.engine.limit
        self._width = spec.car.width

    def of(
        self, t: float, car: Car, controls: Controls, place: Place, lap_time: float | None, last: float | None
    ) -> Row:
        """The contract's keys, rounded as a source rounds.

        `ax` and `az` are what an accelerometer in the car reads (specific force): beside the change of speed the part
        of gravity along the slope, and across it. The car feels no crests, so neither does `az`.
        """
        half, slope = self._circuit.width / 2, math.atan(self._circuit.grade(place.station))
        return {
            "t": round(t, 6),
            **self._fixed,
            "lap": place.laps,
            "lap_time": None if lap_time is None else round(lap_time, 4),
            "last_lap_time": None if last is None else round(last, 4),
            "lap_distance": round(place.station, 3),
            "track_length": round(self._circuit.length, 3),
            "x": round(car.x, 3),
            "y": round(car.y, 3),
            "z": round(self._circuit.height(place.station), 3),
            "yaw": round(math.remainder(car.yaw, math.tau), 4),
            "yaw_rate": round(car.yaw_rate, 4),
            "speed": round(car.speed, 3),
            "vx": round(car.vx, 3),
            "vy": round(car.vy, 3),
            "ax": round(car.ax + GRAVITY * math.sin(slope), 3),
            "ay": round(car.ay, 3),
            "az": round(GRAVITY * math.cos(slope), 3),
            "throttle": round(controls.throttle, 3),
            "brake": round(controls.brake, 3),
            "clutch": round(controls.clutch, 3),
            "steer": round(controls.steer * STEERING_RATIO, 4),
            "gear": car.gear,
            "engine_speed": round(car.engine_speed, 1),
            "engine_speed_max": self._limit,
            "wheel_speed": [round(v, 3) for v in car.wheel_speed],
            "edge_left": round(half - place.offset, 3),
            "edge_right": round(half + place.offset, 3),
            "car_width": self._width,
            "fuel": round(car.fuel, 3),
            "tyre_temp": [[round(part, 1) for part in tread] for tread in car.tyre_temp],
            "tyre_pressure": [round(p, 1) for p in car.tyre_pressure],
            "damage": 0.0,
            "on_track": abs(place.offset) < half + self._width / 2,
            "in_pit": False,
            "paused": False,
        }
