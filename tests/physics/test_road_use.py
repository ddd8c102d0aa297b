"""The use of the road: the widest arc that a corner holds, against the closed form of a circle in a bend.

R = ri + w / (1 - cos(th/2)) for a road of width w round an inner radius ri that turns by th (plane geometry: the arc
touches the outer edge where it leaves the straight, and the inner edge on the bisector). Speed at one lateral
acceleration goes with the root of the radius.
"""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt

import numpy as np
import pytest

from coach.engine.faults.line import LineFamily
from coach.engine.faults.room import at_apex, at_entry, at_exit, room_of
from coach.engine.faults.turning import TurnInFamily
from coach.engine.ledger import Bounds
from coach.engine.stretch import Stretch
from tests.engine.handmade import bounds, corner_pass, stretch

INNER, WIDTH, CAR = 20.0, 10.0, 1.9
"""m: the inner radius and the road, both for the car's sides, and the car itself (19.05 m to the edge's own circle)."""
BEFORE = 200.0
"""m of straight before the bend"""
CASES = [(60.0, 94.641, 1.946), (90.0, 54.142, 1.4716), (120.0, 40.0, 1.2649), (180.0, 30.0, 1.0954)]
"""deg; m; times the speed of the middle of the road at 25 m"""


def radius(degrees: float) -> float:
    return INNER + WIDTH / (1.0 - cos(radians(degrees) / 2))


def inside_of_arc(degrees: float, place: float) -> float:
    """m between the car and the inner edge on the widest arc, `place` m along the middle of the road."""
    turn, middle = radians(degrees), INNER + WIDTH / 2
    place = BEFORE + min(place - BEFORE, middle * turn - (place - BEFORE))  # the same on the way out as on the way in
    big = radius(degrees)
    x0, y0 = (INNER - big) * sin(turn / 2), (big - INNER) * cos(turn / 2)
    if place < BEFORE:
        x = place - BEFORE
        return WIDTH if x < x0 else sqrt(big**2 - (x - x0) ** 2) - y0 - INNER
    angle = (place - BEFORE) / middle
    along = x0 * sin(angle) - y0 * cos(angle)  # of the arc's centre on the ray from the bend's own
    return along + sqrt(along**2 - x0**2 - y0**2 + big**2) - INNER


def driven(degrees: float, widest: bool) -> tuple[Stretch, Bounds]:
    length = (INNER + WIDTH / 2) * radians(degrees)

    def inside(t: float) -> float:
        return inside_of_arc(degrees, 20.0 * t) if widest else WIDTH / 2

    rows = stretch(
        25.0,
        60.0,
        20.0,
        edge_left=lambda t: inside(t) + CAR / 2,
        edge_right=lambda t: WIDTH - inside(t) + CAR / 2,
    )
    before = (radius(degrees) - INNER) * sin(radians(degrees) / 2)
    middle = BEFORE + length / 2
    return rows, bounds(100.0, BEFORE - before, middle, BEFORE + length + before, 480.0)


@pytest.mark.parametrize(("degrees", "arc", "times"), CASES)
def test_the_widest_arc_touches_all_three_edges(degrees: float, arc: float, times: float) -> None:
    assert radius(degrees) == pytest.approx(arc, abs=1e-3)
    assert sqrt(radius(degrees) / (INNER + WIDTH / 2)) == pytest.approx(times, abs=1e-3)
    rows, where = driven(degrees, widest=True)
    p = corner_pass(rows, rows, where)
    room = room_of(p)
    assert room is not None and room.by_edges
    for own, theirs in (at_entry(p, room), at_apex(p, room), at_exit(p, room)[:2]):
        assert own is not None and theirs is not None
        assert (own.gap, theirs.gap) == pytest.approx((0.0, 0.0), abs=0.02)
    assert LineFamily().judge(p) == []


@pytest.mark.parametrize(("degrees", "arc", "times"), CASES)
def test_the_middle_of_the_road_leaves_half_of_it_everywhere(degrees: float, arc: float, times: float) -> None:
    own, _ = driven(degrees, widest=False)
    reference, where = driven(degrees, widest=True)
    found = LineFamily().judge(corner_pass(own, reference, where))
    assert [f.fault for f in found] == ["narrow_entry", "narrow_exit", "missed_apex"]
    assert [f.size for f in found] == pytest.approx([WIDTH / 2] * 3, abs=0.03)


def moved(degrees: float, late: float) -> Stretch:
    """The widest arc begun `late` m later: the same arc moved along the straight, seen along the middle of the road."""
    turn, big, middle = radians(degrees), radius(degrees), INNER + WIDTH / 2
    x0, y0 = (INNER - big) * sin(turn / 2), (big - INNER) * cos(turn / 2)
    straight, arc = np.linspace(-220.0, 0.0, 4000)[:-1], np.linspace(0.0, turn, 4000)
    heading = np.concatenate([0.0 * straight, arc, turn + 0.0 * straight])
    way = np.concatenate([straight, 0.0 * arc, -straight[::-1]])
    x = x0 + late + big * np.sin(heading) + way * np.cos(heading)
    y = y0 - big * np.cos(heading) + way * np.sin(heading)
    angle = np.arctan2(x, -y) % (2 * pi)
    ahead, behind = x * cos(turn) + y * sin(turn), x < 0.0  # along the way out, and not yet in the bend
    out = ~behind & (ahead > 0.0) & (angle > turn)
    room = np.where(behind, -y, np.where(out, x * sin(turn) - y * cos(turn), np.hypot(x, y))) - INNER
    place = BEFORE + np.where(behind, x, np.where(out, middle * turn + ahead, middle * angle))

    def of(values: np.ndarray, t: float) -> float:
        return float(np.interp(20.0 * t, place, values))

    return stretch(
        20.0,
        100.0,
        20.0,
        edge_left=lambda t: of(room, t) + CAR / 2,
        edge_right=lambda t: WIDTH - of(room, t) + CAR / 2,
        yaw_rate=lambda t: (of(heading, t + 0.005) - of(heading, t - 0.005)) / 0.01,
    )


@pytest.mark.parametrize("late", [6.0, 8.0])
@pytest.mark.parametrize("degrees", [60.0, 90.0])
def test_the_same_arc_begun_later_misses_the_apex_by_its_geometry(degrees: float, late: float) -> None:
    _, where = driven(degrees, widest=True)
    big, off = radius(degrees), radius(degrees) - INNER
    missed = big - sqrt(off**2 - 2 * late * off * sin(radians(degrees) / 2) + late**2) - INNER  # law of cosines
    assert missed == pytest.approx(late * sin(radians(degrees) / 2), rel=0.12)
    p = corner_pass(moved(degrees, late), moved(degrees, 0.0), where)
    (found,) = TurnInFamily().judge(p)
    assert found.fault == "late_turn_in" and found.size == pytest.approx(late, abs=0.6)
    miss = next(f for f in LineFamily().judge(p) if f.fault == "missed_apex")
    assert miss.size == pytest.approx(missed, abs=0.05)


def test_the_same_arc_begun_in_the_same_place_is_the_reference() -> None:
    _, where = driven(90.0, widest=True)
    p = corner_pass(moved(90.0, 0.0), moved(90.0, 0.0), where)
    assert TurnInFamily().judge(p) == LineFamily().judge(p) == []
