"""Which corner is reminded of, and when none is."""

from dataclasses import replace

import pytest

from coach.vocabulary.actions import QUIET
from coach.vocabulary.events import CornerMark, Cue, Fault, Moment
from tests.planner.made_circuit import MARKS, PARTS, Part, fault, lap_trace, planner, playbook
from tests.planner.session import cues, late, practise

TRACE = lap_trace()
ONLY = {"summary_every": 0, "focus": False, "praise": False}


def moved(mark: CornerMark, by: float) -> CornerMark:
    places = {name: getattr(mark, name) + by for name in ("brake", "entry", "apex", "exit")}
    return replace(mark, apexes=tuple(apex + by for apex in mark.apexes), **places)


def test_what_improves_is_not_reminded_of() -> None:
    """Lap 4 is clean, so the slip of lap 5 is let pass; it is not to come back as a reminder on lap 6."""
    reminders = cues(practise(planner(book=playbook(**ONLY)), 6, late(1, 2, 3, 5)), "reminder")
    assert [cue.lap for cue in reminders] == [3]


def test_of_what_was_told_only_the_costliest_corner_is_reminded_of() -> None:
    found: dict[tuple[int, int], str | Fault] = {}
    for lap in range(1, 8):
        found[lap, 1] = fault(net=0.4, cost=0.4)
        found[lap, 2] = fault(net=0.1, cost=0.1)
    reminders = cues(practise(planner(book=playbook(**ONLY)), 8, found), "reminder")
    assert {cue.corner for cue in reminders} == {1}


def test_who_asked_for_quiet_is_not_reminded() -> None:
    events = practise(planner(book=playbook(**ONLY)), 7, late(*range(1, 8)), actions={3: QUIET})
    assert cues(events, "reminder") == []


def until(metres: float, moment: Moment) -> Moment:
    """Yellow flags from shortly before the line on up to there."""
    here = moment.distance
    return replace(moment, quiet="yellow") if here is not None and (here < metres or here > 1800.0) else moment


@pytest.mark.parametrize(("metres", "said"), [(100.0, True), (200.0, False), (400.0, False)])
def test_under_a_flag_it_waits_and_under_four_seconds_before_the_brakes_it_is_too_late(
    metres: float, said: bool
) -> None:
    """The brakes of turn one are at 400 m; at 60 m/s 100 m are 5 s before them, 200 m 3.3 s."""
    plan = planner(book=playbook(**ONLY))
    events = practise(plan, 6, late(*range(1, 7)), change=lambda moment: until(metres, moment))
    assert bool(cues(events, "reminder")) is said
    assert len(cues(events, "correction")) == 6


def test_on_a_long_straight_it_comes_eight_seconds_before_the_brakes() -> None:
    """900 m at 60 m/s between line and turn one are 15 s."""
    trace, marks = lap_trace((Part(900.0, 60.0), *PARTS[1:])), tuple(moved(mark, 500.0) for mark in MARKS)
    events = practise(planner(book=playbook(**ONLY)), 4, late(1, 2, 3), trace=trace, marks=marks)
    (cue,) = cues(events, "reminder")
    assert cue.starts is not None
    passed = (cue.starts - 100.0) % trace.time[-1]
    assert trace.at(trace.time, 900.0) - passed == pytest.approx(8.0, abs=0.1)


@pytest.mark.parametrize(("metres", "said"), [(84.0, False), (110.0, True)])
def test_a_second_is_left_between_it_and_the_brakes(metres: float, said: bool) -> None:
    """It takes 0.8 s and cannot begin until 0.2 s after turn one: 84 m at 45 m/s leave 0.87 s, 110 m 1.4 s."""
    trace = lap_trace((*PARTS[:4], Part(metres, 45.0), *PARTS[5:]))
    marks = (MARKS[0], *(moved(mark, metres - 300.0) for mark in MARKS[1:]))
    events = practise(planner(book=playbook(**ONLY)), 5, late(1, 2, 3, 4, corner=2), trace=trace, marks=marks)
    assert bool(cues(events, "reminder")) is said


def test_a_correction_has_the_first_second_and_a_half_where_the_straight_is_long_enough() -> None:
    """The straight between turns one and two takes 6.7 s, and the reminder keeps four before the brakes."""
    events = practise(planner(book=playbook(**ONLY)), 5, late(1, 2, 3, 4, corner=2))
    trace = lap_trace()
    for cue in cues(events, "reminder"):
        assert cue.starts is not None
        passed = (cue.starts - 100.0) % trace.time[-1]
        assert 4.0 <= trace.at(trace.time, MARKS[1].brake) - passed <= 5.3
    assert cues(events, "reminder")


def test_laps_that_were_not_judged_are_no_improvement() -> None:
    events = practise(planner(book=playbook(**ONLY)), 5, late(1, 2, 3), judged=lambda lap, corner: lap < 4)
    assert [cue.lap for cue in cues(events, "reminder")] == [3, 5]


def yellow_behind_the_corners(moment: Moment) -> Moment:
    """But for the last 400 m before turn one, where it is too late for a correction: each finding waits in vain."""
    return replace(moment, quiet="yellow") if moment.distance is not None and moment.distance > 400.0 else moment


@pytest.mark.parametrize(("alternate", "laps"), [(False, [3, 4, 5, 6]), (True, [3, 5])])
def test_a_lap_without_cues_has_none(alternate: bool, laps: list[int]) -> None:
    plan = planner(book=playbook(alternate=alternate, **ONLY))
    events = practise(plan, 6, late(*range(1, 7)), change=yellow_behind_the_corners)
    assert [cue.lap for cue in cues(events, "reminder")] == laps


def test_none_comes_while_the_car_is_not_settled() -> None:
    """Off in turn three on lap 4: for 30 s nothing is said, and turn one of lap 5 comes in 20 s."""
    habit = late(1, 2, 3, 4, 5, 6)
    for found, said in ((habit, 1), (habit | {(4, 3): "off_track"}, 0)):
        plan = planner(book=playbook({"after_incident": 30.0}, **ONLY))
        reminders = [cue.starts for cue in cues(practise(plan, 5, found), "reminder")]
        off = 100.0 + 3 * TRACE.time[-1] + TRACE.at(TRACE.time, 1240.0)
        assert sum(starts is not None and off <= starts < off + 20.0 for starts in reminders) == said


def test_a_finding_that_a_reminder_speaks_of_has_no_other_cue() -> None:
    plan = planner(focus=("late_throttle",), book=playbook(**ONLY))
    events = practise(plan, 4, late(1, 2, 3), change=yellow_behind_the_corners)
    of = [(finding.lap, cue.kind) for cue in events if isinstance(cue, Cue) for finding in cue.of]
    assert sorted(of) == [(1, "correction"), (2, "reminder"), (3, "reminder")]


def test_one_finding_is_not_reminded_of_lap_after_lap() -> None:
    """From lap 3 on the passes are not judged, so the finding of lap 2 stays the last that is known."""
    plan = planner(focus=("late_throttle",), book=playbook(**ONLY))
    events = practise(plan, 5, late(1, 2), change=yellow_behind_the_corners, judged=lambda lap, corner: lap < 3)
    assert [cue.lap for cue in cues(events, "reminder")] == [3, 5]
