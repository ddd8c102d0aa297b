"""The streams that fixtures are made of: the built-in car's drives, and what a source or a bad day makes of them."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from itertools import takewhile
from math import inf
from unittest import mock

from golden.case import Line

from feeds.car.car import Car
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import PELLOW_R, CarSpec

RATE = 20
"""Datagrams a second: the fewest that the car sends, so that recordings are small."""
LEFT_OUT = ("session", "session_kind", "lap_time", "clutch", "tyre_temp", "tyre_pressure", "damage", "fuel", "az")
"""Keys that nothing is said of: without them a recording is half as large."""
PLACES = {
    **dict.fromkeys(("lap_distance", "x", "y", "z", "edge_left", "edge_right", "wheel_speed"), 2),
    **dict.fromkeys(("speed", "vx", "vy", "ax", "ay", "throttle", "brake"), 2),
    **dict.fromkeys(("yaw", "yaw_rate", "steer"), 3),
    "engine_speed": 0,
}
"""Decimals that a recording keeps."""
FEW = ("t", "track", "car", "lap", "lap_distance", "track_length", "speed", "throttle", "brake", "gear", "engine_speed")
PLACED = (*FEW[:3], "x", "y", "yaw", *FEW[6:], "engine_speed_max")


@dataclass(frozen=True)
class Plan:
    """What is driven, and by whom. `mistakes`: KIND:LAP:CORNER:SIZE, with spaces between."""

    mistakes: str = ""
    laps: int = 2
    seed: int = 1
    car: CarSpec = PELLOW_R
    person: str = "steady"
    run_out: float = 8.0
    """s behind the line, in which what is to be said of the last corner is said"""
    until: float = inf
    """s: nothing is sent any more"""
    oil: tuple[tuple[float, float, float], ...] = ()
    """s from and to, and the grip that the rear tyres have left then"""


def drive(plan: Plan) -> list[Line]:
    """Every datagram, short."""
    mistakes = [read_mistake(text) for text in plan.mistakes.split()]
    spec = DriveSpec(
        brack_mere(),
        plan.car,
        PERSONS[plan.person],
        plan.laps,
        RATE,
        plan.seed,
        mistakes=mistakes,
        run_out=plan.run_out,
    )
    with _oiled(plan.oil) if plan.oil else nullcontext():
        return [_short(row) for row in takewhile(lambda row: row["t"] < plan.until, Drive(spec))]


def _oiled(windows: tuple[tuple[float, float, float], ...]) -> AbstractContextManager[object]:
    """Oil under the rear wheels now and then: no mistake of the driver's, but a slide that is real."""

    class Oiled(Car):
        def _feel(self, dt: float, cosine: float, sine: float, loads: list[float], grip: float) -> None:
            warm = self._heat.grip
            left = min((grip for start, end, grip in windows if start <= self.t < end), default=1.0)
            self._heat.grip = [*warm[:2], *(left * g for g in warm[2:])]
            super()._feel(dt, cosine, sine, loads, grip)
            self._heat.grip = warm

    return mock.patch("feeds.car.drive.Car", Oiled)


def _short(row: Line) -> Line:
    return {key: _rounded(key, value) for key, value in row.items() if key not in LEFT_OUT and value is not None}


def _rounded(key: str, value: object) -> object:
    if isinstance(value, list):
        return [_rounded(key, part) for part in value]
    if key not in PLACES or not isinstance(value, float):
        return value
    return round(value, PLACES[key] or None)


def only(rows: Iterable[Line], keys: Iterable[str]) -> Iterator[Line]:
    """A source that has these channels alone."""
    for row in rows:
        yield {key: row[key] for key in keys}


def lines(rows: Iterable[Line]) -> bytes:
    """One datagram a line."""
    return b"".join(encode(row) + b"\n" for row in rows)


def rough(rows: list[Line]) -> bytes:
    """What a bad day brings: one in twenty is lost, some come twice or late, three seconds are missing, a pause, a
    reset to the pits in lap 3, and things that are no datagrams."""
    return b"".join(data + b"\n" for data in _spoilt(rows))


def _spoilt(rows: list[Line]) -> Iterator[bytes]:
    dice = random.Random(4)
    held: bytes | None = None
    for row in rows:
        t = row["t"]
        if 130.0 <= t < 133.0:
            continue  # the cable
        if 196.0 <= t < 200.0:
            row = {**row, "in_pit": True, "speed": 0.0, "lap_distance": 12.0, "x": 10.0, "y": -30.0}
        if 40.0 <= t < 41.0:
            row = {**row, "paused": True}
        data, chance = encode(row), dice.random()
        if chance < 0.05:
            continue
        if 0.07 <= chance < 0.09:
            held = data
            continue
        yield data
        if chance < 0.07:
            yield data
        if held is not None:
            yield held
            held = None
        if chance > 0.998:
            yield b'{"t": "noon"}'
