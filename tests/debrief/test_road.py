"""Metres to pixels, and lines beside the road."""

from __future__ import annotations

from itertools import pairwise
from math import cos, hypot, pi, sin

import pytest
from shapely.geometry import LineString, Point  # type: ignore[import-untyped]

from coach.debrief.road import Ground, Piece, beside, dotted, place_on, tangent, thinned


def test_a_line_beside_is_as_far_off_as_asked_for_and_to_the_left() -> None:
    """Against shapely's distance. In px y points down: driving to the right, left is up."""
    line = [(float(x), 50.0 + 20.0 * sin(x / 60.0)) for x in range(0, 400, 2)]
    for offset in (12.0, -12.0):
        moved = beside(line, offset)
        assert [LineString(line).distance(Point(at)) for at in moved] == pytest.approx([12.0] * len(moved), abs=0.1)
        assert (moved[0][1] < line[0][1]) == (offset > 0.0)


def test_inside_a_bend_that_is_tighter_than_the_offset_it_does_not_turn_back() -> None:
    bend = [(10.0 * cos(a / 20), -10.0 * sin(a / 20)) for a in range(0, int(pi * 20))]
    approach = [(10.0, 60.0 - y) for y in range(0, 60, 2)]
    line = [*approach, *bend, *((-10.0, float(y)) for y in range(2, 60, 2))]
    moved = beside(line, 25.0)
    for index in range(1, len(moved)):
        along = tangent(moved, index)
        assert hypot(*along) == pytest.approx(1.0)
    assert len(moved) < len(line)


def test_the_lap_fits_its_box() -> None:
    places = [float(n) for n in range(100)]
    outline = Piece(places, [n * 30.0 for n in places], [(n % 7) * 10.0 for n in places])
    ground = Ground(outline, 500.0, 300.0, 40.0, 20.0)
    (line,) = ground.points(outline)
    assert min(x for x, _ in line) == pytest.approx(40.0, abs=0.5)
    assert max(x for x, _ in line) == pytest.approx(540.0, abs=0.5)
    assert min(y for _, y in line) >= 20.0 - 1e-6 and max(y for _, y in line) <= 20.0 + ground.height + 1e-6


def test_rows_without_a_position_are_left_out() -> None:
    nan = float("nan")
    outline = Piece([0.0, 1.0, 2.0, 3.0], [0.0, nan, 200.0, 300.0], [0.0, 5.0, nan, 0.0])
    (line,) = Ground(outline, 300.0, 100.0, 0.0, 0.0).points(outline)
    assert [x for x, _ in line] == pytest.approx([0.0, 300.0]) and line[0][1] == line[1][1]


def test_a_place_between_two_rows_is_between_their_positions() -> None:
    outline = Piece([0.0, 100.0, 200.0], [0.0, 100.0, 100.0], [0.0, 0.0, 50.0])
    assert place_on(outline, 150.0) == (100.0, 25.0)
    assert place_on(outline, 250.0) is None
    nan = float("nan")
    assert place_on(Piece([0.0, 100.0], [nan, nan], [nan, nan]), 30.0) == (30.0, 0.0)


def test_thinned_keeps_both_ends() -> None:
    line = [(x / 10.0, 0.0) for x in range(101)]
    kept = thinned(line)
    assert (kept[0], kept[-1]) == (line[0], line[-1]) and len(kept) <= 7


def test_dots_are_near_each_other_and_end_with_the_line() -> None:
    dots = list(dotted([(0.0, 0.0), (100.0, 0.0), (100.0, 3.0)]))
    assert (dots[0], dots[-1]) == ((0.0, 0.0), (100.0, 3.0))
    assert max(hypot(a[0] - b[0], a[1] - b[1]) for a, b in pairwise(dots)) <= 6.0
