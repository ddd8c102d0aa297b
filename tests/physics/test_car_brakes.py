"""The brakes: how much, shared how, and how the body answers them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from feeds.car.car import Car, Controls
from feeds.car.spec import CARS, GRAVITY, CarSpec
from tests.physics.car_runs import DT, handbook_car
from tests.physics.car_runs import braked as slowed

BOTH = pytest.mark.parametrize("spec", CARS.values(), ids=CARS)


def braked(spec: CarSpec, pedal: float, seconds: float, speed: float = 30.0, dt: float = DT) -> Car:
    car = Car(spec, speed=speed, gear=0)
    for _ in range(round(seconds / dt)):
        car.step(Controls(brake=pedal, gear=0), dt)
    return car


@pytest.mark.parametrize("bias", [0.5, 0.8])
def test_the_pedal_asks_for_a_share_of_the_force_and_the_bias_shares_it(bias: float) -> None:
    # Newton: the wheels, which slow down too, count as mass. Fx is C kappa Fz at small slips, the same C all round.
    spec = handbook_car(1.5, brake_force=12_000.0, brake_bias=bias)
    car = braked(spec, 0.1, 0.4, dt=1.0 / 5000.0)
    turning = spec.wheel_inertia / spec.tyre_radius**2
    assert car.ax == pytest.approx(-0.1 * 12_000.0 / (spec.mass + 4.0 * turning), rel=2e-3)
    front, rear = (car.slip_ratio[i] * 2.0 * car.wheel_load[i] for i in (0, 2))
    assert car.slip_ratio[0] == pytest.approx(car.slip_ratio[1])
    slowed = -2.0 * turning * car.ax
    braking = 0.1 * 12_000.0
    assert front / rear == pytest.approx((bias * braking - slowed) / ((1.0 - bias) * braking - slowed), rel=0.02)


@BOTH
def test_a_stop_uses_the_front_axle_most_and_the_pedal_can_lock_it(spec: CarSpec) -> None:
    car = braked(spec, 0.3, 0.8)
    assert min(car.slip_ratio[:2]) < min(car.slip_ratio[2:]) < 0.0
    assert braked(spec, 1.0, 0.8, speed=20.0).wheel_speed[0] == 0.0


@BOTH
def test_the_rear_uses_less_of_its_friction_than_the_front_and_the_whole_enough(spec: CarSpec) -> None:
    """UN Regulation 13-H, annex 5, for cars without an anti-lock system (from memory).

    Adhesion utilised by an axle: its braking force by its load. From 0.15 to 0.8 g the rear axle's is not above the
    front's; and for friction k from 0.2 to 0.8 the first axle to reach it does so at z >= 0.1 + 0.7 (k - 0.2) g.
    """
    for tenths in range(2, 9):
        z = tenths / 10.0
        car = slowed(spec, z * GRAVITY)
        force = -car.mass * car.ax - 0.5 * spec.air_density * spec.drag_area * car.speed**2
        front = spec.brake_bias * force / sum(car.wheel_load[:2])
        rear = (1.0 - spec.brake_bias) * force / sum(car.wheel_load[2:])
        assert rear < front
        assert z >= 0.1 + 0.7 * (min(front, 0.8) - 0.2)
        assert max(car.slip_ratio[2:]) > max(car.slip_ratio[:2])


@BOTH
def test_the_body_takes_its_attitude_with_a_lag(spec: CarSpec) -> None:
    # First-order lag: after its time constant, 1 - 1/e of the change is there (closed form).
    still = sum(Car(spec, speed=30.0, gear=0).wheel_load[:2])
    loads = [sum(braked(spec, 0.2, seconds).wheel_load[:2]) - still for seconds in (spec.settle, 0.6)]
    # the tyres' force itself takes some 10 ms to come
    assert 0.50 < loads[0] / loads[1] < 1.0 - 1.0 / math.e


@pytest.mark.parametrize("grade", [0.15, -0.15])
@BOTH
def test_on_a_hill_the_brakes_bring_the_car_to_a_stand_and_hold_it(spec: CarSpec, grade: float) -> None:
    car = Car(spec, speed=5.0, gear=0)
    for _ in range(round(5.0 / DT)):
        car.step(Controls(brake=0.5, gear=0), DT, grade)
    assert car.wheel_speed == [0.0] * 4
    assert [car.vx, car.vy, car.yaw_rate, car.ax, car.ay] == pytest.approx([0.0] * 5, abs=1e-12)
    # what holds the car acts on the ground, and moves load to the lower axle: m g sin h / L (Gillespie, ch. 1)
    moved = car.mass * GRAVITY * math.sin(math.atan(grade)) * spec.cg_height / spec.wheelbase
    assert sum(car.wheel_load[:2]) == pytest.approx(sum(Car(spec, gear=0).wheel_load[:2]) - moved, rel=2e-3)


@BOTH
def test_brakes_hold_on_a_hill_as_long_as_their_force_is_more_than_the_weight_along_it(spec: CarSpec) -> None:
    # Coulomb friction: the brakes carry up to pedal x brake_force; m g sin(hill) (any text) is what they have to carry.
    spec = replace(spec, rolling=0.0)
    weight = Car(spec).mass * GRAVITY * math.sin(math.atan(0.2))
    for share, stands in ((1.05, True), (0.9, False)):
        car, pedal, speeds = Car(spec, gear=0), share * weight / spec.brake_force, []
        for _ in range(2):
            for _ in range(round(1.0 / DT)):
                car.step(Controls(brake=pedal, gear=0), DT, 0.2)
            speeds.append(car.vx)
        assert (abs(car.vx) < 1e-12) == stands
    turning = 4.0 * spec.wheel_inertia / spec.tyre_radius**2
    assert speeds[1] - speeds[0] == pytest.approx(-0.1 * weight / (car.mass + turning), rel=0.01)


@BOTH
def test_tyres_hold_a_turned_car_that_brakes_to_a_stand_and_not_on_ice(spec: CarSpec) -> None:
    """The step that stops the car takes no more from the tyres than their friction; on ice the hill has the car."""
    car = Car(spec, speed=4.0, gear=0)
    most = 0.0
    for _ in range(round(4.0 / DT)):
        car.step(Controls(brake=1.0, steer=0.3, gear=0), DT, -0.05)
        most = max(most, math.hypot(car.ax - GRAVITY * math.sin(math.atan(0.05)), car.ay))
    assert [car.vx, car.vy, car.yaw_rate] == pytest.approx([0.0] * 3, abs=1e-12)
    friction = max(spec.front_tyre.mu_x, spec.rear_tyre.mu_x) * (1.0 + spec.front_tyre.sensitivity)
    assert most < friction * GRAVITY
    for _ in range(round(1.0 / DT)):
        car.step(Controls(brake=1.0, gear=0), DT, -0.05, grip=0.02)
    assert car.vx > 0.1
