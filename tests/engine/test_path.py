"""Projection onto a closed path, against an independent library and on paths that pass near themselves."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from numpy.typing import NDArray

from coach.engine.path import ClosedPath, StartLine

Floats = NDArray[np.float64]


def along(corners: list[tuple[float, float]], step: float = 1.0) -> tuple[Floats, Floats, float]:
    """Points at an even distance along a closed polygon whose sides are multiples of `step`; its length."""
    x: list[float] = []
    y: list[float] = []
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        count = round(math.hypot(bx - ax, by - ay) / step)
        x += [ax + (bx - ax) * i / count for i in range(count)]
        y += [ay + (by - ay) * i / count for i in range(count)]
    return np.array(x), np.array(y), len(x) * step


RECTANGLE = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)]


def path(corners: list[tuple[float, float]]) -> ClosedPath:
    x, y, length = along(corners)
    return ClosedPath(x.tolist(), y.tolist(), length)


@pytest.mark.parametrize(
    ("place", "station", "offset"),
    # the first two are shapely's own answers for the open L (0,0)-(100,0)-(100,50)
    [((30.4, 2.5), 30.4, 2.5), ((103.0, 20.0), 120.0, 3.0), ((-2.0, 10.0), 290.0, 2.0), ((50.0, 51.0), 200.0, 1.0)],
)
def test_station_and_offset(place: tuple[float, float], station: float, offset: float) -> None:
    closed = path(RECTANGLE)
    assert closed.locate(*place) == pytest.approx(station, abs=1e-9)
    assert closed.offset == pytest.approx(offset, abs=1e-9)


def test_against_an_independent_library() -> None:
    import shapely

    x, y, length = along([(0.0, 0.0), (300.0, 0.0), (300.0, 160.0), (180.0, 160.0), (180.0, 80.0), (0.0, 80.0)])
    ring = shapely.LineString([*zip(x, y, strict=True), (x[0], y[0])])
    closed = ClosedPath(x.tolist(), y.tolist(), length)
    chance = random.Random(3)
    for _ in range(400):
        on = ring.interpolate(chance.uniform(0.0, length))
        point = shapely.Point(on.x + chance.gauss(0.0, 4.0), on.y + chance.gauss(0.0, 4.0))
        closed.forget()
        station = closed.locate(point.x, point.y)
        assert station is not None
        back = ring.interpolate(station)
        # two places may be equally near at a corner's bisector: what must agree is how near
        assert closed.offset == pytest.approx(ring.distance(point), abs=1e-9)
        assert math.hypot(back.x - point.x, back.y - point.y) == pytest.approx(closed.offset, abs=1e-9)


def test_the_line_wraps() -> None:
    closed = path(RECTANGLE)
    stations = [closed.locate(0.0, 0.3 - 0.1 * i) or 0.0 for i in range(3)]
    assert stations == pytest.approx([299.7, 299.8, 299.9])
    assert closed.locate(0.0, 0.0) == pytest.approx(0.0, abs=1e-9)
    assert closed.locate(0.2, 0.0) == pytest.approx(0.2)
    assert closed.locate(0.0, 0.2) == pytest.approx(299.8), "and back over it"


def test_a_place_far_from_the_path_is_none_and_finds_back() -> None:
    closed = path(RECTANGLE)
    assert closed.locate(50.0, -61.0) is None
    assert closed.locate(50.0, -59.0) == pytest.approx(50.0)
    assert closed.locate(1e12, -1e12) is None
    assert closed.locate(1e200, 1e200) is None
    assert closed.locate(20.0, 49.0) == pytest.approx(230.0), "far away on the path, and found"


def eight(size: float = 200.0) -> tuple[Floats, Floats, float, Floats]:
    """A figure of eight that crosses itself at the origin; points about 1 m apart, evenly along it."""
    turn = np.linspace(0.0, math.tau, 200_001)
    x, y = size * np.sin(turn), size * np.sin(turn) * np.cos(turn)
    way = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    length = float(way[-1])
    station = np.linspace(0.0, length, round(length) + 1)
    return np.interp(station, way, x)[:-1], np.interp(station, way, y)[:-1], length, station[:-1]


@pytest.mark.parametrize("aside", [-4.0, 0.0, 4.0])
@pytest.mark.parametrize("every", [1, 2, 4])
def test_a_figure_of_eight_does_not_jump(aside: float, every: int) -> None:
    x, y, length, station = eight()
    closed = ClosedPath(x.tolist(), y.tolist(), length)
    heading = np.arctan2(np.roll(y, -1) - np.roll(y, 1), np.roll(x, -1) - np.roll(x, 1))
    begins = len(x) // 8  # not at the crossing, where the first place would be a guess
    worst = 0.0
    for i in range(begins, begins + 2 * len(x), every):
        k = i % len(x)
        found = closed.locate(x[k] - aside * math.sin(heading[k]), y[k] + aside * math.cos(heading[k]))
        assert found is not None
        apart = abs(found - station[k]) % length
        worst = max(worst, min(apart, length - apart))
    assert worst < 0.5


def test_two_straights_twelve_metres_apart_do_not_jump() -> None:
    """A car on one of them, nearer to the other's line than to its own."""
    closed = path([(0.0, 0.0), (400.0, 0.0), (400.0, 12.0), (0.0, 12.0)])
    assert closed.locate(100.0, 0.0) == pytest.approx(100.0)
    for i in range(1, 100):
        aside = 7.0 * math.sin(math.pi * i / 100.0)  # up to 7 m off one's own line, 5 m from the other
        assert closed.locate(100.0 + 2.0 * i, aside) == pytest.approx(100.0 + 2.0 * i, abs=1e-6)


def test_a_long_way_between_two_looks_is_walked() -> None:
    x, y, length, station = eight(3000.0)
    closed = ClosedPath(x.tolist(), y.tolist(), length)
    assert closed.locate(float(x[2000]), float(y[2000])) == pytest.approx(station[2000], abs=0.01)
    assert closed.locate(float(x[2300]), float(y[2300])) == pytest.approx(station[2300], abs=0.01)


def test_a_huge_circuit_is_searched_without_an_end_to_the_stack() -> None:
    turn = np.linspace(0.0, math.tau, 60_001)[:-1]
    radius = 60_000.0 / math.tau
    closed = ClosedPath((radius * np.cos(turn)).tolist(), (radius * np.sin(turn)).tolist(), 60_000.0)
    assert closed.locate(radius, 0.0) == pytest.approx(0.0, abs=1e-6)
    assert closed.locate(-radius, 0.1) == pytest.approx(30_000.0, abs=1.0)


def test_a_start_line_is_crossed_in_the_direction_of_travel_and_within_its_width() -> None:
    line = StartLine(10.0, 5.0, 2.0, 0.0)
    assert line.ahead(13.0, 40.0) == pytest.approx(3.0)
    assert line.crossed(9.0, 5.0, 11.0, 5.0)
    assert line.crossed(9.0, 29.0, 11.0, 29.0)
    assert not line.crossed(9.0, 31.0, 11.0, 31.0), "another road, 26 m away"
    assert not line.crossed(11.0, 5.0, 9.0, 5.0), "backwards"
    assert not line.crossed(10.5, 5.0, 11.0, 5.0), "beyond it already"
    assert line.crossed(9.0, 5.0, 10.0, 5.0) and not line.crossed(10.0, 5.0, 11.0, 5.0), "just once"
