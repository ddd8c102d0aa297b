"""The marks of a pass: where the brakes came, the road left at apex and exit, and when nothing is told of them."""

from __future__ import annotations

from dataclasses import replace
from statistics import median

import pytest

from coach.engine.faults.braking import POINT, PRIOR_POINT
from coach.engine.faults.room import room_of
from coach.engine.marks import marks_of
from coach.engine.scatter import Scatter
from coach.vocabulary.events import Mark, Passed
from coach.vocabulary.marks import APEX, BRAKE, EXIT
from coach.vocabulary.sample import Sample
from tests.engine.cornering import BRAKE_AT, Leg, passed, usual_legs
from tests.engine.driving import lap_of, practice, push, samples, start, studied
from tests.engine.handmade import corner_pass
from tests.engine.test_braking import early, late
from tests.engine.test_road_use import WHERE, driven

ALL = {"braking", "line"}


def brake(legs: list[Leg], **more: object) -> Mark:
    (mark,) = marks_of(passed(legs, **more), {"braking"})  # type: ignore[arg-type]
    return mark


def across(apex: float, exit_: float, **more: object) -> dict[str, Mark]:
    p = corner_pass(driven(apex=apex, exit_=exit_), driven(), WHERE, **more)  # type: ignore[arg-type]
    return {mark.name: mark for mark in marks_of(p, {"line"})}


@pytest.mark.parametrize(("by", "hit"), [(0.0, True), (3.0, True), (25.0, False)])
def test_a_brake_point_is_so_many_metres_off_the_references(by: float, hit: bool) -> None:
    """`by` is what the driver was made to do."""
    for legs, off in ((early(by), -by), (late(by), by)):
        mark = brake(legs)
        assert (mark.name, mark.hit) == (BRAKE, hit)
        assert mark.off == pytest.approx(off, abs=1.0)
        assert mark.at == pytest.approx(BRAKE_AT + off, abs=1.0)


def test_own_scatter_excuses_some_of_it_and_never_two_car_lengths_and_more() -> None:
    """9 m, or 0.25 s at the speed at which the brakes come: see `MOST_METRES`, `MOST_EARLY`."""
    wild = Scatter()
    for value in range(20):
        wild.add(1, POINT, BRAKE_AT + (30.0 if value % 2 else -30.0))
    assert wild.spread(1, POINT, PRIOR_POINT) > 15.0
    calm, excused = brake(usual_legs()), brake(usual_legs(), scatter=wild)
    assert excused.allowed > calm.allowed
    assert excused.allowed == pytest.approx(max(9.0, 0.25 * passed(usual_legs()).own["speed"][0]), rel=0.05)
    assert brake(early(25.0), scatter=wild).hit is False


def test_between_the_reference_and_what_its_driver_usually_did_nothing_is_off() -> None:
    usual = {(1, POINT): BRAKE_AT + 8.0}
    assert brake(late(5.0), usual=usual).off == 0.0
    assert brake(usual_legs(), usual=usual).off == pytest.approx(0.0, abs=1.0)


def test_apex_and_exit_are_metres_of_road_left_beyond_the_references() -> None:
    """The reference leaves 0.4 m inside and 0.5 m outside; half a car and a margin, 1.1 m, is a hit."""
    same, wide = across(0.4, 0.5), across(2.4, 2.1)
    assert [same[name].off for name in (APEX, EXIT)] == pytest.approx([0.0, 0.0], abs=0.05)
    assert [wide[name].off for name in (APEX, EXIT)] == pytest.approx([2.0, 1.6], abs=0.1)
    assert [wide[name].at for name in (APEX, EXIT)] == pytest.approx([2.4, 2.1], abs=0.1)
    assert [same[name].hit for name in (APEX, EXIT)] == [True, True]
    assert [wide[name].hit for name in (APEX, EXIT)] == [False, False]
    assert same[APEX].allowed == 1.1


def test_beyond_the_edge_is_a_miss_too() -> None:
    assert across(0.4, -1.5)[EXIT].hit is False


def test_without_a_reference_places_are_told_and_whether_they_are_hit_is_not() -> None:
    p = replace(corner_pass(driven(), None, WHERE), by_marks=False)
    marks = {mark.name: mark for mark in marks_of(p, ALL)}
    assert {name: (mark.off, mark.hit) for name, mark in marks.items()} == {APEX: (None, None), EXIT: (None, None)}
    assert marks[EXIT].at == pytest.approx(0.5, abs=0.1)
    lone = replace(passed(usual_legs()), reference=None, by_marks=False)
    (mark,) = marks_of(lone, {"braking"})
    assert (mark.off, mark.hit) == (None, None)
    assert mark.at == pytest.approx(BRAKE_AT, abs=1.0)


def test_a_family_that_does_not_see_has_no_marks() -> None:
    p = corner_pass(driven(), driven(), WHERE)
    assert room_of(p) is not None
    assert marks_of(p, ()) == ()


def test_the_exit_of_a_car_that_was_held_up_is_neither_hit_nor_missed() -> None:
    slow = corner_pass(driven(speed=12.0, seconds=20.0, exit_=3.0), driven(), WHERE)
    marks = {mark.name: mark for mark in marks_of(slow, {"line"})}
    assert marks[EXIT].off is None
    assert marks[EXIT].at == pytest.approx(3.0, abs=0.2)


def passes(stream: list[Sample]) -> list[Passed]:
    return [event for event in push(stream, start(studied())) if isinstance(event, Passed)]


def test_a_whole_drive_hits_its_own_references_marks() -> None:
    """The reference's own laps, driven again: each corner of each flying lap shows its marks, and hits them."""
    found = passes(list(samples(practice().rows)))
    marks = [mark for one in found for mark in one.marks]
    assert len(found) >= 20
    assert {mark.name for mark in marks} == {BRAKE, APEX, EXIT}
    hits = [mark.hit for mark in marks if mark.hit is not None]
    assert len(hits) > 40
    assert sum(hits) / len(hits) > 0.97
    assert median(abs(mark.off) for mark in marks if mark.name == BRAKE and mark.off is not None) < 2.0


def test_nobody_keeps_to_the_marks_behind_another_car() -> None:
    stream = [replace(sample, beside="left") for sample in samples(lap_of().rows)]
    assert all(one.marks == () for one in passes(stream))
    assert any(one.marks for one in passes(list(samples(lap_of().rows))))
