"""The car's kinematics: gears, slip, yaw and curvature against published or closed values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coach.engine.curvature import path_curvature
from coach.engine.faults.base import Finding
from coach.engine.faults.gearbox import GearboxFamily
from coach.engine.gearing import engine_speed_in_gear
from tests.engine.handmade import bounds, corner_pass, geared, grid_lap, stretch

RADIUS = 0.33
"""m, rolling radius of the worked examples"""


def ratio(overall: float) -> float:
    """rev/min for each m/s."""
    return engine_speed_in_gear(1.0, RADIUS, overall)


def downshift(speed: float, limit: float | None, **more: object) -> list[Finding]:
    """The findings on a shift from fourth (1.30 x 3.9) to third (1.70 x 3.9) at `speed` m/s, limit in rev/min."""
    own = stretch(4.0, speed=speed, gear=lambda t: 4.0 if t < 2.0 else 3.0, throttle=0.0, brake=0.8, **more)
    gearing = geared({3: ratio(1.70 * 3.9), 4: ratio(1.30 * 3.9)}, limit)
    return GearboxFamily().judge(
        corner_pass(own, None, bounds(0.0, 3.5 * speed, 3.8 * speed, 4.0 * speed, 900.0), gearing)
    )


def test_road_speed_and_engine_speed() -> None:
    # v = 2 pi r n / (60 i), kinematics: 7,000 rev/min, r 0.33 m, 1.2 x 3.9 is 51.6886 m/s (186.08 km/h).
    assert engine_speed_in_gear(51.6886, RADIUS, 1.2 * 3.9) == pytest.approx(7000.0, abs=0.01)


def test_engine_speed_across_a_shift() -> None:
    # n2 = n1 i2 / i1: 6,000 rev/min, 1.30 to 1.70, is 7,846.2.
    speed = 6000.0 / ratio(1.30 * 3.9)
    assert ratio(1.70 * 3.9) * speed == pytest.approx(7846.2, abs=0.05)
    assert ratio(1.70 * 3.9) * 50.0 == pytest.approx(9592.7, abs=0.05)
    assert 8000.0 / ratio(1.70 * 3.9) == pytest.approx(41.698, abs=0.0005)


def test_the_gear_is_legal_below_the_closed_form_and_over_the_limit_above() -> None:
    # With a limit of 8,000 rev/min third is legal below 41.698 m/s; the ratio's own uncertainty is a per cent.
    assert downshift(41.69, 8000.0) == []
    found = downshift(41.698 * 1.012, 8000.0)
    assert [f.fault for f in found] == ["early_downshift"]
    assert found[0].unit == "rev/min"
    fast = downshift(50.0, 8000.0)[0]
    assert fast.size == pytest.approx(9592.7 - 8000.0, abs=1.0)
    assert fast.evidence["needed"] == pytest.approx(9592.7, abs=1.0)


def test_slip_of_the_driven_axle_is_the_published_one() -> None:
    # SAE J670: kappa = omega R / (v cos alpha) - 1: omega 120, R 0.33 m, v 50 m/s: -0.2080. Yaw, kinematics:
    # r = v / R, ay = v r; what the car turns more than that is the rear coming round.
    def wheels(t: float) -> float:
        return 50.0 if t < 2.05 else 120.0 * 0.33

    def yaw(t: float) -> float:
        return 0.1 if t < 2.05 else 0.3

    found = downshift(50.0, None, rear=wheels, front=50.0, yaw_rate=yaw, ay=0.1 * 50.0)
    assert [f.unit for f in found] == ["m/s"]
    assert found[0].evidence["axle"] == "rear"
    assert found[0].evidence["slip"] == pytest.approx(-0.2080, abs=1e-4)
    assert found[0].evidence["yaw"] == pytest.approx(0.2, abs=1e-6)
    assert found[0].size == pytest.approx(0.2080 * 50.0, abs=0.01)


@pytest.mark.parametrize(
    ("slip", "yaw", "why"),
    [
        (-0.2080, 0.1, "the axle slips but the car follows its path"),
        (-0.05, 0.3, "the car turns more but the axle rolls"),
        (0.0, 0.1, "nothing happens"),
    ],
)
def test_both_answers_are_needed(slip: float, yaw: float, why: str) -> None:
    found = downshift(
        50.0, None, rear=lambda t: 50.0 * (1.0 + (slip if t > 2.05 else 0.0)), front=50.0, yaw_rate=yaw, ay=0.1 * 50.0
    )
    assert found == [], why


def circle(left: bool, radius: float = 50.0) -> tuple[np.ndarray, np.ndarray]:
    turned = np.linspace(0.0, 2 * math.pi, round(2 * math.pi * radius) + 1)
    return radius * np.sin(turned), (radius if left else -radius) * (1 - np.cos(turned))


@pytest.mark.parametrize(("left", "sign"), [(True, 1.0), (False, -1.0)])
def test_curvature_of_a_circle(left: bool, sign: float) -> None:
    # A circle of 50 m radius has 0.02 1/m, positive to the left (ISO 8855; trajectory-planning-helpers 0.79,
    # `calc_head_curv_num`, gives 0.02 within 2.1e-7 for it). Smoothing a circle of radius R with a
    # Gaussian of 4 m makes it smaller by exp(-(4/R)^2 / 2): 0.3 %.
    x, y = circle(left)
    length = 2 * math.pi * 50.0
    curvature = path_curvature(grid_lap(length, 14.185, x=x, y=y))
    assert curvature is not None
    assert curvature == pytest.approx(sign * 0.02 * math.exp(0.5 * (4.0 / 50.0) ** 2), rel=1e-3)
    assert curvature == pytest.approx(sign * 0.02, rel=0.005)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_curvature_from_yaw_rate_and_from_lateral_acceleration(sign: float) -> None:
    # Kinematics: 30 m/s on 50 m is 0.6 rad/s (34.377 degrees/s) and 18 m/s^2, to the left positive (ISO 8855).
    assert math.degrees(30.0 / 50.0) == pytest.approx(34.377, abs=0.001)
    count = 315
    turning = grid_lap(count - 1, 10.0, speed=[30.0] * count, yaw_rate=[sign * 0.6] * count)
    pulling = grid_lap(count - 1, 10.0, speed=[30.0] * count, ay=[sign * 18.0] * count)
    for lap in (turning, pulling):
        curvature = path_curvature(lap)
        assert curvature is not None
        assert curvature == pytest.approx(sign * 0.02, rel=1e-6)
