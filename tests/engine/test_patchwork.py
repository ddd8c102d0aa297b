"""The patchwork lap: the best pieces of several laps, joined."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.engine.course import Course, read_course
from coach.engine.curvature import path_curvature
from coach.engine.lap import GridLap
from coach.engine.ledger import Bounds
from coach.engine.patchwork import JOIN, Patchwork, pieces
from coach.engine.study import study
from coach.vocabulary.events import CornerMark
from tests.engine.drives import told

LENGTH = 900.0


@cache
def course() -> Course:
    studied = study(told(2, 25.0), "plain")
    return read_course(studied.reference, studied.circuit)


def bound(braking: float, exit_: float, end: float) -> Bounds:
    middle = 0.5 * (braking + exit_)
    mark = CornerMark(1, "left", braking, middle, middle, exit_, (middle,))
    return Bounds(mark, braking, braking, braking, middle, middle, exit_, end)


BOUNDS = (bound(-50.0, 80.0, 300.0), bound(300.0, 420.0, 600.0), bound(600.0, 700.0, LENGTH - 50.0))
"""The first corner's braking lies before the line."""


def lap(number: int, *seconds: float, **channels: float) -> GridLap:
    """900 m in pieces from 0, 300, 600 and 850 m on, which take so many seconds each."""
    places = [0.0, 300.0, 600.0, 850.0, LENGTH]
    grid = np.linspace(0.0, LENGTH, 901)
    time = np.interp(grid, places, np.concatenate([[0.0], np.cumsum(seconds)]))
    columns = {"speed": np.gradient(grid, time), **{name: np.full(901, value) for name, value in channels.items()}}
    return GridLap(number, LENGTH, time, np.full(901, float(number)), columns)


def joined(*laps: GridLap, bounds: tuple[Bounds, ...] = BOUNDS) -> GridLap:
    patchwork = Patchwork()
    for one in laps:
        patchwork.add(one)
    found = patchwork.join(bounds)
    assert found is not None
    return found


def test_pieces_go_from_braking_to_braking_and_are_cut_at_the_line() -> None:
    assert pieces(BOUNDS, LENGTH) == [(0.0, 300.0), (300.0, 600.0), (600.0, 850.0), (850.0, LENGTH)]
    assert pieces((), LENGTH) == [(0.0, LENGTH)]
    assert pieces((bound(0.4, 80.0, 300.0), bound(LENGTH - 0.2, 950.0, 990.0)), LENGTH) == [(0.0, LENGTH)]


def test_the_best_of_each() -> None:
    found = joined(lap(3, 9.0, 7.5, 6.0, 1.0), lap(4, 8.6, 7.9, 6.0, 0.9), lap(5, 8.8, 8.0, 5.5, 1.2))
    assert found.total == pytest.approx(8.6 + 7.5 + 5.5 + 0.9, abs=1e-6)
    assert found.time[300] == pytest.approx(8.6, abs=1e-6)
    assert found.time[600] == pytest.approx(16.1, abs=1e-6)
    assert found.channels["speed"][150] == pytest.approx(300.0 / 8.6, rel=1e-6)
    assert found.channels["speed"][450] == pytest.approx(40.0)
    assert [found.lateral[i] for i in (100, 400, 700, 880)] == [4.0, 3.0, 5.0, 4.0]
    assert found.number == 4  # the quickest lap's


def test_one_lap_is_its_own_patchwork() -> None:
    plain = course().lap
    found = joined(plain, bounds=course().ledger.bounds)
    assert found.total == plain.total
    assert (found.time == plain.time).all()
    assert all((found.channels[name] == plain.channels[name]).all() for name in plain.channels)


def test_nothing_without_a_lap() -> None:
    assert Patchwork().join(BOUNDS) is None


def test_a_lap_measured_longer_counts_by_its_share_of_the_way() -> None:
    """A source without distance measures each lap anew: 0.2 % longer here."""
    plain = lap(1, 9.0, 8.0, 6.0, 1.0)
    longer = GridLap(2, LENGTH * 1.002, np.linspace(0.0, 24.1, 903), np.zeros(903), {"speed": np.full(903, 37.7)})
    found = joined(plain, longer)
    share = 24.1 / LENGTH
    assert found.total == pytest.approx(min(9.0, 300 * share) + min(8.0, 300 * share) + 6.0 + 1.0, abs=1e-3)
    assert found.length == LENGTH


def test_a_channel_that_one_of_the_laps_lacks_is_left_out() -> None:
    found = joined(lap(1, 9.0, 8.0, 6.0, 1.0, throttle=0.5), lap(2, 8.0, 9.0, 6.5, 1.0))
    assert "throttle" not in found.channels
    # A slower lap that holds no piece does not take a channel away.
    found = joined(lap(1, 8.0, 8.0, 6.0, 1.0, throttle=0.5), lap(2, 9.0, 9.0, 6.5, 1.0))
    assert (found.channels["throttle"] == 0.5).all()


def test_gears_have_nothing_in_between() -> None:
    found = joined(lap(1, 9.0, 8.0, 6.0, 1.0, gear=3.0), lap(2, 8.0, 9.0, 6.5, 1.0, gear=4.0))
    assert {*found.channels["gear"].tolist()} == {3.0, 4.0}


def test_the_line_goes_over_without_a_bend() -> None:
    """Two laps 2 m apart across the road: no bend is seen where one goes over into the other."""
    plain = course().lap
    apart = replace(plain, channels={**plain.channels, "x": plain.channels["x"] + 1.4, "y": plain.channels["y"] + 1.4})
    bounds = course().ledger.bounds
    cuts = pieces(bounds, plain.length)
    switch = [place for place, _ in cuts][len(cuts) // 2]
    slow = np.where(plain.distance < switch, 1.0, 1.02)
    quick_first = replace(plain, time=np.concatenate([[0.0], np.cumsum(np.diff(plain.time) * slow[1:])]))
    slow_first = replace(apart, time=np.concatenate([[0.0], np.cumsum(np.diff(plain.time) * (2.02 - slow[1:]))]))
    found = joined(quick_first, slow_first, bounds=bounds)
    middle = round(switch / plain.step)
    assert found.channels["x"][middle - 60] == pytest.approx(plain.channels["x"][middle - 60])
    assert found.channels["x"][middle + 60] == pytest.approx(plain.channels["x"][middle + 60] + 1.4)
    bent, before = path_curvature(found), path_curvature(plain)
    assert bent is not None and before is not None
    near = slice(middle - round(1.5 * JOIN), middle + round(1.5 * JOIN))
    assert float(np.abs(bent[near] - before[near]).max()) < 1 / 500
    assert len(read_course(found, course().circuit).circuit.marks) == len(course().circuit.marks)


piece = st.floats(5.0, 20.0).map(lambda seconds: round(seconds, 3))
many = st.lists(st.tuples(piece, piece, piece, piece), min_size=1, max_size=6)


@settings(max_examples=60, deadline=None)
@given(many)
def test_the_sum_of_the_best_is_no_slower_than_any_lap(laps: list[tuple[float, ...]]) -> None:
    # Theoretical best = the sum of the best sectors (Segers, SAE R-408, from memory).
    made = [lap(i, *seconds) for i, seconds in enumerate(laps)]
    found = joined(*made)
    assert found.total == pytest.approx(sum(min(column) for column in zip(*laps, strict=True)), abs=1e-5)
    assert found.total <= min(one.total for one in made) + 1e-5
    assert found.time[0] == 0.0 and (np.diff(found.time) > 0.0).all()


@settings(max_examples=40, deadline=None)
@given(many)
def test_laps_added_one_by_one_are_as_good_as_all_at_once(laps: list[tuple[float, ...]]) -> None:
    """What holds no best piece is forgotten, and does not come back: the time only falls."""
    patchwork, before = Patchwork(), float("inf")
    for number, seconds in enumerate(laps):
        patchwork.add(lap(number, *seconds))
        found = patchwork.join(BOUNDS)
        assert found is not None
        assert found.total <= before + 1e-6
        before = found.total
    assert before == pytest.approx(joined(*(lap(i, *s) for i, s in enumerate(laps))).total, abs=1e-5)
    assert len(patchwork._laps) <= 4
