"""The curvature of a driven path: noise, direction, seams and poor channels (values: tests/physics/test_car.py)."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from coach.engine.curvature import path_curvature
from tests.engine.driving import loop, studied
from tests.engine.handmade import grid_lap

RADIUS = 50.0


def oval(noise: float = 0.0, ends_beside: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Left round a stadium: straights of 200 m along x at y = 0 and y = 100, half circles of 50 m between."""
    half = math.pi * RADIUS
    chance = random.Random(9)
    x, y = [], []
    length = 2 * (200.0 + half)
    count = round(length)
    for i in range(count + 1):
        s = i * length / count
        back, along = divmod(s % length, 200.0 + half)
        if along <= 200.0:
            px, py = along, 0.0
        else:
            turned = (along - 200.0) / RADIUS
            px, py = 200.0 + RADIUS * math.sin(turned), RADIUS - RADIUS * math.cos(turned)
        if back:
            px, py = 200.0 - px, 2 * RADIUS - py
        x.append(px + chance.gauss(0.0, noise))
        y.append(py + chance.gauss(0.0, noise) + ends_beside * i / count)
    return np.array(x), np.array(y)


def curvature_of(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    found = path_curvature(grid_lap(len(x) - 1, 30.0, x=x, y=y))
    assert found is not None
    return found


def test_straights_and_half_circles() -> None:
    found = curvature_of(*oval())
    assert np.abs(found[20:180]).max() < 1e-4
    assert found[225:335] == pytest.approx(0.02, rel=0.01)
    assert np.abs(found[380:535]).max() < 1e-4
    # a whole lap to the left turns by 2 pi
    assert float(found[:-1].sum()) * 714.159 / 714 == pytest.approx(2 * math.pi, rel=0.005)


def test_the_other_way_round_is_the_other_sign() -> None:
    x, y = oval()
    assert curvature_of(x, -y) == pytest.approx(-curvature_of(x, y), abs=1e-12)


def test_centimetres_of_noise_make_no_bend() -> None:
    found = curvature_of(*oval(noise=0.02))
    assert np.abs(found[20:180]).max() < 1 / 500
    assert found[225:335] == pytest.approx(0.02, abs=0.002)


@pytest.mark.parametrize("beside", [1.0, 5.0, -5.0])
def test_a_lap_that_ends_beside_where_it_began(beside: float) -> None:
    found = curvature_of(*oval(ends_beside=beside))
    # the last half circle ends at the line: it runs out over the smoothing's length, and nothing is added to it
    assert np.abs(found[12:180]).sum() < 0.05  # rad turned by either spreading of the step, a quarter of a bend's
    assert found[-12:].min() > 0.009 and found.max() < 0.0211


def test_the_closing_point_is_the_first() -> None:
    found = curvature_of(*oval())
    assert found[0] == found[-1]


def test_position_and_yaw_rate_and_lateral_acceleration_agree() -> None:
    lap = studied().reference
    ways = []
    for missing in ((), ("x", "y"), ("x", "y", "yaw_rate")):
        poorer = grid_lap(lap.length, lap.total)
        poorer.time = lap.time
        poorer.channels = {name: column for name, column in lap.channels.items() if name not in missing}
        found = path_curvature(poorer)
        assert found is not None
        ways.append(found)
    for other in ways[1:]:
        assert np.abs(other - ways[0]).max() < 0.004
        assert np.corrcoef(other, ways[0])[0, 1] > 0.999


def test_the_driven_line_bends_as_the_circuit_does() -> None:
    found = path_curvature(studied().reference)
    assert found is not None
    for arc in loop().corners:
        span = found[round(arc.begins) : round(arc.ends)]
        assert np.sign(span[np.abs(span).argmax()]) == arc.side
    x, y = studied().reference.get("x"), studied().reference.get("y")
    assert x is not None and y is not None
    turned = float((found[:-1] * np.hypot(np.diff(x), np.diff(y))).sum())
    assert turned == pytest.approx(-2 * math.pi, rel=0.01)  # clockwise, once round


def test_a_car_that_stands_makes_no_bend() -> None:
    # yaw rate over speed would be without bounds at rest
    speed, rate = np.full(301, 30.0), np.zeros(301)
    speed[100:110], rate[100:110] = 0.01, 0.002
    found = path_curvature(grid_lap(300, 20.0, speed=speed, yaw_rate=rate))
    assert found is not None
    assert np.abs(found).max() < 0.001


def test_without_channels_there_is_none() -> None:
    assert path_curvature(grid_lap(300, 10.0)) is None
    assert path_curvature(grid_lap(300, 10.0, speed=np.full(301, 30.0))) is None
    assert path_curvature(grid_lap(300, 10.0, yaw_rate=np.full(301, 0.1))) is None
