"""A lower gear taken too early: the engine drags the driven wheels. Nothing but the powertrain's inertia does it.

The wheels must bring the engine to n2 = n1 i2 / i1 (kinematics); until then the clutch's torque times the ratio is on
the axle, several times what the tyres carry while the brakes have the weight on the nose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import pytest

from feeds.car.car import Car, Controls
from feeds.car.spec import PELLOW_R, PELLOW_S, RPM, CarSpec
from tests.physics.car_runs import DT


@dataclass
class Entry:
    """What the car did in a corner's entry."""

    driven_slip: float = 0.0
    free_slip: float = 0.0
    yaw_over: float = 0.0
    """rad/s that the car turned more than its path"""
    slide: float = 0.0
    """rad between heading and course"""
    turned: float = 0.0
    """rad of heading"""
    engine: float = 0.0
    """rev/min, most after the shift"""


def entry(spec: CarSpec, gear: int, speed: float, steer: float, blip: bool = False) -> Entry:
    """Trail braking into a left corner in fourth; after 0.6 s `gear` is asked for."""
    car, controls, seen = Car(spec, speed=speed, gear=4), Controls(gear=4), Entry()
    for i in range(round(1.5 / DT)):
        t = i * DT
        controls.brake = 0.3 * min(t / 0.1, 1.0)
        controls.steer = steer * min(max((t - 0.3) / 0.3, 0.0), 1.0)
        if t > 0.6:
            controls.gear = gear
        controls.throttle = 1.0 if blip and car.gear == 0 else 0.0
        car.step(controls, DT)
        front, rear = min(car.slip_ratio[:2]), min(car.slip_ratio[2:])
        driven, free = (rear, front) if spec.driven == "rear" else (front, rear)
        seen.driven_slip, seen.free_slip = min(seen.driven_slip, driven), min(seen.free_slip, free)
        seen.yaw_over = max(seen.yaw_over, car.yaw_rate - car.ay / max(car.speed, 5.0))
        seen.slide = max(seen.slide, abs(math.atan2(car.vy, car.vx)))
        if t > 0.7:
            seen.engine = max(seen.engine, car.engine_speed)
    seen.turned = car.yaw
    return seen


def test_rear_driven_the_rear_locks_and_comes_round() -> None:
    clean, early = entry(PELLOW_R, 4, 42.0, 0.012), entry(PELLOW_R, 2, 42.0, 0.012)
    assert clean.driven_slip > -0.08
    assert early.driven_slip < -0.25
    assert early.yaw_over > clean.yaw_over + 0.2
    assert math.degrees(early.slide) > 8.0 > 4.0 > math.degrees(clean.slide)
    assert early.turned > clean.turned + 0.15


def test_rear_driven_one_gear_too_early_does_less() -> None:
    clean, one, two = (entry(PELLOW_R, gear, 42.0, 0.015) for gear in (4, 3, 2))
    assert two.driven_slip < one.driven_slip < clean.driven_slip
    assert two.slide > one.slide > clean.slide


def test_a_blip_spares_the_axle() -> None:
    bare, blipped = entry(PELLOW_R, 3, 42.0, 0.015), entry(PELLOW_R, 3, 42.0, 0.015, blip=True)
    clean = entry(PELLOW_R, 4, 42.0, 0.015)
    assert clean.driven_slip - 0.06 < blipped.driven_slip
    assert bare.driven_slip < blipped.driven_slip - 0.05
    assert bare.slide > blipped.slide


def test_front_driven_the_front_ploughs_on() -> None:
    clean, early = entry(PELLOW_S, 4, 38.0, 0.015), entry(PELLOW_S, 2, 38.0, 0.015)
    assert early.driven_slip < -0.25 < -0.12 < clean.driven_slip
    assert early.free_slip > clean.free_slip  # the rear is relieved
    assert early.turned < 0.8 * clean.turned
    assert early.slide < clean.slide + 0.02


@pytest.mark.parametrize(("spec", "speed"), [(PELLOW_R, 50.0), (PELLOW_S, 42.0)])
def test_the_wheels_can_turn_the_engine_beyond_its_limit(spec: CarSpec, speed: float) -> None:
    """A mechanical over-rev, as n = 60 v i / (2 pi r) asks for; the limiter cannot help."""
    car, controls = Car(spec, speed=speed, gear=4), Controls(gear=2)
    most = 0.0
    for _ in range(round(1.0 / DT)):
        car.step(controls, DT)
        most = max(most, car.engine_speed)
    assert spec.engine_speed(speed, 2) > 1.15 * spec.engine.limit
    assert most > 1.05 * spec.engine.limit


def test_the_drag_is_the_engines_inertia() -> None:
    """What the axle gives is what the engine takes up: with a tenth of the inertia the car comes round far less."""
    light = replace(PELLOW_R, engine=replace(PELLOW_R.engine, inertia=0.013))
    heavy_entry, light_entry = entry(PELLOW_R, 2, 42.0, 0.012), entry(light, 2, 42.0, 0.012)
    assert light_entry.slide < 0.4 * heavy_entry.slide
    assert light_entry.yaw_over < 0.5 * heavy_entry.yaw_over
    # the energy that the engine gains from 4th to 2nd is several times that of its own wheels' spin
    spins = [PELLOW_R.engine_speed(42.0, gear) / RPM for gear in (4, 2)]
    gained = 0.5 * PELLOW_R.engine.inertia * (spins[1] ** 2 - spins[0] ** 2)
    assert gained > PELLOW_R.wheel_inertia * (42.0 / PELLOW_R.tyre_radius) ** 2
