"""Of all findings of one pass the root is named: by what can follow from what, by time, by size."""

from __future__ import annotations

from itertools import permutations

import pytest

from coach.engine.faults.base import Finding
from coach.engine.passes import touched
from coach.engine.roots import AWARE, FOLLOWS, SECOND, SLACK, TOLD_ANYWAY, roots
from coach.vocabulary.faults import FAULTS


def found(fault: str, begins: float, strength: float = 1.5, **more: object) -> Finding:
    return Finding(fault, 10.0 * begins, begins, 1.0, "s", ("exit", "straight"), strength=strength, **more)  # type: ignore[arg-type]


def named(*findings: Finding) -> list[tuple[str, tuple[str, ...]]]:
    return [(f.fault, f.also) for f in roots(list(findings))]


PAIRS = sorted({(cause, effect) for cause, effects in FOLLOWS.items() for effect in effects if cause != effect})


def test_every_fault_has_its_row() -> None:
    assert set(FOLLOWS) == set(FAULTS)
    assert {effect for effects in FOLLOWS.values() for effect in effects} <= set(FAULTS)


def test_nothing_and_one() -> None:
    assert roots([]) == []
    assert named(found("late_throttle", 4.0)) == [("late_throttle", ())]


def test_early_brakes_so_slow_so_coasted_so_late() -> None:
    """The trade's own example (common practice), in whatever order the families speak."""
    chain = [("early_braking", 1.0), ("coasting", 3.0), ("over_slowed", 4.0), ("late_throttle", 5.0)]
    for order in permutations(chain):
        (root,) = roots([found(fault, at) for fault, at in order])
        assert root.fault == "early_braking"
        assert set(root.also) == {"coasting", "over_slowed", "late_throttle"}


@pytest.mark.parametrize(("cause", "effect"), PAIRS)
def test_what_can_follow_does_if_it_comes_later(cause: str, effect: str) -> None:
    told = [fault for fault, _ in named(found(cause, 5.0), found(effect, 5.1))]
    assert told == [cause, *([effect] if effect in TOLD_ANYWAY else [])]


@pytest.mark.parametrize(("cause", "effect"), PAIRS)
def test_no_cause_comes_after_its_effect(cause: str, effect: str) -> None:
    before = 5.0 - SLACK - AWARE.get(cause, 0.0) - 0.1
    told = named(found(cause, 5.0), found(effect, before, strength=SECOND))
    if cause in TOLD_ANYWAY:  # beside it nothing else is told, but it is not lost
        assert told[0] == (cause, (effect,)) or [fault for fault, _ in told] == [effect, cause]
    else:
        assert effect in [fault for fault, _ in told]


def test_an_effect_may_show_a_moment_before_its_cause() -> None:
    assert named(found("coasting", 3.0), found("early_downshift", 3.0 + 0.8 * SLACK)) == [
        ("early_downshift", ("coasting",))
    ]


def test_a_driver_lifts_before_the_car_is_off() -> None:
    assert named(found("throttle_lift", 5.0), found("off_track", 6.0)) == [("off_track", ("throttle_lift",))]


def test_late_throttle_sets_in_where_the_brakes_were_left() -> None:
    """Throttle is late from its place on, at 6 s, but the foot was idle from 4 s on: what came then came of that."""
    late = found("late_throttle", 6.0, since=4.0)
    assert named(late, found("coasting", 4.2)) == [("late_throttle", ("coasting",))]
    late = found("late_throttle", 6.0, since=4.0)
    assert named(late, found("over_slowed", 3.6)) == [("over_slowed", ("late_throttle",))]
    late = found("late_throttle", 6.0, since=4.0)
    assert late.origin == 4.0
    assert found("late_throttle", 6.0).origin == 6.0
    assert found("late_throttle", 6.0, since=7.0).origin == 6.0


def test_what_was_seen_not_to_be_the_cause_is_none() -> None:
    rolled = found("coasting", 3.0, since=1.0, not_from=("early_braking",))
    assert named(found("early_braking", 1.0), rolled) == [("coasting", ("early_braking",))]


@pytest.mark.parametrize(("strength", "roots_"), [(SECOND - 0.1, 1), (SECOND, 2), (5.0, 2)])
def test_a_second_root_must_be_plain(strength: float, roots_: int) -> None:
    """Late brakes do not make a late shift up."""
    told = named(found("early_braking", 1.0, 9.0), found("late_upshift", 8.0, strength))
    assert [fault for fault, _ in told] == ["early_braking", "late_upshift"][:roots_]
    assert told[0][1] == (() if roots_ == 2 else ("late_upshift",)), "nothing is lost"


def test_there_are_two_at_most_and_the_worse_comes_first() -> None:
    told = named(found("early_braking", 1.0, 3.0), found("late_upshift", 8.0, 5.0), found("lock_up", 0.5, 4.0))
    assert [fault for fault, _ in told] == ["late_upshift", "lock_up"]
    assert set(told[0][1]) | set(told[1][1]) == {"early_braking"}


@pytest.mark.parametrize("spoilt", TOLD_ANYWAY)
def test_what_spoils_a_lap_is_told_beside_its_root(spoilt: str) -> None:
    told = named(found("wheelspin", 4.0), found(spoilt, 5.0))
    assert told == [("wheelspin", (spoilt,)), (spoilt, ())]
    assert named(found("late_upshift", 2.0, 50.0), found(spoilt, 5.0, 2.0)) == [(spoilt, ("late_upshift",))]


def test_the_same_fault_twice_is_told_once() -> None:
    assert named(found("late_throttle", 4.0), found("late_throttle", 5.0)) == [("late_throttle", ())]
    assert named(found("lock_up", 1.0), found("lock_up", 2.0, 4.0), found("missed_apex", 3.0)) == [
        ("lock_up", ("missed_apex",))
    ]


def test_a_root_bears_the_phases_of_what_came_of_it() -> None:
    early = Finding("early_braking", 10.0, 1.0, 15.0, "m", ("braking", "entry"))
    late = Finding("late_throttle", 90.0, 4.0, 0.4, "s", ("exit", "straight"))
    (root,) = roots([late, early])
    assert root.phases == ("braking", "entry", "exit", "straight")
    alone = Finding("late_throttle", 90.0, 4.0, 0.4, "s", ("exit", "straight"))
    assert roots([alone])[0].phases == ("exit", "straight")


def test_a_fault_touches_all_from_its_first_phase_on() -> None:
    assert touched(found("late_throttle", 4.0)) == ("exit", "straight")
    assert touched(Finding("early_braking", 0.0, 0.0, 1.0, "m", ("entry", "braking"))) == (
        *("braking", "entry", "exit", "straight"),
    )
    assert touched(Finding("over_slowed", 0.0, 0.0, 1.0, "m/s", ())) == ()


def test_what_a_family_said_of_its_own_stays() -> None:
    soft = found("soft_braking", 1.0, also=("early_braking",))
    assert named(soft, found("over_slowed", 3.0)) == [("soft_braking", ("early_braking", "over_slowed"))]


def test_none_is_lost_and_none_is_told_twice() -> None:
    """Any three faults at any times: each is named once as a root, or stands in an `also`."""
    kinds = ["early_braking", "late_throttle", "rear_step_out", "missed_apex", "late_upshift", "spin"]
    for trio in permutations(kinds, 3):
        for times in permutations((1.0, 1.2, 4.0)):
            told = named(*(found(fault, at) for fault, at in zip(trio, times, strict=True)))
            heads = [fault for fault, _ in told]
            assert len(set(heads)) == len(heads) <= 3
            assert set(trio) == {*heads, *(effect for _, also in told for effect in also)}
