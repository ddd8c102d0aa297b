"""The car's motion as a whole: signs, energy, symmetry, steps, and whatever a driver may do to it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from feeds.car.car import Car, Controls
from feeds.car.spec import CARS, GRAVITY, PELLOW_R, PELLOW_S, CarSpec
from tests.physics.car_runs import DT, handbook_car, kinetic

BOTH = pytest.mark.parametrize("spec", CARS.values(), ids=CARS)


def driven(car: Car, seconds: float, controls: Controls, dt: float = DT, **more: float) -> Car:
    for _ in range(round(seconds / dt)):
        car.step(controls, dt, **more)
    return car


def state(car: Car) -> list[float]:
    """All that can be read of a car."""
    return [
        car.t, car.x, car.y, car.yaw, car.vx, car.vy, car.yaw_rate, car.ax, car.ay, car.speed, car.mass, car.fuel,
        car.engine_speed, float(car.gear), *car.wheel_speed, *car.wheel_load, *car.slip_ratio, *car.slip_angle,
        *car.tyre_pressure, *(temp for tread in car.tyre_temp for temp in tread),
    ]  # fmt: skip


@BOTH
def test_signs_of_a_left_turn(spec: CarSpec) -> None:
    # ISO 8855: x forward, y left, z up: a left turn has positive steer, yaw rate, lateral acceleration; its outer
    # wheels are the right ones.
    car = driven(Car(spec, speed=25.0, gear=3), 1.0, Controls(throttle=0.2, steer=0.02, gear=3))
    assert car.yaw_rate > 0.1
    assert car.ay > 2.0
    assert car.yaw > 0.0
    assert car.y > 0.0
    assert car.wheel_load[1] > car.wheel_load[0]
    assert car.wheel_load[3] > car.wheel_load[2]
    assert car.wheel_speed[1] > car.wheel_speed[0]
    assert max(car.slip_angle) < 0.0


@BOTH
def test_signs_of_reversing(spec: CarSpec) -> None:
    """Backward with the wheels to the left the tail goes to the left: the car turns to the right about a point to its
    left, at v tan(steer) / L.
    """
    car = driven(Car(spec, gear=-1), 4.0, Controls(throttle=0.3, steer=0.1, gear=-1))
    assert car.vx < -1.0
    assert car.yaw_rate == pytest.approx(car.vx * math.tan(0.1) / spec.wheelbase, rel=0.08)
    assert car.ay > 0.0
    assert car.wheel_load[1] > car.wheel_load[0]
    assert car.y > 0.0


@BOTH
def test_signs_along(spec: CarSpec) -> None:
    braking = driven(Car(spec, speed=40.0, gear=0), 0.5, Controls(brake=0.4, gear=0))
    assert braking.ax < -3.0
    assert sum(braking.wheel_load[:2]) > sum(Car(spec).wheel_load[:2]) + 500.0
    assert max(braking.slip_ratio) < 0.0
    pulling = driven(Car(spec, speed=15.0, gear=2), 0.5, Controls(throttle=0.6, gear=2))
    assert pulling.ax > 1.0
    assert pulling.x > 7.0
    driven_wheels = pulling.slip_ratio[2:] if spec.driven == "rear" else pulling.slip_ratio[:2]
    assert min(driven_wheels) > 0.0


@BOTH
def test_the_accelerations_are_those_of_the_path(spec: CarSpec) -> None:
    """ax, ay are the change of velocity over ground, seen in the body's axes; no part of gravity."""
    car, controls = Car(spec, yaw=0.7, speed=30.0, gear=3), Controls(throttle=0.1, steer=0.015, gear=3)
    driven(car, 1.0, controls, grade=0.03)
    places = []
    dt = 1e-3
    for i in range(41):
        if i == 20:
            ax, ay, yaw = car.ax, car.ay, car.yaw
        places.append((car.x, car.y))
        car.step(controls, dt, grade=0.03)
    # the second difference of the places, over 20 ms to each side
    pulls = [(places[0][i] - 2.0 * places[20][i] + places[40][i]) / (20 * dt) ** 2 for i in (0, 1)]
    assert pulls[0] * math.cos(yaw) + pulls[1] * math.sin(yaw) == pytest.approx(ax, abs=0.05)
    assert pulls[1] * math.cos(yaw) - pulls[0] * math.sin(yaw) == pytest.approx(ay, abs=0.05)


@BOTH
def test_left_and_right_are_mirror_images(spec: CarSpec) -> None:
    cars = [Car(spec, speed=30.0, gear=3), Car(spec, speed=30.0, gear=3)]
    for side, car in zip((1.0, -1.0), cars, strict=True):
        for i in range(900):
            car.step(Controls(0.3 * (i > 300), 0.3 * (i < 200), 0.0, side * 0.03 * math.sin(i / 60.0), 3), DT)
    left, right = cars
    assert (left.x, left.vx, left.ax) == pytest.approx((right.x, right.vx, right.ax), abs=1e-6)
    assert (left.y, left.yaw, left.ay) == pytest.approx((-right.y, -right.yaw, -right.ay), abs=1e-6)
    assert left.wheel_load == pytest.approx([right.wheel_load[i] for i in (1, 0, 3, 2)])
    assert left.tyre_temp[0] == pytest.approx(right.tyre_temp[1])


@BOTH
def test_the_same_drive_gives_the_same_floats(spec: CarSpec) -> None:
    ways = []
    for _ in range(2):
        car = Car(spec, speed=30.0, gear=4)
        for i in range(1500):
            car.step(Controls((i % 7) / 6.0, (i % 500 < 100) * 0.8, 0.0, 0.05 * math.sin(i / 40.0), 3 - i // 700), DT)
        ways.append(state(car))
    assert ways[0] == ways[1]


def hard_manoeuvre(spec: CarSpec, dt: float) -> Car:
    """Trail braking with a downshift, power, a change of side, and a stop with locked wheels."""
    car, controls = Car(spec, speed=38.0, gear=4), Controls(gear=4)
    for i in range(round(6.0 / dt)):
        t = i * dt
        controls.steer = 0.012 * min(t / 0.3, 1.0) if t < 2.5 else -0.01
        controls.brake = 0.25 if t < 1.0 else 0.0
        controls.throttle = 1.0 if 1.4 < t < 4.5 else 0.0
        controls.gear = 4 if t <= 0.5 else 3
        if t > 4.5:
            controls.brake, controls.gear = 1.0, 0
        car.step(controls, dt)
    return car


@BOTH
def test_the_step_matters_little(spec: CarSpec) -> None:
    coarse, fine = hard_manoeuvre(spec, 1.0 / 360.0), hard_manoeuvre(spec, 1.0 / 2000.0)
    assert coarse.x == pytest.approx(fine.x, abs=0.3)
    assert coarse.y == pytest.approx(fine.y, abs=0.7)
    assert coarse.speed == pytest.approx(fine.speed, abs=0.15)
    assert coarse.yaw == pytest.approx(fine.yaw, abs=0.03)
    assert coarse.fuel == pytest.approx(fine.fuel, abs=1e-3)


def test_a_long_step_is_done_in_pieces() -> None:
    controls = Controls(throttle=0.5, steer=0.02, gear=3)
    whole, pieces = Car(PELLOW_R, speed=30.0, gear=3), Car(PELLOW_R, speed=30.0, gear=3)
    driven(whole, 2.0, controls, 1.0 / 60.0)
    driven(pieces, 2.0, controls, 1.0 / 360.0)
    assert whole.t == pytest.approx(2.0)
    assert state(whole) == pytest.approx(state(pieces), rel=1e-6)


@pytest.mark.parametrize("dt", [0.0, -0.01, 1.5, math.nan, math.inf])
def test_a_step_that_cannot_be_is_refused(dt: float) -> None:
    with pytest.raises(ValueError, match="step"):
        Car(PELLOW_R).step(Controls(), dt)


@BOTH
def test_a_standing_car_stands(spec: CarSpec) -> None:
    car = driven(Car(spec, gear=0), 5.0, Controls(gear=0))
    assert math.hypot(car.x, car.y) < 1e-6
    assert 0.9 * spec.engine.idle < car.engine_speed < 1.1 * spec.engine.idle
    # on a hill of 10 % the brakes hold it, and without them it rolls back at g sin
    held = driven(Car(spec, gear=0), 5.0, Controls(brake=0.6, gear=0), grade=0.10)
    assert (held.x, held.vx, held.ax) == (0.0, 0.0, 0.0)
    rolling = driven(Car(replace(spec, rolling=0.0), gear=0), 1.0, Controls(gear=0), grade=0.10)
    wheels = 4.0 * spec.wheel_inertia / spec.tyre_radius**2
    assert rolling.vx == pytest.approx(-GRAVITY * math.sin(math.atan(0.10)) / (1.0 + wheels / rolling.mass), rel=0.01)


@BOTH
def test_drag_points_against_the_motion_over_ground(spec: CarSpec) -> None:
    # D = rho / 2 v^2 (Cd A) against the velocity (any text); a car on no grip at all feels nothing else.
    car = Car(replace(spec, rolling=0.0), speed=20.0, gear=0)
    car.vy = -15.0
    drag = 0.5 * 1.204 * spec.drag_area * 25.0**2 / car.mass
    car.step(Controls(gear=0), DT, grip=0.0)
    assert (car.ax, car.ay) == pytest.approx((-0.8 * drag, 0.6 * drag))


@BOTH
def test_rolling_resistance_is_a_share_of_all_that_the_wheels_carry(spec: CarSpec) -> None:
    car = Car(replace(spec, drag_area=0.0, lift_area=1.5), speed=50.0, gear=0)
    carried = car.mass * GRAVITY + 0.5 * 1.204 * 1.5 * 50.0**2
    car.step(Controls(gear=0), DT, grip=0.0)
    assert car.ax == pytest.approx(-spec.rolling * carried / car.mass)


@BOTH
def test_a_hill_pulls_by_its_sine(spec: CarSpec) -> None:
    car = Car(replace(spec, rolling=0.0, drag_area=0.0), speed=30.0, gear=0)
    car.step(Controls(gear=0), DT, grade=0.5, grip=0.0)
    assert car.ax == pytest.approx(-GRAVITY * math.sin(math.atan(0.5)))
    flat, up = Car(spec, speed=30.0, gear=0), Car(spec, speed=30.0, gear=0)
    driven(flat, 0.5, Controls(gear=0))
    driven(up, 0.5, Controls(gear=0), grade=0.05)
    wheels = 4.0 * spec.wheel_inertia / spec.tyre_radius**2
    expected = GRAVITY * math.sin(math.atan(0.05)) * flat.mass / (flat.mass + wheels)
    assert (flat.speed - up.speed) / 0.5 == pytest.approx(expected, rel=0.02)


@BOTH
def test_a_locked_car_slides_straight_on_and_stops(spec: CarSpec) -> None:
    """With all wheels locked steering does nothing; the tyre's sliding friction stops it."""
    car, controls = Car(spec, speed=20.0, gear=0), Controls(brake=1.0, gear=0)
    low = replace(spec, lift_area=0.0)
    car = Car(low, speed=20.0, gear=0)
    for _ in range(round(0.5 / DT)):
        car.step(controls, DT, grip=0.4)
    assert max(car.slip_ratio) == -1.0
    controls.steer = 0.3
    course = math.atan2(car.y, car.x)
    for _ in range(round(1.0 / DT)):
        car.step(controls, DT, grip=0.4)
    assert math.atan2(car.y, car.x) == pytest.approx(course, abs=0.01)
    for _ in range(round(8.0 / DT)):
        car.step(controls, DT, grip=0.4)
    assert car.speed < 1e-3


@BOTH
def test_a_spin_ends_at_rest(spec: CarSpec) -> None:
    """Thrown sideways and turning, with the brakes on, the car spins more than once, slides backward, and stops."""
    car = Car(spec, speed=35.0, gear=3)
    car.yaw_rate, car.vy = 4.0, 6.0
    backward = False
    for _ in range(round(12.0 / DT)):
        car.step(Controls(brake=0.5, steer=-0.3, clutch=1.0, gear=3), DT)
        backward = backward or car.vx < -2.0
    assert abs(car.yaw) > math.pi
    assert backward
    assert car.speed < 0.01
    assert abs(car.yaw_rate) < 0.01


@BOTH
def test_full_lock_at_a_walk(spec: CarSpec) -> None:
    """Full lock gives a circle of about L / tan(steer) for the rear axle's middle, and no shaking."""
    car = Car(spec, speed=3.0, gear=1)
    rates = []
    for i in range(round(6.0 / DT)):
        car.step(Controls(throttle=0.05, steer=1.5, gear=1), DT)
        if i > 5.0 / DT:
            rates.append(car.yaw_rate / car.speed)
    radius = math.hypot(spec.wheelbase / math.tan(spec.max_steer), spec.to_rear)
    assert 1.0 / rates[-1] == pytest.approx(radius, rel=0.15)
    assert max(rates) - min(rates) < 0.01 * max(rates)


@given(
    speed=st.floats(5.0, 60.0),
    sideways=st.floats(-8.0, 8.0),
    rate=st.floats(-3.0, 3.0),
    steer=st.floats(-0.5, 0.5),
    brake=st.floats(0.0, 1.0),
    clutch=st.floats(0.0, 1.0),
    gear=st.integers(-1, 6),
    spec=st.sampled_from([PELLOW_R, PELLOW_S]),
)
@settings(max_examples=60, deadline=None)
def test_without_fuel_the_energy_only_falls(
    speed: float, sideways: float, rate: float, steer: float, brake: float, clutch: float, gear: int, spec: CarSpec
) -> None:
    """Tyres, brakes, clutch and engine friction take energy and give none; a step's own error stays under 0.1 %."""
    car = Car(spec, speed=speed, gear=gear, fuel=0.0)
    car.vy, car.yaw_rate = sideways, rate
    controls = Controls(1.0, brake, clutch, steer, gear)
    before = kinetic(car)
    for _ in range(300):
        car.step(controls, DT)
        after = kinetic(car)
        assert after <= before * 1.001 + 0.5
        before = after


@given(
    controls=st.lists(
        st.builds(
            Controls,
            throttle=st.floats(-2.0, 2.0) | st.floats(allow_nan=False, allow_infinity=False),
            brake=st.floats(-2.0, 2.0) | st.floats(allow_nan=False, allow_infinity=False),
            clutch=st.floats(-2.0, 2.0),
            steer=st.floats(-1.0, 1.0) | st.floats(allow_nan=False, allow_infinity=False),
            gear=st.integers(-3, 9),
        ),
        min_size=1,
        max_size=8,
    ),
    dt=st.sampled_from([1 / 20, 1 / 360, 1 / 500, 1 / 2000]),
    speed=st.floats(-30.0, 95.0),
    sideways=st.floats(-40.0, 40.0),
    rate=st.floats(-10.0, 10.0),
    gear=st.integers(-1, 6),
    fuel=st.floats(0.0, 60.0),
    grade=st.floats(-0.5, 0.5) | st.floats(allow_nan=False, allow_infinity=False),
    grip=st.floats(0.0, 2.0),
    spec=st.sampled_from([PELLOW_R, PELLOW_S]),
)
@example(
    controls=[Controls(gear=0)], dt=1 / 20, speed=0.0, sideways=0.0, rate=0.0, gear=0, fuel=0.0, grade=1.65e304,
    grip=0.0, spec=PELLOW_R,
)  # fmt: skip
@settings(max_examples=80, deadline=None)
def test_whatever_the_driver_does_all_stays_finite(
    controls: list[Controls], dt: float, speed: float, sideways: float, rate: float, gear: int, fuel: float,
    grade: float, grip: float, spec: CarSpec,
) -> None:  # fmt: skip
    car = Car(spec, speed=speed, gear=gear, fuel=fuel)
    car.vy, car.yaw_rate = sideways, rate
    down = 0.5 * spec.air_density * spec.lift_area
    top = len(spec.gears)
    for one in controls:
        for _ in range(25):
            fuel, forward = car.fuel, car.vx
            car.step(one, dt, grade, grip)
            assert all(math.isfinite(value) for value in state(car))
            assert 0.0 <= car.fuel <= fuel
            assert -1 <= car.gear <= top
            assert car.engine_speed >= 0.0
            assert min(car.wheel_load) >= 0.0
            if dt < 0.003:  # one piece: the loads are those of the speed as the step began
                total = spec.mass_with(fuel) * GRAVITY + down * forward**2
                assert sum(car.wheel_load) == pytest.approx(total, rel=1e-9)
    assert math.hypot(car.speed, car.spec.wheelbase * car.yaw_rate) < 250.0


@given(
    steers=st.lists(st.floats(-0.4, 0.4), min_size=3, max_size=3),
    brakes=st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3),
    throttles=st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3),
    speed=st.floats(5.0, 50.0),
)
@settings(max_examples=40, deadline=None)
def test_no_manoeuvre_pulls_more_than_the_friction(
    steers: list[float], brakes: list[float], throttles: list[float], speed: float
) -> None:
    # Friction circle (Milliken & Milliken, Race Car Vehicle Dynamics, ch. 9) of a whole car: with a friction of 1 and
    # neither wings nor drag no acceleration passes 1 g.
    car = Car(handbook_car(), speed=speed, gear=3)
    for steer, brake, throttle in zip(steers, brakes, throttles, strict=True):
        for _ in range(120):
            car.step(Controls(throttle, brake, 0.0, steer, 3), DT)
            assert math.hypot(car.ax, car.ay) <= GRAVITY * (1.0 + 1e-9)
