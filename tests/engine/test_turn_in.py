"""Early and late turn-in, judged on passes made by hand: how far off, and only where the corner suffered for it."""

from __future__ import annotations

from dataclasses import replace
from math import radians, sin

import numpy as np
import pytest

from coach.engine.faults.base import Finding
from coach.engine.faults.turning import TURN_IN_AT, TurnInFamily, turn_in
from coach.engine.ledger import Bounds
from coach.engine.roots import roots
from coach.engine.stretch import Stretch
from tests.engine.handmade import bounds, corner_pass, stretch

FAMILY = TurnInFamily()
SPEED = 20.0
WHERE = replace(bounds(braking=60.0, entry=100.0, apex=130.0, exit_=160.0, end=400.0), approach=-150.0)
RIGHT = replace(WHERE, mark=replace(WHERE.mark, direction="right"))
ROOM, HALF = 8.1, 0.95
TURNED = radians(60.0)
"""from the turn-in at 95 m to the apex"""


def driven(
    begins: float = 95.0,
    apex: float = 0.4,
    exit_: float = 0.5,
    rate: float = 60.0,
    seconds: float = 12.0,
    right: bool = False,
    shake: float = 0.0,
    slowly: float = 10.0,
    steers: bool = True,
) -> Stretch:
    """Turns in over 10 m about `begins`, with `apex` m of room inside and `exit_` m outside."""
    sign = -1.0 if right else 1.0
    rises = [begins - 0.3 * slowly, begins + 0.7 * slowly]

    def steer(t: float) -> float:
        d = SPEED * t
        held = float(np.interp(d, [*rises, 150.0, 170.0], [0.0, 0.2, 0.2, 0.0]))
        return sign * (held + shake * sin(40.0 * t))

    places = [0.0, 60.0, 95.0, 130.0, 165.0, 190.0, 260.0]
    room = [2.0, 1.5, 0.5, ROOM - apex, exit_, exit_ + 0.1, 2.0]

    def outside(t: float) -> float:
        return float(np.interp(SPEED * t, places, room))

    sides = {"edge_right": lambda t: outside(t) + HALF, "edge_left": lambda t: ROOM - outside(t) + HALF}
    if right:
        sides = {"edge_left": sides["edge_right"], "edge_right": sides["edge_left"]}
    turning = TURNED / (35.0 / SPEED)
    rows = stretch(seconds, rate, SPEED, steer=steer, yaw_rate=lambda t: turning * steer(t) / 0.2, **sides)
    if not steers:
        del rows.columns["steer"]
        rows.columns["steer"] = stretch(seconds, rate, SPEED)["steer"]
    return rows


def found(own: Stretch, reference: Stretch | None = None, where: Bounds = WHERE) -> list[Finding]:
    return FAMILY.judge(corner_pass(own, driven() if reference is None else reference, where))


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("off", [7.0, 12.0])
def test_late_by_as_much_as_it_is_where_the_apex_is_missed(off: float, rate: float) -> None:
    missed = off * sin(TURNED) * 0.8
    (late,) = found(driven(95.0 + off, apex=0.4 + missed, rate=rate), driven(rate=rate))
    assert (late.fault, late.unit) == ("late_turn_in", "m")
    assert late.size == pytest.approx(off, abs=0.3)
    assert late.distance == pytest.approx(95.0, abs=1.5) and late.begins == pytest.approx(95.0 / SPEED, abs=0.08)
    assert late.evidence["missed_apex"] == pytest.approx(missed, abs=0.3)


def test_early_where_the_exit_is_overrun_or_narrow_or_the_apex_missed() -> None:
    for places in ({"exit_": -1.5}, {"exit_": 3.5}, {"apex": 3.0}):
        (early,) = found(driven(85.0, **places))
        assert early.fault == "early_turn_in" and early.size == pytest.approx(10.0, abs=0.3)
        assert early.distance == pytest.approx(85.0, abs=1.5)


def test_a_turn_in_that_costs_no_road_is_a_choice() -> None:
    assert found(driven(85.0)) == [] and found(driven(107.0)) == []
    assert found(driven(107.0, exit_=3.5)) == [], "late in is wide out, not narrow"


def test_a_miss_that_the_shift_cannot_explain_has_another_cause() -> None:
    assert [f.fault for f in found(driven(102.0, apex=4.0))] == ["late_turn_in"]
    assert found(driven(101.0, apex=0.4 + 2.2 * 6.0)) == [], "6 m late misses by 5 m and not by 13"
    assert found(driven(98.0, apex=3.0)) == [], "0.15 s is nothing"


def test_a_right_hander_is_the_same_mirrored() -> None:
    own, reference = driven(105.0, apex=5.0, right=True), driven(right=True)
    assert [f.fault for f in found(own, reference, RIGHT)] == ["late_turn_in"]
    assert found(own, reference, WHERE) == []


def test_without_steering_angle_the_yaw_rate_tells() -> None:
    (late,) = found(driven(105.0, apex=5.0, steers=False), driven(steers=False))
    assert late.size == pytest.approx(10.0, abs=0.3)
    assert [f.fault for f in found(driven(105.0, apex=5.0), driven(steers=False))] == ["late_turn_in"]


def test_hands_that_shake_turn_in_where_they_do() -> None:
    p = corner_pass(driven(shake=0.03), driven(), WHERE)
    assert turn_in(p, p.own) == pytest.approx(turn_in(p, driven()) or 0.0, abs=1.5)
    assert dict(FAMILY.measure(p)) == pytest.approx({TURN_IN_AT: 95.0}, abs=1.5)


def test_lock_wound_on_slowly_is_no_turn_in() -> None:
    rows = driven(slowly=60.0)
    p = corner_pass(rows, rows, WHERE)
    assert turn_in(p, rows) is None and list(FAMILY.measure(p)) == []


def test_a_corner_that_another_flows_into_has_none() -> None:
    rows = driven(begins=70.0)
    p = corner_pass(rows, rows, replace(WHERE, approach=80.0))
    assert turn_in(p, rows) is None


@pytest.mark.parametrize("off", ["by_marks", "by_line"])
def test_without_marks_or_line_nothing_is_early_or_late(off: str) -> None:
    p = corner_pass(driven(105.0, apex=5.0), driven(), WHERE)
    assert len(FAMILY.judge(p)) == 1
    assert FAMILY.judge(replace(p, **{off: False})) == []
    assert FAMILY.judge(replace(p, reference=None)) == []


def test_the_late_turn_in_is_the_root_and_the_apex_its_effect() -> None:
    from coach.engine.faults.line import LineFamily

    p = corner_pass(driven(105.0, apex=5.0), driven(), WHERE)
    (root,) = roots([*LineFamily().judge(p), *FAMILY.judge(p)])
    assert root.fault == "late_turn_in" and root.also == ("missed_apex",)
