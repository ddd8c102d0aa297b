"""The tyres' heat, and what it does to pressure and friction."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from feeds.car.car import Car, Controls
from feeds.car.envelope import Envelope
from feeds.car.heat import ACROSS, HYSTERESIS, TyreHeat
from feeds.car.spec import CARS, PELLOW_R, CarSpec
from feeds.car.tyre import pressure
from tests.physics.car_runs import DT, Pace, steady_circle

BOTH = pytest.mark.parametrize("spec", CARS.values(), ids=CARS)


def mean(car: Car) -> list[float]:
    """degC of each tread"""
    return [sum(tread) / 3.0 for tread in car.tyre_temp]


@BOTH
def test_cornering_heats_the_outer_wheels_and_their_outer_shoulders(spec: CarSpec) -> None:
    car, _ = steady_circle(spec, 20.0, 55.0, seconds=15.0)
    left_front, right_front, left_rear, right_rear = mean(car)
    assert right_front > left_front
    assert right_rear > left_rear
    inner, _, outer = car.tyre_temp[1]
    # camber heats the inner third; cornering hard to one side moves it outward again (common practice)
    straight = Car(spec, speed=40.0, gear=4)
    for _ in range(round(4.0 / DT)):
        straight.step(Controls(brake=0.3, throttle=0.8, gear=4), DT)
    assert straight.tyre_temp[1][0] > straight.tyre_temp[1][2]
    assert outer - inner > straight.tyre_temp[1][2] - straight.tyre_temp[1][0]


@BOTH
def test_a_straight_cools_the_tread(spec: CarSpec) -> None:
    heat = TyreHeat(spec, 90.0)
    for _ in range(500):
        heat.settle(0.02, 40.0, [3000.0] * 4)
    for tread in heat.tread:
        assert max(tread) < 85.0
    assert min(heat.core) > 85.0


def test_all_heat_is_accounted_for() -> None:
    """Without cooling, the tyre's share of the work is in tread and carcass: J in, J kept."""
    tyre = replace(PELLOW_R.front_tyre, tread_cooling=(0.0, 0.0), core_cooling=0.0)
    spec = replace(PELLOW_R, front_tyre=tyre, rear_tyre=tyre, rolling=0.0)
    heat = TyreHeat(spec, 60.0)
    for _ in range(400):
        for wheel in range(4):
            heat.work[wheel] += 100.0
            heat.leaned[wheel] += 60.0
        heat.settle(0.02, 40.0, [3000.0] * 4)
    for tread, core in zip(heat.tread, heat.core, strict=True):
        kept = sum(temp - 60.0 for temp in tread) * tyre.tread_heat / 3.0 + (core - 60.0) * tyre.core_heat
        assert kept == pytest.approx(400 * 100.0 * tyre.slip_share, rel=1e-6)


def closed(**more: float) -> CarSpec:
    """A car whose tyres lose no heat, and whose tread gives none to the carcass."""
    tyre = replace(PELLOW_R.front_tyre, tread_cooling=(0.0, 0.0), core_cooling=0.0, inward=0.0)
    return replace(PELLOW_R, front_tyre=tyre, rear_tyre=tyre, **more)


def test_rolling_heats_the_carcass() -> None:
    """J: the carcass keeps its share of rolling resistance times distance."""
    spec = closed()
    heat = TyreHeat(spec, 60.0)
    for _ in range(500):
        heat.settle(0.02, 40.0, [3000.0, 2000.0, 0.0, 1000.0])
    for core, load in zip(heat.core, [3000.0, 2000.0, 0.0, 1000.0], strict=True):
        kept = (core - 60.0) * spec.front_tyre.core_heat
        assert kept == pytest.approx(HYSTERESIS * spec.rolling * load * 40.0 * 500 * 0.02, rel=1e-6)


def test_the_shoulders_share_their_heat_with_the_middle() -> None:
    """A difference from shoulder to shoulder falls to 1/e in a third's heat by its conductance (closed form)."""
    spec = closed(rolling=0.0)
    heat = TyreHeat(spec, 60.0)
    heat.tread[0][:] = [80.0, 60.0, 40.0]
    lasts = spec.front_tyre.tread_heat / 3.0 / ACROSS
    for _ in range(round(lasts / 0.02)):
        heat.settle(0.02, 0.0, [3000.0] * 4)
    inner, middle, outer = heat.tread[0]
    assert inner - outer == pytest.approx(40.0 / math.e, rel=0.01)
    assert middle == pytest.approx(60.0)


def test_the_carcass_takes_the_treads_heat() -> None:
    """Two heats C1, C2 with a conductance k find each other with C1 C2 / (C1 + C2) / k seconds (closed form)."""
    tyre = replace(closed().front_tyre, inward=60.0)
    heat = TyreHeat(replace(PELLOW_R, front_tyre=tyre, rear_tyre=tyre, rolling=0.0), 60.0)
    heat.tread[2][:] = [90.0] * 3
    lasts = tyre.tread_heat * tyre.core_heat / (tyre.tread_heat + tyre.core_heat) / 60.0
    for _ in range(round(lasts / 0.02)):
        heat.settle(0.02, 0.0, [3000.0] * 4)
    assert heat.tread[2][1] - heat.core[2] == pytest.approx(30.0 / math.e, rel=0.01)


def test_the_tread_cools_to_air_and_road_and_faster_at_speed() -> None:
    """By `tread_cooling` W/K over its heat, to the temperature of the air (Newton's law of cooling)."""
    standing, moving = PELLOW_R.front_tyre.tread_cooling
    tyre = replace(PELLOW_R.front_tyre, inward=0.0, core_cooling=0.0)
    spec = replace(PELLOW_R, front_tyre=tyre, rear_tyre=tyre, rolling=0.0)
    for speed in (0.0, 50.0):
        heat = TyreHeat(spec, 90.0)
        for _ in range(1000):
            heat.settle(0.02, speed, [3000.0] * 4)
        left = math.exp(-20.0 * (standing + moving * speed) / tyre.tread_heat)
        assert heat.tread[3] == pytest.approx([20.0 + 70.0 * left] * 3)


@BOTH
def test_the_cars_tyres_cool_by_the_cars_clock(spec: CarSpec) -> None:
    """3 s of sliding along on nothing are 3 s of cooling, at the car's speed and its loads."""
    spec = replace(spec, drag_area=0.0, lift_area=0.0)
    car, heat = Car(spec, speed=40.0, gear=0, tyre_temp=90.0), TyreHeat(spec, 90.0)
    for _ in range(round(3.0 / DT)):
        car.step(Controls(gear=0), DT, grip=0.0)
    for _ in range(150):
        heat.settle(0.02, 40.0, car.wheel_load)
    assert heat.tread[0][1] < 88.0
    for cooled, expected in zip(car.tyre_temp, heat.tread, strict=True):
        assert cooled == pytest.approx(expected, abs=0.05)


def test_the_lean_of_a_force_to_the_left() -> None:
    """It loads the right shoulder: the outer one of the right wheels, the inner one of the left."""
    heat = TyreHeat(PELLOW_R, 60.0)
    for wheel in range(4):
        heat.work[wheel], heat.leaned[wheel] = 5000.0, 5000.0
    heat.settle(0.02, 30.0, [3000.0] * 4)
    assert heat.tread[0][0] > heat.tread[0][2]
    assert heat.tread[1][2] > heat.tread[1][0]


@BOTH
def test_pressure_follows_the_carcass(spec: CarSpec) -> None:
    # Gay-Lussac on absolute pressure (see `test_car_tyre.py`).
    car = Car(spec, tyre_temp=20.0)
    assert car.tyre_pressure == pytest.approx([spec.front_tyre.cold_pressure] * 4)
    warm = Car(spec, tyre_temp=80.0)
    tyre = spec.front_tyre
    assert warm.tyre_pressure[0] == pytest.approx(pressure(tyre.cold_pressure, tyre.cold_temp, 80.0))


@BOTH
def test_cold_tyres_hold_less(spec: CarSpec) -> None:
    slowed = {}
    for temp in (20.0, spec.front_tyre.start_temp):
        car = Car(spec, speed=30.0, gear=0, tyre_temp=temp)
        for _ in range(round(0.6 / DT)):
            car.step(Controls(brake=1.0, gear=0), DT)
        slowed[temp] = 30.0 - car.speed
    assert 0.88 < slowed[20.0] / slowed[spec.front_tyre.start_temp] < 0.96


def weaved(spec: CarSpec, temp: float) -> Car:
    """40 s of tight bends near the limit, to the left and to the right by turns."""
    limit = Envelope(spec).lateral(22.0)
    car, controls, pace = Car(spec, speed=22.0, gear=3, tyre_temp=temp), Controls(gear=3), Pace(22.0)
    for i in range(round(40.0 / DT)):
        wanted = 0.9 * limit / 22.0 * math.sin(i * DT * math.tau / 8.0)
        controls.steer += 1.0 * (wanted - car.yaw_rate) * DT
        controls.throttle = pace.throttle(car)
        car.step(controls, DT)
    assert abs(car.speed - 22.0) < 2.0
    return car


@BOTH
def test_hard_driving_brings_the_tyres_to_a_temperature_of_their_own(spec: CarSpec) -> None:
    cold, hot = weaved(spec, 20.0), weaved(spec, 110.0)
    for low, high in zip(mean(cold), mean(hot), strict=True):
        assert low > 23.0
        assert high < 108.0
        assert high - low < 0.9 * (110.0 - 20.0)
    for car, way in ((cold, 1.0), (hot, -1.0)):
        before = Car(spec, tyre_temp=20.0 if way > 0.0 else 110.0).tyre_pressure
        assert all(way * (now - then) > 0.5 for now, then in zip(car.tyre_pressure, before, strict=True))
