"""Both drivers in both cars, without a mistake planted: whole laps on the road, without a wheel locked or a slide."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from feeds.car.circuit import brack_mere
from feeds.car.drive import STEERING_RATIO, Drive, DriveSpec, Row
from feeds.car.person import PERSONS
from feeds.car.spec import CARS, CarSpec

CIRCUIT = brack_mere()
LOCKS = -0.2
"""kappa under brakes from which a wheel counts as locking (choice). Measured, a lap: -0.19 at the most."""
SLIDES = math.radians(10.0)
"""rad of the car's slip angle from which it is out of line (choice; the rear tyres' peak is under 8 degrees). Measured:
3.2 degrees at the most."""
KERB = 0.3
"""m that one side may be over the edge at a bend's exit (choice): kerb use is no fault. Measured: 0.16 m."""


@pytest.fixture(scope="module", params=[(car, person) for car in CARS for person in PERSONS], ids=", ".join)
def lap(request: pytest.FixtureRequest) -> tuple[CarSpec, str, list[Row], dict[int, float]]:
    car, person = request.param
    drive = Drive(DriveSpec(CIRCUIT, CARS[car], PERSONS[person], laps=1, rate=60, run_out=0.0))
    return CARS[car], person, list(drive), drive.lap_times


Lap = tuple[CarSpec, str, list[Row], dict[int, float]]


def test_the_lap_is_whole_and_on_the_road(lap: Lap) -> None:
    spec, _, rows, times = lap
    assert list(times) == [1]
    assert all(row["on_track"] for row in rows)
    nearest = min(min(row["edge_left"], row["edge_right"]) for row in rows)
    assert nearest > spec.width / 2 - KERB


def test_it_uses_the_road(lap: Lap) -> None:
    """A racing line goes from edge to edge (common practice): on both sides nearer than a car's width to one."""
    spec, _, rows, _ = lap
    assert min(row["edge_left"] for row in rows) < 1.5 * spec.width
    assert min(row["edge_right"] for row in rows) < 1.5 * spec.width


def test_no_wheel_locks_and_the_car_does_not_slide(lap: Lap) -> None:
    spec, _, rows, _ = lap
    for row in rows:
        assert abs(math.atan2(row["vy"], row["vx"])) < SLIDES
        if row["brake"] > 0.02:
            assert all(slip > LOCKS for slip in slips(spec, row))


def test_it_stands_and_backs_nowhere(lap: Lap) -> None:
    _, _, rows, _ = lap
    assert min(row["vx"] for row in rows) > 8.0
    assert all(row["gear"] >= 0 for row in rows)


def test_the_pedals_are_not_pressed_together_but_in_a_blip(lap: Lap) -> None:
    """Under the brake the throttle is pressed for a blip on the way down to a gear, and goes again within 0.5 s."""
    _, _, rows, _ = lap
    both = 0
    for row in rows:
        both = both + 1 if row["brake"] > 0.02 and row["throttle"] > 0.05 else 0
        assert both < 30


def slips(spec: CarSpec, row: Row) -> Iterator[float]:
    """kappa = omega Re / (v cos alpha) - 1 of each wheel (SAE J670), of its own hub's speed along the wheel."""
    steer = row["steer"] / STEERING_RATIO
    for i, speed in enumerate(row["wheel_speed"]):
        x, track = (spec.to_front, spec.front_track) if i < 2 else (-spec.to_rear, spec.rear_track)
        along = row["vx"] - row["yaw_rate"] * track / 2 * (1 if i % 2 == 0 else -1)
        if i < 2:
            along = along * math.cos(steer) + (row["vy"] + row["yaw_rate"] * x) * math.sin(steer)
        yield speed / along - 1.0
