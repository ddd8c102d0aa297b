"""The moment of a line crossing: exact where the acceleration is constant."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from coach.engine.crossing import crossing_part

SPEED = st.floats(0.0, 120.0)


def test_at_constant_speed_the_part_is_the_share_of_the_way() -> None:
    assert crossing_part(0.3, 0.7, 40.0, 40.0) == pytest.approx(0.3)


def test_from_rest_the_way_goes_with_the_square_of_time() -> None:
    # s = a t^2 / 2, so half the time is a quarter of the way
    assert crossing_part(0.25, 0.75, 0.0, 2.0) == pytest.approx(0.5)


def test_to_rest_the_last_quarter_of_the_way_takes_half_the_time() -> None:
    assert crossing_part(0.75, 0.25, 2.0, 0.0) == pytest.approx(0.5)


@settings(deadline=None, max_examples=300)
@given(before=SPEED, after=SPEED, share=st.floats(0.0, 1.0), step=st.floats(0.002, 1.0))
def test_against_a_root_finder(before: float, after: float, share: float, step: float) -> None:
    way = 0.5 * (before + after) * step
    if way < 1e-3:
        return  # hardly moves: the line is anywhere in the step
    pull = (after - before) / step

    def short(t: float) -> float:
        return before * t + 0.5 * pull * t * t - share * way

    exact = brentq(short, 0.0, step, xtol=1e-13) if short(step) > 0.0 else step
    part = crossing_part(share * way, (1.0 - share) * way, before, after)
    # what matters is the place at that time: near rest a root finder's time is as uncertain as ours
    assert abs(short(part * step)) < 1e-7
    assert part * step == pytest.approx(exact, abs=1e-6) or min(before, after) < 0.5


@settings(deadline=None, max_examples=100)
@given(SPEED, SPEED, st.floats(0.001, 100.0))
def test_it_lies_within_the_step_and_goes_with_the_distance(before: float, after: float, way: float) -> None:
    parts = [crossing_part(way * i / 20, way * (20 - i) / 20, before, after) for i in range(21)]
    assert parts[0] == 0.0 and parts[-1] == pytest.approx(1.0)
    assert all(a <= b + 1e-12 for a, b in pairwise(parts))


@pytest.mark.parametrize("speeds", [(None, 30.0), (30.0, None), (None, None), (-3.0, 30.0), (30.0, -3.0), (0.0, 0.0)])
def test_without_usable_speeds_constant_speed_is_assumed(speeds: tuple[float | None, float | None]) -> None:
    assert crossing_part(0.2, 0.6, *speeds) == pytest.approx(0.25)


def test_a_step_without_way_crosses_at_its_beginning() -> None:
    assert crossing_part(0.0, 0.0, 10.0, 10.0) == 0.0


@pytest.mark.parametrize("factor", [0.97, 1.0, 1.04])
def test_only_the_ratio_of_the_distances_matters(factor: float) -> None:
    """A distance along the centre line is a little longer or shorter than the way driven."""
    assert crossing_part(0.4 * factor, 0.8 * factor, 30.0, 29.0) == pytest.approx(crossing_part(0.4, 0.8, 30.0, 29.0))
