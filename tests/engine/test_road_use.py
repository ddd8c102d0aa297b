"""Narrow entry, narrow exit, missed apex: passes made by hand, in which every metre of room is chosen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from coach.engine.faults.base import CornerPass, Finding
from coach.engine.faults.line import LEAST, MARGIN, MOST, LineFamily
from coach.engine.ledger import Bounds
from coach.engine.scatter import Scatter
from coach.engine.shown import Shown
from coach.engine.stretch import Stretch
from coach.vocabulary.sample import Sample
from tests.engine.handmade import bounds, corner_pass, grid_lap, stretch

FAMILY = LineFamily()
SPEED = 20.0
WHERE = replace(bounds(braking=60.0, entry=100.0, apex=130.0, exit_=160.0, end=400.0), approach=-150.0)
RIGHT = replace(WHERE, mark=replace(WHERE.mark, direction="right"))
ROOM, HALF = 8.1, 0.95
"""m: a road of 10 m for a car of 1.9 m"""


def gap(
    entry: float, apex: float, exit_: float, apex_at: float = 130.0, before: float | None = None
) -> Callable[[float], float]:
    """m of room outside by place: `entry` at 95 m, `ROOM - apex` at `apex_at`, `exit_` at 165 m."""
    before = max(2.0, entry) if before is None else before
    places = [0.0, 35.0, 95.0, 105.0, apex_at, 165.0, 190.0, 260.0]
    values = [before, before, entry, entry + 0.5, ROOM - apex, exit_, exit_ + 0.1, 2.0]
    return lambda d: float(np.interp(d, places, values))


def driven(
    entry: float = 0.5,
    apex: float = 0.4,
    exit_: float = 0.5,
    seconds: float = 12.0,
    rate: float = 60.0,
    right: bool = False,
    speed: float = SPEED,
    **more: float,
) -> Stretch:
    outside = gap(entry, apex, exit_, **more)
    sides = {"edge_right": lambda t: outside(speed * t) + HALF, "edge_left": lambda t: ROOM - outside(speed * t) + HALF}
    if right:
        sides = {"edge_left": sides["edge_right"], "edge_right": sides["edge_left"]}
    return stretch(seconds, rate, speed, ay=8.0, yaw_rate=0.4, **sides)


def on_path(
    entry: float = 0.5, apex: float = 0.4, exit_: float = 0.5, seconds: float = 12.0, heading: float = 0.6
) -> Stretch:
    """The same without edges, on a straight road to `heading`: only x and y, and so no room but beside another path."""
    outside = gap(entry, apex, exit_)
    c, s = np.cos(heading), np.sin(heading)
    return stretch(
        seconds,
        60.0,
        SPEED,
        x=lambda t: float(SPEED * t * c - outside(SPEED * t) * s),
        y=lambda t: float(SPEED * t * s + outside(SPEED * t) * c),
        ay=8.0,
    )


def judged(p: CornerPass) -> list[tuple[str, float]]:
    return [(f.fault, round(f.size, 2)) for f in FAMILY.judge(p)]


def found(own: Stretch, where: Bounds = WHERE, right: bool = False) -> list[Finding]:
    return FAMILY.judge(corner_pass(own, driven(right=right), where))


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("unused", [1.5, 2.6, 4.0])
def test_as_narrow_as_it_is(unused: float, rate: float) -> None:
    (entry,) = found(driven(entry=0.5 + unused, rate=rate))
    assert (entry.fault, entry.unit) == ("narrow_entry", "m")
    assert entry.size == pytest.approx(unused, abs=0.06)
    assert 80.0 <= entry.distance <= 96.0
    assert entry.begins < 95.0 / SPEED
    (exit_,) = found(driven(exit_=0.5 + unused, rate=rate))
    assert exit_.fault == "narrow_exit" and exit_.size == pytest.approx(unused, abs=0.1)
    assert 130.0 <= SPEED * exit_.begins < 165.0
    assert exit_.phases == ("braking", "entry", "exit", "straight"), "the brakes slow to what the line allows"
    (apex,) = found(driven(apex=0.4 + unused, rate=rate))
    assert apex.fault == "missed_apex" and apex.size == pytest.approx(unused, abs=0.15)
    assert apex.evidence["gap"] == pytest.approx(0.4 + unused, abs=0.15)
    assert apex.strength == pytest.approx(apex.size / LEAST)


def test_a_right_hander_is_the_same_mirrored() -> None:
    assert found(driven(right=True), RIGHT, right=True) == []
    assert [f.fault for f in found(driven(entry=3.0, right=True), RIGHT, right=True)] == ["narrow_entry"]
    assert [f.fault for f in found(driven(apex=3.0, right=True), RIGHT, right=True)] == ["missed_apex"]


def test_all_the_road_is_no_fault_nor_is_half_a_car_less() -> None:
    assert found(driven()) == []
    assert found(driven(entry=1.4, apex=1.3, exit_=1.4)) == []
    assert found(driven(entry=-0.3, apex=-0.4, exit_=-0.2)) == []


def test_a_later_apex_is_no_miss() -> None:
    assert found(driven(apex_at=148.0)) == []
    assert found(driven(apex_at=112.0)) == []


def scattered(feature: str, spread: float, middle: float = 0.5) -> Scatter:
    scatter = Scatter()
    for i in range(20):
        scatter.add(1, feature, middle + spread * (-1.0) ** i / 0.6745)  # the deviation of which `spread` is the sd
    return scatter


def test_within_the_own_scatter_it_is_no_fault_but_a_car_s_width_is() -> None:
    def entry(unused: float, spread: float) -> list[tuple[str, float]]:
        own = driven(entry=0.5 + unused)
        return judged(corner_pass(own, driven(), WHERE, scatter=scattered("entry_gap", 0.6745 * spread)))

    assert entry(1.4, 0.2) == [("narrow_entry", 1.4)]
    assert entry(1.4, 0.6) == []
    assert entry(MOST - 0.1, 5.0) == []
    assert entry(MOST + 0.1, 5.0) == [("narrow_entry", MOST + 0.1)]


def test_one_lucky_reference_lap_is_no_mark() -> None:
    own, usual = driven(exit_=2.0), {(1, "exit_gap"): 1.2}
    assert [f for f, _ in judged(corner_pass(own, driven(), WHERE))] == ["narrow_exit"]
    assert judged(corner_pass(own, driven(), WHERE, usual=usual)) == []


def test_a_margin_kept_everywhere_is_the_driver_s_own() -> None:
    def today(keeps: float, exit_: float) -> list[str]:
        usual = {(corner, "exit_gap"): 0.5 for corner in range(1, 13)}
        scatter = Scatter(usual)
        for corner in range(1, 13):
            scatter.add(corner, "exit_gap", 0.5 + keeps)
        return [f for f, _ in judged(corner_pass(driven(exit_=exit_), driven(), WHERE, scatter=scatter))]

    assert today(0.0, 2.0) == ["narrow_exit"]
    assert today(0.5, 2.0) == []
    assert today(0.5, 2.5) == ["narrow_exit"]
    assert today(2.0, 0.5 + MARGIN + LEAST + 0.9) == ["narrow_exit"], "but not half the road"


def test_a_car_that_was_held_up_needs_no_road_at_the_exit() -> None:
    def exits(speed: float) -> list[tuple[str, float]]:
        return judged(corner_pass(driven(exit_=3.5, speed=speed, seconds=15.0), driven(), WHERE))

    assert exits(18.0) == [("narrow_exit", pytest.approx(3.0, abs=0.05))]
    assert exits(15.0) == []


def test_a_pass_waits_until_the_car_is_out_at_the_edge_or_will_not_come() -> None:
    def waits(exit_: float, until: float) -> bool:
        return not FAMILY.settled(corner_pass(driven(exit_=exit_, seconds=until / SPEED), driven(), WHERE))

    assert not waits(0.5, 168.0)
    assert waits(4.0, 168.0)
    assert not waits(4.0, 200.0)


def test_what_was_lost_at_the_exit_of_the_last_corner_is_told_there() -> None:
    where = replace(WHERE, approach=40.0)  # 55 m before the turn-in
    own = driven(entry=3.5, before=5.0)
    assert judged(corner_pass(own, driven(), where)) == []

    def other(t: float) -> float:
        return -0.4 if t < 2.5 else 0.4

    reference = driven()
    reference.columns["yaw_rate"] = stretch(12.0, 60.0, SPEED, yaw_rate=other)["yaw_rate"]
    assert [f for f, _ in judged(corner_pass(own, reference, where))] == ["narrow_entry"], "the outside has changed"
    assert [f for f, _ in judged(corner_pass(driven(entry=3.5), driven(), where))] == ["narrow_entry"]


def alone(own: Stretch, lateral: float = 8.0, **more: bool) -> list[str]:
    """Without a line to follow, by a driver who has turned with up to `lateral` m/s^2."""
    shown = Shown()
    for i in range(100):
        shown.watch(Sample(0.02 * i, ay=lateral))
    p = corner_pass(own, None, WHERE, shown=shown)
    return [f for f, _ in judged(replace(p, **more))]


def test_without_a_reference_half_the_road_is_too_much_at_either_end_of_a_run() -> None:
    assert alone(driven(entry=3.5, exit_=3.5)) == []
    assert alone(driven(entry=4.5)) == ["narrow_entry"]
    assert alone(driven(exit_=4.5)) == ["narrow_exit"]
    assert alone(driven(apex=4.5)) == ["missed_apex"]
    assert alone(driven(entry=4.5, exit_=4.5), opens=False) == ["narrow_exit"]
    assert alone(driven(entry=4.5, exit_=4.5), closes=False) == ["narrow_entry"]
    assert alone(driven(apex=4.5), closes=False) == []
    assert alone(driven(entry=4.5), lateral=14.0) == [], "who rolls round needs no road"


def test_a_reference_without_marks_or_line_only_the_edge_speaks() -> None:
    shown = Shown()
    for i in range(100):
        shown.watch(Sample(0.02 * i, ay=8.0))
    for more in ({"by_marks": False}, {"by_line": False}):
        for entry, expected in ((3.0, []), (4.5, ["narrow_entry"])):
            p = replace(corner_pass(driven(entry=entry), driven(), WHERE, shown=shown), **more)
            assert [f for f, _ in judged(p)] == expected
    p = replace(corner_pass(driven(entry=4.5), driven(entry=4.0), WHERE, shown=shown), by_marks=False)
    assert judged(p) == [], "the reference leaves that road unused too"


@pytest.mark.parametrize("heading", [0.0, 0.6, 2.5, -1.2])
def test_without_edges_it_is_measured_from_the_reference_s_path(heading: float) -> None:
    def found_(**places: float) -> list[tuple[str, float]]:
        return judged(corner_pass(on_path(heading=heading, **places), on_path(heading=heading), WHERE))

    assert found_() == []
    assert found_(entry=3.5) == [("narrow_entry", pytest.approx(2.5, abs=0.4))]
    assert found_(exit_=3.5) == [("narrow_exit", pytest.approx(2.6, abs=0.5))]
    assert found_(apex=3.4) == [("missed_apex", pytest.approx(2.7, abs=0.4))]


def test_without_edges_or_reference_it_is_measured_from_the_widest_clean_lap() -> None:
    shown = Shown()
    for entry in (0.5, 1.0, 0.8):
        rows = on_path(entry=entry, seconds=25.0)
        places = np.arange(0.0, 481.0)
        x, y = (np.interp(places, rows.d, rows[c]) for c in "xy")
        shown.learn(grid_lap(480.0, 24.0, x=x, y=y))
    for entry, expected in ((3.5, []), (6.5, ["narrow_entry"])):
        p = corner_pass(on_path(entry=entry), None, WHERE, shown=shown)
        assert [f for f, _ in judged(p)] == expected
    p = corner_pass(on_path(entry=6.5), None, WHERE)
    assert judged(p) == [] and list(FAMILY.measure(p)) == [], "no road was shown yet"


def test_without_edges_and_positions_nothing_is_said() -> None:
    p = corner_pass(stretch(12.0), stretch(12.0), WHERE)
    assert judged(p) == [] and FAMILY.settled(p) and list(FAMILY.measure(p)) == []


def test_what_is_measured_is_the_room() -> None:
    p = corner_pass(driven(entry=1.0, apex=0.7, exit_=1.3), driven(), WHERE)
    expected = {"entry_gap": 1.0, "exit_gap": 1.3, "apex_gap": 0.7}
    assert dict(FAMILY.measure(p)) == pytest.approx(expected, abs=0.15)
