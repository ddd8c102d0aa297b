"""Engine, clutch, gearbox and differential."""

from __future__ import annotations

from dataclasses import replace

import pytest

from feeds.car.car import Car, Controls
from feeds.car.engine import Engine
from feeds.car.gearbox import Gearbox
from feeds.car.powertrain import Powertrain, capacity
from feeds.car.spec import CARS, PELLOW_R, PELLOW_S, RPM, CarSpec
from feeds.car.wheel import Wheel, held
from tests.physics.car_runs import DT, kinetic

BOTH = pytest.mark.parametrize("spec", CARS.values(), ids=CARS)


def driven(car: Car, seconds: float, controls: Controls) -> Car:
    for _ in range(round(seconds / DT)):
        car.step(controls, DT)
    return car


def driven_speed(car: Car) -> float:
    """m/s at the circumference, mean of the driven axle"""
    wheels = car.wheel_speed[2:] if car.spec.driven == "rear" else car.wheel_speed[:2]
    return sum(wheels) / 2.0


@BOTH
def test_torque_between_the_points_of_the_curve(spec: CarSpec) -> None:
    engine = Engine(spec.engine)
    for (low, less), (high, more) in zip(spec.engine.curve, spec.engine.curve[1:], strict=False):
        assert engine.full(low / RPM) == pytest.approx(less, abs=0.5)
        assert engine.full(0.5 * (low + high) / RPM) == pytest.approx(0.5 * (less + more), abs=0.5)
    assert engine.full(20_000.0 / RPM) == pytest.approx(spec.engine.curve[-1][1], abs=0.5)


@BOTH
def test_full_throttle_gives_the_curve_and_a_closed_one_brakes(spec: CarSpec) -> None:
    engine = Engine(spec.engine)
    spins = [rpm / RPM for rpm in (2000.0, 4000.0, 6000.0, spec.engine.limit)]
    for spin in spins[:-1]:
        assert engine.combustion(spin, 1.0) - engine.friction(spin) == pytest.approx(engine.full(spin))
        assert engine.combustion(spin, 0.0) == 0.0
    braking = [engine.friction(spin) for spin in spins]
    assert braking == sorted(braking)
    assert 0.05 * engine.full(spins[1]) < braking[-1] < 0.3 * engine.full(spins[1])


@BOTH
def test_out_of_gear_the_engine_stays_between_idle_and_limiter(spec: CarSpec) -> None:
    car = driven(Car(spec, gear=0), 3.0, Controls(gear=0))
    assert car.engine_speed == pytest.approx(spec.engine.idle, rel=0.05)
    driven(car, 3.0, Controls(throttle=1.0, gear=0))
    assert car.engine_speed == pytest.approx(spec.engine.limit, rel=0.006)
    assert car.speed == pytest.approx(0.0, abs=1e-6)


@BOTH
def test_the_limiter_holds_the_road_speed_in_a_gear(spec: CarSpec) -> None:
    car = driven(Car(spec, speed=15.0, gear=2), 12.0, Controls(throttle=1.0, gear=2))
    assert car.engine_speed == pytest.approx(spec.engine.limit, rel=0.006)


@BOTH
def test_in_gear_engine_and_wheels_turn_by_the_ratio(spec: CarSpec) -> None:
    for gear in range(2, len(spec.gears) + 1):
        speed = 0.7 * spec.engine.limit / spec.engine_speed(1.0, gear)
        car = driven(Car(spec, speed=speed, gear=gear), 1.0, Controls(throttle=0.5, gear=gear))
        assert car.engine_speed == pytest.approx(spec.engine_speed(driven_speed(car), gear), rel=1e-3)


@BOTH
def test_a_standing_start_without_the_clutch_pedal(spec: CarSpec) -> None:
    car, lowest, reached = Car(spec, gear=1), spec.engine.idle, 0.0
    for _ in range(round(4.0 / DT)):
        car.step(Controls(throttle=1.0, gear=1), DT)
        lowest = min(lowest, car.engine_speed)
        reached = max(reached, car.ax)
    assert car.speed > 14.0
    assert lowest > 0.85 * spec.engine.idle
    assert reached > 4.0


@BOTH
def test_locked_wheels_do_not_stall_the_engine(spec: CarSpec) -> None:
    car = driven(Car(spec, speed=30.0, gear=3), 6.0, Controls(brake=1.0, gear=3))
    assert car.speed < 0.01
    assert car.engine_speed > 0.8 * spec.engine.idle


@BOTH
def test_reverse(spec: CarSpec) -> None:
    car = driven(Car(spec, gear=-1), 3.0, Controls(throttle=0.3, gear=-1))
    assert car.gear == -1
    assert car.vx < -2.0
    assert car.engine_speed > spec.engine.idle


@BOTH
def test_the_clutch_pedal_parts_engine_and_wheels(spec: CarSpec) -> None:
    pressed = driven(Car(spec, speed=30.0, gear=3), 1.5, Controls(clutch=1.0, gear=3))
    neutral = driven(Car(spec, speed=30.0, gear=0), 1.5, Controls(gear=0))
    assert pressed.speed == pytest.approx(neutral.speed, abs=1e-6)
    braking = driven(Car(spec, speed=30.0, gear=3), 1.5, Controls(gear=3))
    assert braking.speed < neutral.speed - 0.5
    assert pressed.engine_speed < 0.7 * braking.engine_speed
    driven(pressed, 5.0, Controls(clutch=1.0, gear=3))
    assert pressed.engine_speed == pytest.approx(spec.engine.idle, rel=0.05)


def test_the_anti_stall_clutch_carries_more_with_engine_speed() -> None:
    engine = PELLOW_R.engine
    carried = [capacity(engine, rpm / RPM) for rpm in (0.0, 900.0, 1500.0, 2500.0, 3000.0, 8000.0)]
    assert carried[0] == carried[1] == 0.0
    assert carried == sorted(carried)
    assert carried[-1] == engine.clutch


@BOTH
def test_a_gear_change_takes_its_time_and_cuts_the_engine_on_the_way_up(spec: CarSpec) -> None:
    car, controls = Car(spec, speed=25.0, gear=2), Controls(throttle=1.0, gear=2)
    driven(car, 0.5, controls)
    before, between, slower = car.engine_speed, 0, car.speed
    controls.gear = 3
    while car.gear != 3:
        car.step(controls, DT)
        between += car.gear == 0
        assert car.engine_speed <= before
    assert between * DT == pytest.approx(spec.shift_time, abs=2 * DT)
    driven(car, 0.4, controls)
    assert car.engine_speed == pytest.approx(before * spec.gears[2] / spec.gears[1] * car.speed / slower, rel=0.01)


@BOTH
def test_a_blip_on_the_way_down_raises_the_engine(spec: CarSpec) -> None:
    turns = {}
    for blip in (0.0, 1.0):
        car, controls = Car(spec, speed=25.0, gear=4), Controls(gear=3)
        car.step(controls, DT)
        while car.gear == 0:
            controls.throttle = blip
            car.step(controls, DT)
        turns[blip] = car.engine_speed
    assert turns[1.0] > turns[0.0] + 700.0


def test_the_clutch_closes_over_its_time_behind_a_gear_change() -> None:
    """Until its two sides turn alike it carries its share of what it can: Nm by what they take from the engine."""
    spec = replace(PELLOW_R, shift_time=0.01, engage_time=0.1)
    train = Powertrain(spec, 4, 100.0)
    wheels = [Wheel(spec.rear_tyre, 0.0, 0.0, spec.tyre_radius, spec.wheel_inertia, 100.0) for _ in range(2)]
    train.box.advance(0.005, 2)
    train.box.advance(0.01, 2)
    carried = []
    for _ in range(3):
        for wheel in wheels:
            wheel.feel(1e-3, 32.5, 0.0, 3000.0, 1.0)
        train.box.advance(0.02, 2)
        before = train.spin
        train.turn(1e-3, -1.0, 0.0, 0.0, *wheels)
        gained = (train.spin - before) / 1e-3 * spec.engine.inertia + train.engine.friction(before)
        carried.append(gained / capacity(spec.engine, before))
    assert carried == pytest.approx([0.2, 0.4, 0.6])


def test_gears_that_the_box_lacks_and_changes_of_mind() -> None:
    box = Gearbox(PELLOW_S, 99)
    assert box.gear == 5
    box.advance(0.01, -7)
    assert (box.gear, box.wanted) == (0, -1)
    box.advance(0.01, 3)  # changed on the way: the time goes on
    box.advance(PELLOW_S.shift_time, 3)
    assert box.gear == 3
    assert box.ratio == PELLOW_S.ratio(3)
    box.advance(0.01, 0)
    assert (box.gear, box.ratio) == (0, 0.0)
    box.advance(0.01, 1)
    box.advance(0.01, 0)
    box.advance(1.0, 0)
    assert box.gear == 0


def test_only_a_shift_up_cuts_the_engine() -> None:
    for wanted, cut in ((4, True), (2, False), (0, False)):
        box = Gearbox(PELLOW_S, 3)
        box.advance(0.01, wanted)
        assert box.cut is cut, wanted
        box.advance(1.0, wanted)
        assert not box.cut


def test_dry_friction_stops_and_never_turns_back() -> None:
    assert held(5.0, 2.0) == 3.0
    assert held(-5.0, 2.0) == -3.0
    assert held(1.5, 2.0) == held(-1.5, 2.0) == held(0.0, 2.0) == 0.0


@pytest.mark.parametrize("gear", [0, 2])
def test_the_differential_moves_its_torque_from_the_faster_wheel_to_the_slower(gear: int) -> None:
    """Torques by what they change: apart by preload, and by the locking share of the axle's torque beyond that."""
    spec = replace(PELLOW_R, preload=60.0, locking=0.25)
    train, wheels = Powertrain(spec, gear, 100.0), []
    for spin in (105.0, 95.0):  # in the air: no load, so no force of the road
        wheels.append(Wheel(spec.rear_tyre, 0.0, 0.0, spec.tyre_radius, spec.wheel_inertia, spin))
        wheels[-1].feel(DT, spin * spec.tyre_radius, 0.0, 0.0, 1.0)
    train.turn(DT, 1.0, 0.0, 0.0, *wheels)
    left, right = ((w.spin - spin) * spec.wheel_inertia / DT for w, spin in zip(wheels, (105.0, 95.0), strict=True))
    assert right - left == pytest.approx(60.0 + 0.25 * abs(left + right))
    assert left + right > 100.0 if gear else left + right == pytest.approx(0.0, abs=1e-9)


def test_the_differential_holds_two_wheels_of_nearly_one_speed_together() -> None:
    spec = replace(PELLOW_R, preload=60.0)
    train, wheels = Powertrain(spec, 0, 100.0), []
    for spin in (100.05, 99.95):
        wheels.append(Wheel(spec.rear_tyre, 0.0, 0.0, spec.tyre_radius, spec.wheel_inertia, spin))
        wheels[-1].feel(DT, spin * spec.tyre_radius, 0.0, 0.0, 1.0)
    train.turn(DT, 0.0, 0.0, 0.0, *wheels)
    assert wheels[0].spin == pytest.approx(wheels[1].spin) == pytest.approx(100.0)


def test_the_differential_lets_the_wheels_differ_only_so_far() -> None:
    """With the inner rear wheel nearly off the ground an open differential spins it; a locking one holds it."""
    speeds = {}
    for locking in (0.0, 0.6):
        spec = replace(PELLOW_R, roll_share=0.0, preload=0.0, locking=locking, lift_area=0.0)
        car = driven(Car(spec, speed=14.0, gear=1), 1.2, Controls(throttle=0.15, steer=0.1, gear=1))
        driven(car, 0.4, Controls(throttle=0.4, steer=0.1, gear=1))
        speeds[locking] = car.wheel_speed[2] - car.wheel_speed[3]
    assert speeds[0.0] > 1.0
    assert speeds[0.6] < 0.5 * speeds[0.0]


@BOTH
def test_fuel_burns_with_the_work_and_the_mass_falls_with_it(spec: CarSpec) -> None:
    full = Car(spec, speed=30.0, gear=3)
    mass = full.mass
    driven(full, 5.0, Controls(throttle=1.0, gear=3))
    part = driven(Car(spec, speed=30.0, gear=3), 5.0, Controls(throttle=0.3, gear=3))
    coasting = driven(Car(spec, speed=30.0, gear=3), 1.0, Controls(gear=3))
    assert spec.tank - full.fuel > 2.0 * (spec.tank - part.fuel) > 0.0
    assert coasting.fuel == spec.tank
    assert full.mass - mass == pytest.approx((full.fuel - spec.tank) * spec.fuel_density)


@BOTH
def test_fuel_for_each_kilowatt_hour_at_full_load(spec: CarSpec) -> None:
    # 250 to 330 g for each kWh at the crank (common practice). The work is what body, wheels and engine gained, with no
    # drag and no rolling resistance; the tyres' slip takes a per cent or two of it.
    car = Car(replace(spec, drag_area=0.0, rolling=0.0, lift_area=0.0), speed=30.0, gear=4)
    before, fuel = kinetic(car), car.fuel
    driven(car, 3.0, Controls(throttle=1.0, gear=4))
    grams = (fuel - car.fuel) * spec.fuel_density * 1000.0
    assert 270.0 < grams / ((kinetic(car) - before) / 3.6e6) < 330.0


@BOTH
def test_without_fuel_the_engine_gives_nothing(spec: CarSpec) -> None:
    car = Car(spec, speed=30.0, gear=3, fuel=0.0)
    driven(car, 1.0, Controls(throttle=1.0, gear=3))
    assert car.ax < 0.0
    driven(car, 60.0, Controls(throttle=1.0, gear=3))
    assert car.engine_speed < 0.9 * spec.engine.idle
    assert car.fuel == 0.0
