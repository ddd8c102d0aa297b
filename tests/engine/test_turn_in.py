"""Early and late turn-in, judged on passes made by hand: how far off, and only where the corner suffered for it."""

from __future__ import annotations

from array import array
from dataclasses import replace
from math import radians, sin

import numpy as np
import pytest

from coach.engine.faults.base import Finding
from coach.engine.faults.line import LineFamily
from coach.engine.faults.turning import TURN_IN_AT, TurnInFamily, turn_in
from coach.engine.ledger import Bounds
from coach.engine.roots import roots
from coach.engine.stretch import Stretch
from coach.engine.tape import NAN
from tests.engine.handmade import bounds, corner_pass, stretch

FAMILY = TurnInFamily()
SPEED = 20.0
WHERE = replace(bounds(braking=60.0, entry=100.0, apex=130.0, exit_=160.0, end=400.0), approach=-150.0)
RIGHT = replace(WHERE, mark=replace(WHERE.mark, direction="right"))
ROOM, HALF = 8.1, 0.95
TURNED = radians(60.0)
"""rad from the turn-in to the apex"""
BEGUN = 98.5
"""m, where a tenth of it is turned: 5 m of way at half the rate to 95 m on average, and 3.5 m at the whole rate"""


def driven(
    begins: float = 95.0,
    apex: float = 0.4,
    exit_: float = 0.5,
    rate: float = 60.0,
    seconds: float = 12.0,
    right: bool = False,
    shake: float = 0.0,
    turned: float = TURNED,
) -> Stretch:
    """Begins to turn 5 m before `begins`, wholly 5 m behind, with `apex` m of room inside and `exit_` m outside.

    At 20 m/s and `turned` rad in the 35 m up to an apex at 130 m; the hands `shake` by this share.
    """
    wholly = turned / (35.0 / SPEED) * (-1.0 if right else 1.0)

    def turns(t: float) -> float:
        held = np.interp(SPEED * t, [begins - 5.0, begins + 5.0, 150.0, 170.0], [0.0, 1.0, 1.0, 0.0])
        return wholly * (float(held) + shake * sin(40.0 * t))

    places = [0.0, 60.0, 95.0, 130.0, 165.0, 190.0, 260.0]
    room = [2.0, 1.5, 0.5, ROOM - apex, exit_, exit_ + 0.1, 2.0]

    def outside(t: float) -> float:
        return float(np.interp(SPEED * t, places, room))

    sides = {"edge_right": lambda t: outside(t) + HALF, "edge_left": lambda t: ROOM - outside(t) + HALF}
    if right:
        sides = {"edge_left": sides["edge_right"], "edge_right": sides["edge_left"]}
    return stretch(seconds, rate, SPEED, yaw_rate=turns, **sides)


def found(own: Stretch, reference: Stretch | None = None, where: Bounds = WHERE) -> list[Finding]:
    return FAMILY.judge(corner_pass(own, driven() if reference is None else reference, where))


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("off", [7.0, 9.0])
def test_late_by_as_much_as_it_is_where_the_apex_is_missed(off: float, rate: float) -> None:
    missed = off * sin(TURNED) * 0.8
    (late,) = found(driven(95.0 + off, apex=0.4 + missed, rate=rate), driven(rate=rate))
    assert (late.fault, late.unit) == ("late_turn_in", "m")
    assert late.size == pytest.approx(off, abs=0.6)  # half a sample at 20 Hz
    assert late.distance == pytest.approx(BEGUN, abs=1.0) and late.begins == pytest.approx(BEGUN / SPEED, abs=0.05)
    assert late.evidence["missed_apex"] == pytest.approx(missed, abs=0.3)


def test_early_where_the_exit_is_overrun_or_narrow_or_the_apex_missed() -> None:
    for places in ({"exit_": -1.5}, {"exit_": 3.5}, {"apex": 3.0}):
        (early,) = found(driven(85.0, **places))
        assert early.fault == "early_turn_in" and early.size == pytest.approx(10.0, abs=0.3)
        assert early.distance == pytest.approx(BEGUN - 10.0, abs=1.0)


def test_a_turn_in_that_costs_no_road_is_a_choice() -> None:
    assert found(driven(85.0)) == [] and found(driven(107.0)) == []
    assert found(driven(107.0, exit_=3.5)) == [], "late in is wide out, not narrow"


def test_a_miss_that_the_shift_cannot_explain_has_another_cause() -> None:
    assert [f.fault for f in found(driven(101.0, apex=4.4))] == ["late_turn_in"]
    gentle = driven(turned=radians(15.0))
    assert found(driven(101.0, apex=4.4), gentle) == [], "6 m late in a gentle bend misses by 1.6 m and not by 4"
    assert found(driven(98.0, apex=3.0)) == [], "0.15 s is nothing"


def test_a_right_hander_is_the_same_mirrored() -> None:
    own, reference = driven(105.0, apex=5.0, right=True), driven(right=True)
    assert [f.fault for f in found(own, reference, RIGHT)] == ["late_turn_in"]
    assert found(own, reference, WHERE) == []


def test_without_yaw_rate_lateral_acceleration_tells() -> None:
    own, reference = driven(105.0, apex=8.0), driven()
    for rows in (own, reference):
        rows.columns["ay"] = array("d", [SPEED * rate for rate in rows["yaw_rate"]])
        rows.columns["yaw_rate"] = array("d", [NAN] * len(rows))
    (late,) = found(own, reference)
    assert late.size == pytest.approx(10.0, abs=0.3)
    for rows in (own, reference):
        rows.columns["ay"] = rows.columns["yaw_rate"]
    p = corner_pass(own, reference, WHERE)
    assert found(own, reference) == [] and list(FAMILY.measure(p)) == []


def test_hands_that_shake_turn_in_where_they_do() -> None:
    p = corner_pass(driven(shake=0.1), driven(), WHERE)
    assert dict(FAMILY.measure(p)) == pytest.approx({TURN_IN_AT: turn_in(p, driven())}, abs=1.0)


def test_turning_away_first_begins_nothing() -> None:
    """From the inside of the road back to its outer edge and then in: begun where it turns in."""
    own = driven(95.0)
    own.columns["yaw_rate"] = array(
        "d", [-0.2 if 60.0 < d < 80.0 else rate for d, rate in zip(own.d, own["yaw_rate"], strict=True)]
    )
    p = corner_pass(own, driven(), WHERE)
    assert turn_in(p, own) == pytest.approx(turn_in(p, driven()), abs=0.1)


@pytest.mark.parametrize("off", ["by_marks", "by_line"])
def test_without_marks_or_line_nothing_is_early_or_late(off: str) -> None:
    p = corner_pass(driven(105.0, apex=5.0), driven(), WHERE)
    assert len(FAMILY.judge(p)) == 1
    assert FAMILY.judge(replace(p, **{off: False})) == []
    assert FAMILY.judge(replace(p, reference=None)) == []


def test_the_late_turn_in_is_the_root_and_the_apex_its_effect() -> None:
    p = corner_pass(driven(105.0, apex=5.0), driven(), WHERE)
    (root,) = roots([*LineFamily().judge(p), *FAMILY.judge(p)])
    assert root.fault == "late_turn_in" and root.also == ("missed_apex",)
