"""The car's lateral and yaw derivatives against the linear single-track model, where its tyres are linear."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeds.car.car import Car, Controls
from feeds.car.spec import GRAVITY, CarSpec
from tests.physics.car_runs import handbook_car, handbook_tyre

MASS, TO_FRONT, TO_REAR, HEIGHT, YAW_INERTIA = 1093.2952334674046, 1.1561957064, 1.4227170936, 0.61373004, 1791.59953
"""commonroad-vehicle-models 3.0.2, vehicle 2: m, a, b, h_s, I_z"""
STIFFNESS = 21.92
"""N/rad of cornering stiffness for each N of load: the same library's tyre, -p_ky1"""
MOMENT = 1e-6
"""s, in which the derivatives are read"""


class State(NamedTuple):
    """Speed m/s, slip angle of the body rad, yaw rate rad/s, steer rad."""

    speed: float
    slip: float
    rate: float
    steer: float


def single_track() -> CarSpec:
    """That car with no track, so that wheels differ only by axle, and so much friction that tyres are linear."""
    mu = 20.0
    tyre = handbook_tyre(mu)
    peak = mu * tyre.shape * tyre.rise / STIFFNESS
    tyre = replace(
        tyre, peak_slip=peak, peak_angle=math.atan(peak)
    )  # the model knows no slip along: a soft tyre has little
    wheelbase = TO_FRONT + TO_REAR
    return handbook_car(
        mu, mass=MASS, wheelbase=wheelbase, front_share=TO_REAR / wheelbase, cg_height=HEIGHT,
        yaw_inertia=YAW_INERTIA, front_tyre=tyre, rear_tyre=tyre, front_track=1e-9, rear_track=1e-9,
    )  # fmt: skip


def derivatives(car: Car, controls: Controls, state: State) -> tuple[float, float]:
    """rad/s^2 of yaw and rad/s of slip angle, of `car` in `state`."""
    car.vx, car.vy = state.speed * math.cos(state.slip), state.speed * math.sin(state.slip)
    car.yaw_rate, controls.steer = state.rate, state.steer
    car.step(controls, MOMENT)
    return (car.yaw_rate - state.rate) / MOMENT, (math.atan2(car.vy, car.vx) - state.slip) / MOMENT


def expected(state: State) -> tuple[float, float]:
    """The same by the linear model, at constant speed (any text on vehicle dynamics)."""
    weight, wheelbase = MASS * GRAVITY, TO_FRONT + TO_REAR
    front = -STIFFNESS * weight * TO_REAR / wheelbase * (state.slip + TO_FRONT * state.rate / state.speed - state.steer)
    rear = -STIFFNESS * weight * TO_FRONT / wheelbase * (state.slip - TO_REAR * state.rate / state.speed)
    return (TO_FRONT * front - TO_REAR * rear) / YAW_INERTIA, (front + rear) / (MASS * state.speed) - state.rate


@given(speed=st.floats(8.0, 60.0), slip=st.floats(-0.02, 0.02), rate=st.floats(-0.3, 0.3), steer=st.floats(-0.03, 0.03))
def test_small_angles_give_the_linear_model(speed: float, slip: float, rate: float, steer: float) -> None:
    state = State(speed, slip, rate, steer)
    yaw, turn = derivatives(Car(single_track(), speed=speed, gear=0), Controls(gear=0), state)
    linear_yaw, linear_turn = expected(state)
    # 1 % of what the greatest of these angles does
    most = STIFFNESS * GRAVITY * 0.03
    assert yaw == pytest.approx(linear_yaw, abs=0.01 * most * MASS * TO_FRONT / YAW_INERTIA)
    assert turn == pytest.approx(linear_turn, abs=0.01 * most / speed)


def test_the_published_derivatives_under_power() -> None:
    # commonroad-vehicle-models 3.0.2, `unit_tests/test_derivatives.py`, test_st: 15.7216 m/s gaining 5.35368 m/s^2,
    # steer 0.0197545, yaw rate 0.0529001, slip angle 0.00330122: yaw 0.643559 rad/s^2, slip angle 0.0313298 rad/s.
    state = State(15.7216236334290116, 0.0033012170610298, 0.0529001056654038, 0.0197545248559617)
    pull = 5.3536773276413925
    car, controls = Car(single_track(), speed=8.0, gear=2), Controls(throttle=0.5, gear=2)
    while car.speed < state.speed:
        controls.throttle += 0.01 * (pull - car.ax)
        car.step(controls, 1.0 / 2000.0)
    assert car.ax == pytest.approx(pull, rel=0.001)
    yaw, turn = derivatives(car, controls, state)
    assert yaw == pytest.approx(0.6435589397748606, rel=0.01)
    # the linear model leaves out that the pull along the car turns a path that is askew to it
    assert turn + pull * state.slip / state.speed == pytest.approx(0.0313297971641291, rel=0.02)
