"""The road that a car has shown."""

from __future__ import annotations

from math import cos, isnan, sin, tau

import numpy as np
import pytest

from coach.engine.conduct import CAR_WIDTH
from coach.engine.detectors import Detectors
from coach.engine.lap import GridLap
from coach.engine.road import ENOUGH, LEFT, RIGHT, Road, offset_from
from coach.vocabulary.events import Detector
from coach.vocabulary.sample import Sample
from tests.engine.handmade import grid_lap, stretch

ROUND = 100.0
LENGTH = 628.0


def ring(radius: float, length: float = LENGTH) -> GridLap:
    """A lap to the left on a circle, so that a greater radius is a path further right."""
    angle = np.linspace(0.0, tau, round(length) + 1)
    return grid_lap(length, 30.0, x=radius * np.cos(angle), y=radius * np.sin(angle))


def at(radius: float, distance: float) -> tuple[float, float, float]:
    return distance, radius * cos(tau * distance / LENGTH), radius * sin(tau * distance / LENGTH)


@pytest.mark.parametrize("distance", [-200.0, 0.0, 0.3, 157.2, 627.9, 700.0])
def test_the_gap_is_to_the_outermost_clean_lap(distance: float) -> None:
    road = Road()
    for radius, length in ((ROUND, 628.0), (ROUND + 3.0, 630.0), (ROUND - 2.0, 626.0)):
        assert not road.known
        road.learn(ring(radius, length))
    assert road.known
    for radius in (99.0, 100.0, 104.0):
        assert road.gap(RIGHT, *at(radius, distance)) == pytest.approx(ROUND + 3.0 - radius, abs=0.02)
        assert road.gap(LEFT, *at(radius, distance)) == pytest.approx(radius - (ROUND - 2.0), abs=0.02)


def test_a_lap_without_positions_shows_nothing() -> None:
    road = Road()
    for _ in range(ENOUGH):
        road.learn(grid_lap(LENGTH, 30.0, speed=[20.0] * 629))
    assert not road.known


def test_the_car_s_width_and_the_greatest_turning() -> None:
    road = Road()
    assert road.width == CAR_WIDTH == 1.9
    for i in range(200):
        road.watch(Sample(0.02 * i, ay=-9.0, car_width=2.04))
    assert road.width == 2.04 and road.lateral == pytest.approx(9.0, abs=0.01)
    road.watch(Sample(4.0, ay=60.0))
    assert road.lateral < 20.0, "a blow is no cornering"


def test_offset_from_a_path_is_positive_to_the_left() -> None:
    path = stretch(10.0, x=lambda t: 12.0 * t, y=lambda t: 16.0 * t)  # 20 m/s to the upper right
    assert offset_from(path, 100.0, 60.0 - 1.6, 80.0 + 1.2) == pytest.approx(2.0, abs=1e-9)
    assert offset_from(path, 100.0, 60.0 + 0.8, 80.0 - 0.6) == pytest.approx(-1.0, abs=1e-9)
    assert isnan(offset_from(path, 500.0, 0.0, 0.0))


def lacking(**sent: float) -> dict[str, str | None]:
    detectors, events = Detectors(), []
    for i in range(200):
        events += detectors.watch(Sample(0.02 * i, **sent), 1)
    return {e.name: e.lacks for e in events if isinstance(e, Detector)}


def test_edges_or_positions_are_needed_and_it_is_said_so() -> None:
    expected = "edge_left and edge_right, or x and y"
    assert lacking(speed=20.0)["missed_apex"] == lacking(edge_left=3.0)["missed_apex"] == expected
    for sent in ({"edge_left": 3.0, "edge_right": 4.0}, {"x": 1.0, "y": 2.0}):
        assert "missed_apex" not in lacking(**sent)
        assert lacking(**sent)["late_turn_in"] == "yaw_rate, or ay"
    assert "late_turn_in" not in lacking(x=1.0, y=2.0, yaw_rate=0.1)
