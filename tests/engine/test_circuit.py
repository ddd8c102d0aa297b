"""The corner map: each bend found once, in its place, numbered for good."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from coach.engine.circuit import SAME, Circuit, find_bends, survey
from coach.engine.lap import GridLap
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import CornerMark
from tests.engine.driving import (
    HAIRPIN,
    KINK,
    LEFT_OF_PAIR,
    RIGHT_OF_PAIR,
    corner_of,
    lap_from,
    lap_of,
    loop,
    practice,
    start,
    studied,
    surveyed,
)
from tests.engine.handmade import grid_lap
from tests.make_stream import without

LINES = [0.0, 360.0, 640.0, 1027.0]
"""m: start lines on a straight, and in the midst of the first corner, of the pair and of the hairpin"""


def forward(a: float, b: float, length: float) -> float:
    """m driven from `a` to `b`."""
    return (b - a) % length


@pytest.mark.parametrize("line", LINES)
def test_each_bend_once_in_the_order_driven(line: float) -> None:
    length = loop().length
    lap = lap_from(line)
    marks = survey(lap).marks
    assert [mark.corner for mark in marks] == list(range(1, 9))
    assert all(a.apex < b.apex for a, b in pairwise(marks))
    seen = {}
    for mark in marks:
        arc = min(loop().corners, key=lambda c: abs((c.middle - line - mark.apex + length / 2) % length - length / 2))
        seen[arc.number] = mark
        assert mark.direction == ("left" if arc.side > 0 else "right")
        # the line turns in before the arc and runs out behind it; its apex lies within it
        assert 0.0 < forward(mark.entry, mark.apex, length) < 120.0
        assert 0.0 < forward(mark.apex, mark.exit, length) < 120.0
        assert forward(arc.begins - line, mark.apex, length) < arc.ends - arc.begins
    assert sorted(seen) == list(range(1, 9))
    assert {number: mark.coached for number, mark in seen.items()} == {n: n != KINK for n in range(1, 9)}
    assert {number: mark.linked for number, mark in seen.items()} == {n: n == LEFT_OF_PAIR for n in range(1, 9)}
    for number, mark in seen.items():
        if number not in (KINK, RIGHT_OF_PAIR):
            assert 10.0 < forward(mark.brake, mark.entry, length) < 130.0


def test_a_moved_line_moves_nothing_but_the_numbers() -> None:
    plain = studied().circuit
    moved = survey(lap_from(1027.0))
    places = sorted((mark.apex + 1027.0) % plain.length for mark in moved.marks)
    assert places == pytest.approx([mark.apex for mark in plain.marks], abs=2.5)


def test_the_apex_is_nearest_the_inside_edge() -> None:
    lap = studied().reference
    for mark in survey(lap).marks:
        inside = lap.get("edge_left" if mark.direction == "left" else "edge_right")
        assert inside is not None
        span = slice(int(mark.entry), int(mark.exit) + 1)
        assert inside[round(mark.apex / lap.step)] == pytest.approx(float(inside[span].min()), abs=0.011)


def test_without_edges_the_apex_is_where_the_path_is_tightest() -> None:
    lap = studied().reference
    bare = replace(lap, channels={k: v for k, v in lap.channels.items() if not k.startswith("edge")})
    x, y = lap.get("x"), lap.get("y")
    assert x is not None and y is not None
    # independent of the engine's curvature: three points 12 m apart on the path
    turn = np.angle(np.exp(1j * np.diff(np.unwrap(np.arctan2(np.gradient(y), np.gradient(x))))))
    for mark in survey(bare).marks:
        low, high = int(mark.entry), int(mark.exit)
        smooth = np.convolve(np.abs(turn[low - 10 : high + 10]), np.ones(13) / 13, "same")[10:-10]
        assert smooth[round(mark.apex) - low] > 0.93 * smooth.max()
    for own, edged in zip(survey(bare).marks, survey(lap).marks, strict=True):
        assert abs(own.apex - edged.apex) < 12.0


@pytest.mark.parametrize("missing", [("x", "y"), ("x", "y", "yaw_rate", "yaw")])
def test_bends_from_yaw_rate_or_from_lateral_acceleration(missing: tuple[str, ...]) -> None:
    poorer = survey(surveyed(without(practice().rows, *missing)))
    for own, rich in zip(poorer.marks, studied().circuit.marks, strict=True):
        assert (own.direction, own.linked, own.coached) == (rich.direction, rich.linked, rich.coached)
        assert own.apex == pytest.approx(rich.apex, abs=3.0)
        assert own.entry == pytest.approx(rich.entry, abs=4.0) and own.exit == pytest.approx(rich.exit, abs=4.0)


def test_nothing_to_tell_a_bend_by_is_no_bend() -> None:
    bare = surveyed(without(practice().rows, "x", "y", "yaw_rate", "ay"))
    assert survey(bare).marks == ()


@pytest.mark.parametrize("rate", [10.0, 20.0])
def test_the_sources_rate_does_not_move_the_map(rate: float) -> None:
    marks = survey(surveyed(lap_of(rate=rate).rows), studied().circuit).marks
    for own, known in zip(marks, studied().circuit.marks, strict=True):
        assert own.corner == known.corner and own.coached == known.coached
        assert own.apex == pytest.approx(known.apex, abs=8.0)


@pytest.mark.parametrize("seed", [31, 32])
def test_numbers_stay_whatever_line_and_pace(seed: int) -> None:
    known = studied().circuit
    other = surveyed(lap_of(seed=seed, scatter=0.03, wander=1.2).rows)
    again = survey(other, known)
    assert again.name == known.name
    assert [(m.corner, m.direction) for m in again.marks] == [(m.corner, m.direction) for m in known.marks]
    # and with the map of the map: nothing creeps
    assert survey(studied().reference, again).marks == known.marks


# Laps made by hand: bends as (from m, to m, 1/m), pedals and gear as (from m, to m, value).

LENGTH = 1500.0
Piece = tuple[float, float, float]


def spread(pieces: Sequence[Piece], other: float = 0.0) -> np.ndarray:
    values = np.full(round(LENGTH) + 1, other)
    for begins, ends, value in pieces:
        values[round(begins) : round(ends) + 1] = value
    return values


def made(
    bends: Sequence[Piece],
    brake: Sequence[Piece] = (),
    throttle: Sequence[Piece] = (),
    gear: Sequence[Piece] = (),
) -> GridLap:
    """30 m/s all the way: 3 m is a tenth of a second."""
    columns = {"speed": spread([], 30.0), "yaw_rate": 30.0 * spread(bends), "brake": spread(brake)}
    return grid_lap(LENGTH, LENGTH / 30.0, **columns, throttle=spread(throttle, 1.0), gear=spread(gear, 4.0))


FIRST, SECOND = (300.0, 360.0, 0.02), (900.0, 960.0, -0.02)
BRAKES = ((230.0, 300.0, 0.8), (830.0, 900.0, 0.8))
OFF = ((230.0, 330.0, 0.0), (830.0, 930.0, 0.0))


def test_two_corners_made_by_hand() -> None:
    one, two = survey(made([FIRST, SECOND], BRAKES, OFF)).marks
    assert (one.direction, two.direction) == ("left", "right")
    assert (one.brake, two.brake) == (230.0, 830.0)
    # a bend ends where the curvature, smoothed over 4 m, falls under a fifth: 3.4 m beyond its step
    assert one.entry == pytest.approx(297.0, abs=1.5) and one.exit == pytest.approx(363.0, abs=2.5)
    assert not one.linked and not two.linked and one.coached and two.coached


def test_on_an_even_arc_without_edges_the_apex_is_the_middle() -> None:
    assert [m.apex for m in survey(made([FIRST, SECOND])).marks] == pytest.approx([330.0, 930.0], abs=1.5)


def test_along_the_inside_edge_the_apex_is_the_middle() -> None:
    lap = made([FIRST, SECOND])
    gap = np.maximum(0.5, np.abs(np.arange(round(LENGTH) + 1) - 340.0) * 0.05)  # 0.5 m from 330 to 350 m
    edged = replace(lap, channels={**lap.channels, "edge_left": gap})
    assert survey(edged).marks[0].apex == pytest.approx(340.0, abs=1.0)


def test_a_blip_at_full_throttle_under_brakes_is_not_the_end_of_the_straight() -> None:
    blips = [*OFF, (250.0, 254.0, 1.0), (270.0, 274.0, 1.0), (850.0, 853.0, 1.0)]
    assert [m.brake for m in survey(made([FIRST, SECOND], BRAKES, blips)).marks] == [230.0, 830.0]


def kinked(throttle: Sequence[Piece], gear: Sequence[Piece] = ()) -> CornerMark:
    """The mark of a bend of 0.3 rad between the two corners, taken with `throttle`."""
    lap = made([FIRST, (600.0, 660.0, 0.005), SECOND], BRAKES, [*OFF, *throttle], gear)
    return survey(lap).marks[1]


def test_a_kink_is_coached_only_where_something_is_done() -> None:
    assert not kinked([]).coached
    assert not kinked([(600.0, 640.0, 0.9)]).coached  # a pedal not quite at its stop
    lifted = kinked([(590.0, 625.0, 0.5)])
    assert lifted.coached and lifted.brake == 590.0


def test_a_shift_up_in_a_kink_is_no_lift() -> None:
    # fifth gear is taken in the midst of it; the gearbox cuts the throttle for a tenth of a second
    assert not kinked([(627.0, 630.0, 0.0)], [(628.0, 830.0, 5.0)]).coached
    assert kinked([(590.0, 640.0, 0.0)], [(628.0, 830.0, 5.0)]).coached  # a real lift around the shift stays one


def test_a_shift_up_between_two_corners_does_not_link_them() -> None:
    # full throttle for 0.5 s in all, the shift in its middle: held all the same
    near = [FIRST, (390.0, 450.0, -0.02)]
    off = [(230.0, 345.0, 0.0), (361.0, 450.0, 0.0)]
    free = survey(made(near, (), off)).marks[0]
    cut = survey(made(near, (), [*off, (352.0, 354.0, 0.0)], [(353.0, 830.0, 5.0)])).marks[0]
    lifted = survey(made(near, (), [*off, (352.0, 354.0, 0.0)])).marks[0]
    assert not free.linked and not cut.linked and lifted.linked


def test_a_flat_kink_behind_a_corner_does_not_link_it() -> None:
    # the bend behind it begins while the throttle still opens, and is taken flat: power follows, nothing is asked
    opens = [(331.0, 420.0, 0.85)]
    one, two, _ = survey(made([FIRST, (380.0, 450.0, 0.005), SECOND], BRAKES, [*OFF, *opens])).marks
    assert one.coached and not two.coached
    assert not one.linked


def test_an_esse_without_power_between_is_linked() -> None:
    esse = [FIRST, (372.0, 430.0, -0.02)]
    assert survey(made(esse, BRAKES, [(230.0, 400.0, 0.4), OFF[1]])).marks[0].linked


def test_a_corner_of_two_apexes_and_two_corners_of_one_side() -> None:
    one = find_bends(made([(300.0, 340.0, 0.02), (341.0, 380.0, 0.014), (381.0, 420.0, 0.02), SECOND]))
    assert [len(bend.apexes) for bend in one] == [2, 1]
    mark = survey(made([(300.0, 340.0, 0.02), (341.0, 380.0, 0.014), (381.0, 420.0, 0.02), SECOND], BRAKES, OFF)).marks[
        0
    ]
    assert mark.apexes[0] == mark.apex < mark.apexes[1]
    two = find_bends(made([(300.0, 340.0, 0.02), (341.0, 380.0, 0.005), (381.0, 420.0, 0.02), SECOND]))
    assert [(bend.left, len(bend.apexes)) for bend in two] == [(True, 1), (True, 1), (False, 1)]


def test_what_turns_little_is_no_bend() -> None:
    assert len(find_bends(made([FIRST, (600.0, 630.0, 0.006), SECOND]))) == 2  # 0.18 rad
    assert len(find_bends(made([FIRST, (600.0, 640.0, 0.006), SECOND]))) == 3  # 0.24 rad
    assert len(find_bends(made([FIRST, (500.0, 800.0, 0.0018), SECOND]))) == 2  # 0.54 rad, but straighter than a bend


@pytest.mark.parametrize("begins", [1470.0, 1490.0, 0.0])
def test_a_bend_over_the_line_is_one(begins: float) -> None:
    over = [(begins, LENGTH, 0.02), (0.0, (begins + 60.0) % LENGTH, 0.02)] if begins else [(0.0, 60.0, 0.02)]
    brakes = [((begins - 70.0) % LENGTH, begins or LENGTH, 0.8), BRAKES[1]]
    off = [((begins - 70.0) % LENGTH, LENGTH, 0.0), (0.0, 20.0, 0.0), OFF[1]]
    marks = survey(made([*over, SECOND], brakes, off)).marks
    assert sorted(mark.direction for mark in marks) == ["left", "right"]
    mark = next(mark for mark in marks if mark.direction == "left")
    assert mark.brake == (begins - 70.0) % LENGTH
    assert forward(mark.entry, mark.exit, LENGTH) == pytest.approx(66.0, abs=3.0)


def test_a_new_bend_gets_a_new_number_and_an_old_one_keeps_its_own() -> None:
    known = survey(made([FIRST, SECOND], BRAKES, OFF))
    chicane = (600.0, 640.0, 0.02)
    grown = survey(made([FIRST, chicane, SECOND], BRAKES, OFF), known)
    assert [(m.corner, m.apex < 500.0) for m in grown.marks] == [(1, True), (3, False), (2, False)]
    assert grown.name == known.name
    # the bend is gone again in a lap that goes straight on: it keeps its number and is not coached
    back = survey(made([FIRST, SECOND], BRAKES, OFF), grown)
    assert [m.corner for m in back.marks] == [1, 3, 2]
    assert [m.coached for m in back.marks] == [True, False, True]
    # and seen once more it is still the third
    assert [m.corner for m in survey(made([FIRST, chicane, SECOND], BRAKES, OFF), back).marks] == [1, 3, 2]


def test_a_bend_that_appears_beside_a_known_one_does_not_take_its_number() -> None:
    old, new = (332.0, 350.0, 0.02), (300.0, 318.0, 0.02)
    known = survey(made([old, SECOND]))
    before, same, _ = survey(made([new, old, SECOND]), known).marks
    assert abs(before.apex - known.marks[0].apex) < SAME  # near enough to be taken for it
    assert (before.corner, same.corner) == (3, 1)


def test_a_map_of_another_length_is_another_circuits() -> None:
    known = survey(made([FIRST, SECOND], BRAKES, OFF))
    longer = replace(known, length=known.length * 1.01)
    assert survey(made([FIRST, SECOND], BRAKES, OFF), longer).length == LENGTH
    assert survey(made([SECOND], BRAKES, OFF), longer).marks[0].corner == 1


def test_a_lap_that_ends_beside_where_it_began_has_no_bend_at_the_line() -> None:
    """A driver crosses the line 4 m further left than a lap before; the path does not close, the road does."""
    lap = studied().reference
    x, y = lap.get("x"), lap.get("y")
    assert x is not None and y is not None
    drift = np.linspace(0.0, 4.0, len(x))
    channels = {**lap.channels, "y": y + drift}
    open_lap = survey(replace(lap, channels=channels))
    assert len(open_lap.marks) == 8
    for own, known in zip(open_lap.marks, studied().circuit.marks, strict=True):
        assert own.apex == pytest.approx(known.apex, abs=3.0)


def test_the_map_survives_a_recordings_head() -> None:
    known = studied().circuit
    assert Circuit.from_json(json.loads(json.dumps(known.to_json()))) == known
    assert [mark.corner for mark in known.coached] == [n for n in range(1, 9) if n != corner_of(studied(), KINK)]
    assert start(studied()).circuit is known


MARK = {"corner": 1, "direction": "left", "brake": 1.0, "entry": 2.0, "apex": 3.0, "exit": 4.0, "apexes": [3.0]}


@pytest.mark.parametrize(
    "data",
    [
        None,
        3,
        [],
        {},
        {"name": "a", "length": "b", "marks": []},
        {"name": "a", "length": 10**400, "marks": []},
        {"name": "a", "length": 1.0, "marks": [{"apexes": [1]}]},
        {"name": "a", "length": float("nan"), "marks": []},
        {"name": "a", "length": 1.0, "marks": [MARK | {"apex": float("inf")}]},
        {"name": "a", "length": 1.0, "marks": [MARK | {"brake": None}]},
        {"name": "a", "length": 1.0, "marks": [MARK | {"direction": "up"}]},
        {"name": "a", "length": 1.0, "marks": ["corner"]},
    ],
)
def test_what_is_no_map_is_named(data: object) -> None:
    with pytest.raises(FormatError, match=r"the circuit's map cannot be read .*: record it again"):
        Circuit.from_json(data)


def test_the_same_geometry_has_the_same_name() -> None:
    assert survey(made([FIRST, SECOND], BRAKES, OFF)).name == survey(made([FIRST, SECOND])).name
    assert survey(made([FIRST, SECOND])).name != survey(made([FIRST, (600.0, 660.0, 0.02), SECOND])).name
    assert HAIRPIN in {corner_of(studied(), HAIRPIN)}


def test_another_lap_of_a_named_circuit_gives_the_map_the_same_name() -> None:
    """A store finds the map again whatever the lap it was read from: apexes lie a few metres further on in each."""
    laps = [replace(made([(300.0 + i, 360.0 + i, 0.02), SECOND]), track="loop-a", number=i) for i in range(0, 30, 3)]
    assert len({survey(lap).name for lap in laps}) == 1
    assert survey(laps[0]).name != survey(replace(laps[0], track="loop-b")).name


def test_in_a_long_bend_the_number_does_not_hang_on_the_apex() -> None:
    """Nearest the inside edge at its beginning in one lap, at its end in another, 160 m apart."""
    bend = (300.0, 500.0, 0.008)

    def lap(apex: float) -> GridLap:
        gap = 4.0 + np.abs(np.linspace(0.0, LENGTH, round(LENGTH) + 1) - apex) / 100.0
        plain = made([bend, SECOND], BRAKES, OFF)
        return replace(plain, channels={**plain.channels, "edge_left": gap})

    first = survey(lap(320.0))
    again = survey(lap(480.0), first)
    assert abs(first.marks[0].apex - again.marks[0].apex) > 3 * SAME
    assert [m.corner for m in again.marks] == [m.corner for m in first.marks] == [1, 2]


def test_places_of_a_corner_are_in_the_order_driven() -> None:
    """Where the driver only lifts, and inside the bend, the bend's entry is its mark."""
    inside = survey(made([FIRST, SECOND], (), [(320.0, 350.0, 0.4)])).marks[0]
    assert inside.coached and inside.brake == inside.entry <= inside.apex <= inside.exit


def test_a_single_reading_of_the_brake_is_no_braking() -> None:
    flicker = survey(made([FIRST, SECOND], [(150.0, 151.0, 0.4), BRAKES[0]], OFF)).marks[0]
    assert flicker.brake == 230.0


def test_a_throttle_that_tops_out_links_no_corners() -> None:
    lap = made([FIRST, SECOND], BRAKES, OFF)
    weak = replace(lap, channels={**lap.channels, "throttle": 0.9 * lap.channels["throttle"]})
    assert [m.linked for m in survey(weak).marks] == [m.linked for m in survey(lap).marks] == [False, False]
    assert [m.brake for m in survey(weak).marks] == [m.brake for m in survey(lap).marks]
