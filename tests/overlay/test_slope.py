"""The slope of the delta over the last second."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.overlay.slope import Slope


def after(points: list[tuple[float, float]]) -> float:
    slope = Slope()
    found = 0.0
    for t, delta in points:
        found = slope.add(t, delta)
    return found


@given(st.floats(-2.0, 2.0), st.floats(-3.0, 3.0), st.sampled_from([0.05, 0.1, 0.25]))
def test_a_straight_line_has_its_own_slope(rate: float, start: float, step: float) -> None:
    points = [(100.0 + index * step, start + rate * index * step) for index in range(30)]
    assert after(points) == pytest.approx(rate, abs=1e-9)


def test_only_the_last_second_counts() -> None:
    lost = [(index * 0.1, 0.5 * index) for index in range(30)]
    gained = [(3.0 + index * 0.1, 10.0 - 0.02 * index) for index in range(12)]
    assert after([*lost, *gained]) == pytest.approx(-0.2)


def test_one_odd_value_does_not_turn_it() -> None:
    points = [(index * 0.1, -0.1 * index * 0.1) for index in range(11)]
    points[5] = (0.5, 0.02)
    assert after(points) < 0.0


def test_too_little_is_no_slope() -> None:
    assert after([(0.0, 0.0)]) == 0.0
    assert after([(0.0, 0.0), (0.1, 0.5), (0.2, 1.0), (0.3, 1.5)]) == 0.0
    assert after([(0.0, 0.0), (0.5, 0.5)]) == pytest.approx(1.0)


def test_a_clock_that_goes_back_begins_anew() -> None:
    slope = Slope()
    for index in range(20):
        slope.add(50.0 + index * 0.1, index * 0.1)
    assert slope.add(20.0, 5.0) == 0.0
    assert slope.add(20.0, 6.0) == 0.0
    assert slope.add(20.5, 5.9) == pytest.approx(-0.2)


def test_cleared_it_knows_nothing() -> None:
    slope = Slope()
    for index in range(20):
        slope.add(index * 0.1, index * 0.1)
    slope.clear()
    assert slope.add(2.0, 2.0) == 0.0
