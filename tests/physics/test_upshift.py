"""The best shift up, found from a driven car's own pull, against its closed form and against driven times.

Source of the closed form: algebra. T(n) i1 = T(n q) i2 with T = A - B n and q = i2/i1 gives n = A / (B (1 + q)):
600 Nm, 0.05 and 0.75 give 6,857.14 rev/min, 5,142.86 in the next gear (checks 3.15).
"""

from __future__ import annotations

import math
from functools import cache

import pytest

from coach.engine.faults.base import Finding
from coach.engine.pull import Pull
from coach.vocabulary.sample import Sample
from feeds.car.car import Car, Controls
from feeds.car.spec import CARS, GRAVITY, CarSpec
from tests.engine.pulling import Driver, Judge, MadeCar, learned

BEST = 6857.14
"""rev/min"""
TURNS = 200.0
"""rev/min for each m/s in the lower gear"""
LEARNING = (41.0, 28.0, 41.0, 28.0)
"""m/s: shifts that show both gears at 28 to 41 m/s"""


def judged(shift: float, car: MadeCar | None = None, rate: float = 60.0) -> tuple[list[Finding], float]:
    """What is found of a shift at `shift` m/s after the learning, and how long its straight took."""
    if car is None:
        driver, judge = learned(LEARNING, rate)
    else:
        driver, judge = Driver(car, rate=rate), Judge()
        judge.take(driver.laps(LEARNING))
    found = judge.take(driver.lap(shift))
    return found, driver.time


@cache
def driven(shift: float) -> float:
    """s that the straight takes with a shift at `shift` m/s."""
    driver = Driver(MadeCar())
    for _ in driver.lap(shift):
        pass
    return driver.time


def test_the_driven_straight_itself_is_quickest_with_the_closed_form() -> None:
    times = {v: driven(v) for v in (28.0, 32.0, BEST / TURNS, 37.0, 41.0)}
    assert min(times, key=lambda v: times[v]) == BEST / TURNS


@pytest.mark.parametrize("rate", [20.0, 60.0, 120.0])
@pytest.mark.parametrize("early", [1150.0, 1400.0])
def test_early_against_the_closed_form(early: float, rate: float) -> None:
    found, _ = judged((BEST - early) / TURNS, rate=rate)
    assert [(f.fault, f.unit) for f in found] == [("early_upshift", "rev/min")]
    assert found[0].size == pytest.approx(early, abs=0.02 * BEST)
    assert found[0].evidence["best_speed"] == pytest.approx(BEST / TURNS, rel=0.02)


@pytest.mark.parametrize("rate", [20.0, 60.0, 120.0])
@pytest.mark.parametrize("late", [1100.0, 1300.0])
def test_late_against_the_closed_form(late: float, rate: float) -> None:
    found, _ = judged((BEST + late) / TURNS, rate=rate)
    assert [(f.fault, f.unit) for f in found] == [("late_upshift", "rev/min")]
    assert found[0].size == pytest.approx(late, abs=0.04 * BEST)


@pytest.mark.parametrize("shift", [29.5, 33.0, BEST / TURNS, 35.5, 38.0])
def test_near_its_best_it_is_no_fault(shift: float) -> None:
    assert driven(shift) - driven(BEST / TURNS) < 0.019
    assert judged(shift)[0] == []


@pytest.mark.parametrize("shift", [27.0, 28.0, 28.5, 40.0, 41.0])
def test_the_cost_is_what_the_straight_took_longer(shift: float) -> None:
    found, time = judged(shift)
    lost = time - driven(BEST / TURNS)
    assert found[0].cost == pytest.approx(lost, rel=0.1)


def test_where_no_pulls_cross_the_best_shift_is_at_the_highest_engine_speed_shown() -> None:
    # A 600, B 0.02: the pulls would cross at 17,143 rev/min, the car is revved to 8,200 (41 m/s).
    car = MadeCar(fall=0.02, gain=6.0e-5)
    assert judged(41.0, car)[0] == []
    found, _ = judged(30.0, car)
    assert found[0].fault == "early_upshift"
    assert found[0].size == pytest.approx(8200.0 - 6000.0, abs=60.0)


@pytest.mark.parametrize(("slip", "early"), [(0.0, True), (0.05, False)])
def test_a_little_wheelspin_brings_the_engine_to_its_limit_sooner(slip: float, early: bool) -> None:
    # shown to 41 m/s and 8,200 rev/min; at 39 m/s with 5 % of slip it turns at 8,190
    car = MadeCar(fall=0.02, gain=6.0e-5)
    driver, judge = Driver(car), Judge()
    judge.take(driver.laps(LEARNING))
    found = judge.take(driver.lap(39.0, change=lambda _, v, gear: {"engine_speed": car.turns[gear] * v * (1.0 + slip)}))
    assert [f.fault for f in found] == ["early_upshift"] * early


def test_the_air_takes_as_much_in_either_gear() -> None:
    found, _ = judged((BEST - 1300.0) / TURNS, MadeCar(drag=0.0006, gain=1.0e-4))
    assert found[0].size == pytest.approx(1300.0, abs=0.02 * BEST)


def resistance(spec: CarSpec, speed: float) -> float:
    """N of air and rolling."""
    return 0.5 * spec.air_density * spec.drag_area * speed * speed + spec.rolling * spec.mass_with(20.0) * GRAVITY


def closed_pull(spec: CarSpec, gear: int, speed: float) -> float:
    """m/s^2 of the built-in car without slip and lift, its turning parts as mass (Newton; from its numbers)."""
    turns, ratio = spec.engine_speed(speed, gear), spec.ratio(gear)
    (n0, t0), (n1, t1) = next(p for p in zip(spec.engine.curve, spec.engine.curve[1:], strict=False) if p[1][0] > turns)
    torque = t0 + (t1 - t0) * (turns - n0) / (n1 - n0)
    turning = (4.0 * spec.wheel_inertia + spec.engine.inertia * ratio**2) / spec.tyre_radius**2
    return (torque * ratio / spec.tyre_radius - resistance(spec, speed)) / (spec.mass_with(20.0) + turning)


@pytest.mark.parametrize(("name", "gear"), [("Pellow R", 4), ("Pellow S", 3)])
def test_the_built_in_cars_pull_is_read_as_it_is(name: str, gear: int) -> None:
    # checked against the car's numbers; tyre slip takes a little of the power, so the car pulls up to 4 % less
    spec, pull = CARS[name], Pull()
    low, high = 0.72 * spec.engine.limit, 0.95 * spec.engine.limit
    t = 0.0
    for _ in range(2):
        car = Car(spec, speed=low / spec.engine_speed(1.0, gear), gear=gear, fuel=20.0)
        controls = Controls(throttle=1.0, gear=gear)
        while car.engine_speed < high:
            for _ in range(6):
                car.step(controls, 1.0 / 360.0)
            t += 1.0 / 60.0
            pull.watch(Sample(t, speed=car.speed, gear=gear, throttle=1.0, brake=0.0, z=0.0, ay=0.0))
        t += 1.0 / 60.0
        pull.watch(Sample(t, speed=car.speed, gear=gear, throttle=0.0, brake=1.0, z=0.0, ay=0.0))
        t += 1.0
    curve = pull.curve(gear, None)
    assert len(curve.speed) >= 3
    for speed, read in zip(curve.speed, curve.pull, strict=True):
        assert read == pytest.approx(closed_pull(spec, gear, speed), rel=0.05)
    assert math.isclose(pull.top(gear) or 0.0, high / spec.engine_speed(1.0, gear), rel_tol=0.04)
