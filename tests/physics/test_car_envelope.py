"""What the envelope says the car can do, and the car doing it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from feeds.car.car import Car, Controls
from feeds.car.envelope import Envelope
from feeds.car.spec import CARS, GRAVITY, PELLOW_R, PELLOW_S, CarSpec
from tests.physics.car_runs import DT, handbook_car, lateral_limit, steady_circle, stop

BOTH = pytest.mark.parametrize("spec", CARS.values(), ids=CARS)


@pytest.mark.parametrize("speed", [13.0, 22.0, 35.0, 48.0])
@BOTH
def test_the_car_corners_as_hard_as_the_envelope_says(spec: CarSpec, speed: float) -> None:
    assert lateral_limit(spec, speed) == pytest.approx(Envelope(spec).lateral(speed), rel=0.025)


@pytest.mark.parametrize(("start", "end"), [(60.0, 40.0), (40.0, 20.0), (25.0, 8.0)])
@BOTH
def test_the_car_stops_as_short_as_the_envelope_says(spec: CarSpec, start: float, end: float) -> None:
    limits = Envelope(spec)
    steps = 40
    width = (start - end) / steps
    speeds = [end + width * (i + 0.5) for i in range(steps)]
    # The nose takes its load with the body's lag, and until then the front has less: that is no steady state, and it
    # costs about the lag itself.
    lag = spec.settle * start
    expected = sum(v * width / limits.braking(v) for v in speeds)
    distance, _ = stop(spec, start, end)
    assert expected * 0.99 < distance < expected * 1.04 + 0.5 * lag


@BOTH
def test_the_car_pulls_as_the_envelope_says(spec: CarSpec) -> None:
    limits = Envelope(spec)
    for speed in (12.0, 20.0, 30.0, 40.0):
        gear = limits.best_gear(speed)
        car, controls = Car(spec, speed=speed - 3.0, gear=gear), Controls(throttle=1.0, gear=gear)
        driven = slice(2, 4) if spec.driven == "rear" else slice(0, 2)
        peak = spec.rear_tyre.peak_slip if spec.driven == "rear" else spec.front_tyre.peak_slip
        while car.speed < speed:
            spare = peak - max(car.slip_ratio[driven])
            controls.throttle = min(max(1.0 + 12.0 * (spare - 0.02), 0.15), 1.0)
            car.step(controls, DT)
            if spec.engine_speed(car.speed, gear) > 0.985 * spec.engine.limit:
                break
        assert car.ax == pytest.approx(limits.drive(car.speed), rel=0.05, abs=0.08), (speed, gear)


@BOTH
def test_top_speed_is_where_the_pull_ends(spec: CarSpec) -> None:
    limits = Envelope(spec)
    low, high = 30.0, 110.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if limits.drive(middle) > 0.0 else (low, middle)
    gear = limits.best_gear(low)
    car = Car(spec, speed=low - 1.0, gear=gear)
    for _ in range(round(30.0 / DT)):
        car.step(Controls(throttle=1.0, gear=gear), DT)
    assert car.speed == pytest.approx(low, rel=0.02)


@BOTH
def test_the_best_gear_is_one_the_engine_can_turn(spec: CarSpec) -> None:
    limits = Envelope(spec)
    gears = [limits.best_gear(0.5 * i) for i in range(2, 200)]
    assert gears[0] == 1
    assert gears[-1] == len(spec.gears)
    assert gears == sorted(gears)
    for i, gear in enumerate(gears[:100], start=2):
        assert gear == len(spec.gears) or spec.engine_speed(0.5 * i, gear) <= spec.engine.limit


def test_the_best_gear_changes_where_the_wheel_torques_cross() -> None:
    # T(n1) i1 = T(n1 i2 / i1) i2; T = A - B n: n = A / (B (1 + q)): 600, 0.05, 0.75 is 6,857.14 rev/min (algebra).
    base = handbook_car(gears=(2.0, 1.5), final_drive=3.0)
    engine = replace(
        base.engine, curve=((0.0, 600.0), (10_000.0, 100.0)), limit=9500.0, friction=(0.0, 0.0, 0.0), inertia=0.0
    )
    spec = replace(base, engine=engine)
    limits = Envelope(spec)
    crossing = 6857.14 / spec.engine_speed(1.0, 1)
    assert limits.best_gear(0.999 * crossing) == 1
    assert limits.best_gear(1.001 * crossing) == 2


@BOTH
def test_understeer_gradient_is_the_slope_of_the_steering(spec: CarSpec) -> None:
    # Gillespie, Fundamentals of Vehicle Dynamics, ch. 6: steer = L / R + K ay. The differential steers the car too,
    # and is open here; so does drag.
    plain = replace(spec, preload=0.0, locking=0.0, drag_area=0.0, lift_area=0.0, rolling=0.0)
    limits = Envelope(plain)
    radius = 150.0
    slow, fast = (steady_circle(plain, speed, radius)[1].steer for speed in (8.0, 16.0))
    slope = (fast - slow) / ((16.0**2 - 8.0**2) / radius)
    assert slope == pytest.approx(limits.understeer_gradient, abs=2e-4)
    assert limits.steer_for(1.0 / radius, 12.0) == pytest.approx(steady_circle(plain, 12.0, radius)[1].steer, rel=0.02)
    assert limits.steer_for(-1.0 / radius, 12.0) == -limits.steer_for(1.0 / radius, 12.0)


def test_understeer_gradient_in_closed_form() -> None:
    # K = Wf / Caf - Wr / Car (Gillespie, ch. 6), per g; with one tyre all round and no load sensitivity it is none.
    assert Envelope(handbook_car()).understeer_gradient == pytest.approx(0.0, abs=1e-12)
    assert Envelope(handbook_car(front_share=0.6)).understeer_gradient == pytest.approx(0.0, abs=1e-9)
    assert Envelope(PELLOW_S).understeer_gradient > 0.0
    # half the friction is half the cornering stiffness
    assert Envelope(PELLOW_S, grip=0.5).understeer_gradient == pytest.approx(
        2.0 * Envelope(PELLOW_S).understeer_gradient
    )


@BOTH
def test_grip_mass_and_wings(spec: CarSpec) -> None:
    whole, less = Envelope(spec), Envelope(spec, grip=0.8)
    light = Envelope(spec, spec.mass)
    for speed in (15.0, 40.0):
        assert less.lateral(speed) == pytest.approx(0.8 * whole.lateral(speed), rel=0.06)
        assert 0.7 < less.braking(speed) / whole.braking(speed) < 0.9
        assert light.lateral(speed) > whole.lateral(speed)
        assert light.drive(speed) > whole.drive(speed)
    if spec.lift_area > 0.0:
        flat = Envelope(replace(spec, lift_area=0.0))
        assert whole.lateral(50.0) > 1.04 * flat.lateral(50.0)
        assert whole.braking(50.0) > 1.04 * flat.braking(50.0)


@pytest.mark.parametrize("mu", [0.6, 1.0, 1.4])
def test_the_handbook_car_brakes_and_corners_with_its_friction(mu: float) -> None:
    limits = Envelope(handbook_car(mu))
    assert 0.97 * mu * GRAVITY < limits.braking(30.0) <= mu * GRAVITY
    assert 0.94 * mu * GRAVITY < limits.lateral(25.0) <= mu * GRAVITY


def test_every_speed_has_a_limit() -> None:
    for spec in CARS.values():
        limits = Envelope(spec)
        for speed in (0.0, 0.5, 3.0, 111.0):
            assert 3.0 < limits.lateral(speed) < 25.0
            assert 5.0 < limits.braking(speed) < 30.0
            assert math.isfinite(limits.drive(speed))


def test_limits_are_plausible() -> None:
    # Slicks with a little downforce pass 1.1 g, road tyres stay near 1 g (common practice).
    assert 1.1 < Envelope(PELLOW_R).lateral(30.0) / GRAVITY < 1.5
    assert 0.9 < Envelope(PELLOW_S).lateral(30.0) / GRAVITY < 1.05
