"""One wheel's spin: the tyre's force acts on it and on the car alike, and it finds the road's speed as it should."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeds.car.spec import PELLOW_R
from feeds.car.wheel import CREEP, Wheel
from tests.physics.car_runs import DT, handbook_tyre

RADIUS, INERTIA, LOAD = 0.33, 1.1, 3000.0


def wheel(speed: float, slip: float) -> Wheel:
    """A wheel over ground that passes at `speed` m/s, `slip` faster than it."""
    return Wheel(PELLOW_R.front_tyre, 1.2, 0.8, RADIUS, INERTIA, speed * (1.0 + slip) / RADIUS)


@pytest.mark.parametrize(
    ("peripheral", "along", "slip"),
    [(0.0, 50.0, -1.0), (50.0, 50.0, 0.0), (60.0, 50.0, 0.2), (120 * 0.33, 50.0, -0.2080), (0.0, -50.0, 1.0)],
)
def test_slip_ratio(peripheral: float, along: float, slip: float) -> None:
    # SAE J670 (as read in a secondary source): kappa = omega Re / (v cos alpha) - 1; a locked wheel has -1. The speed
    # along the wheel's plane is v cos alpha, whatever goes across.
    for across in (0.0, 9.0):
        one = Wheel(PELLOW_R.front_tyre, 0.0, 0.0, RADIUS, INERTIA, peripheral / RADIUS)
        one.feel(DT, along, across, LOAD, 1.0)
        assert one.slip == pytest.approx(slip, abs=1e-4)


def test_slip_is_finite_at_a_standstill() -> None:
    for peripheral, slip in ((0.0, 0.0), (CREEP, 1.0)):
        one = Wheel(PELLOW_R.front_tyre, 0.0, 0.0, RADIUS, INERTIA, peripheral / RADIUS)
        one.feel(DT, 0.0, 0.0, LOAD, 1.0)
        assert one.slip == slip
        assert one.side == 0.0


@pytest.mark.parametrize("along", [10.0, -10.0])
def test_slip_angle_is_positive_to_the_left_and_its_force_to_the_right(along: float) -> None:
    # ISO 8855: y is to the left, and a tyre that moves to its left is pushed to the right, whichever way it rolls.
    for across in (1.0, -1.0):
        one = wheel(along, 0.0)
        one.feel(DT, along, across, LOAD, 1.0)
        assert one.sideways == pytest.approx(across / 10.0)
        assert one.side * across < 0.0


@given(speed=st.floats(-40.0, 80.0), slip=st.floats(-1.0, 1.0), across=st.floats(-5.0, 5.0))
def test_what_the_road_gives_the_wheel_it_takes_from_the_car(speed: float, slip: float, across: float) -> None:
    """I dw = -R Fx dt, Fx the force on the car; no more than the tyre has."""
    one = wheel(speed, slip)
    before = one.spin
    one.feel(DT, speed, across, LOAD, 1.0)
    one.turn(DT, 0.0)
    force = one.stiff * one.sliding()
    assert INERTIA * (one.spin - before) == pytest.approx(-RADIUS * force * DT, abs=1e-6)
    assert abs(force) <= one.most * (1.0 + 1e-9)


def test_a_free_wheel_finds_the_roads_speed() -> None:
    # I dw/dt = -R C (w R - v) / v, C the slope of the force over slip: a decay with I v / (R^2 C) seconds, closed form.
    tyre, speed, dt = handbook_tyre(1.0), 30.0, 1e-4
    one = Wheel(tyre, 0.0, 0.0, RADIUS, INERTIA, 1.001 * speed / RADIUS)
    slope = LOAD * tyre.shape * tyre.rise / tyre.peak_slip
    lasts = INERTIA * speed / (RADIUS**2 * slope)
    began = one.spin * RADIUS - speed
    for _ in range(round(lasts / dt)):
        one.feel(dt, speed, 0.0, LOAD, 1.0)
        one.turn(dt, 0.0)
    assert (one.spin * RADIUS - speed) / began == pytest.approx(math.exp(-round(lasts / dt) * dt / lasts), rel=0.03)


@pytest.mark.parametrize("speed", [30.0, -8.0])
def test_a_brake_that_is_more_than_the_road_locks_the_wheel(speed: float) -> None:
    """Nm by dry friction on the wheel: under what the road gives it slips, over that it locks, and never turns back."""
    most = PELLOW_R.front_tyre.mu_x * LOAD * RADIUS
    held, locked = wheel(speed, 0.0), wheel(speed, 0.0)
    for _ in range(360):
        for one, brake in ((held, 0.6 * most), (locked, 1.3 * most)):
            one.feel(DT, speed, 0.0, LOAD, 1.0)
            one.turn(DT, brake)
            assert one.spin * speed >= 0.0
    assert locked.spin == 0.0
    assert abs(held.stiff * held.sliding()) * RADIUS == pytest.approx(0.6 * most, rel=0.01)
