"""A reminder comes on the straight before the corner that is worked on, four to eight seconds before its brakes."""

from dataclasses import replace

import pytest

from coach.vocabulary.events import CornerMark, Moment, Spoken
from tests.planner.made_circuit import MARKS, PARTS, Part, lap_trace, planner, playbook
from tests.planner.session import cues, late, practise

TRACE = lap_trace()
ONLY = {"summary_every": 0, "focus": False, "praise": False}


def lead(starts: float | None, brake: float) -> float:
    """s from there to the brake point, driven at the reference's pace from 100 s on at the line."""
    assert starts is not None
    passed = (starts - 100.0) % TRACE.time[-1]
    return (TRACE.at(TRACE.time, brake) - passed) % TRACE.time[-1]


def test_it_names_the_corner_and_what_to_do_four_to_eight_seconds_before_the_brakes() -> None:
    """The straight before turn one lasts 21 s and holds the line."""
    reminders = cues(practise(planner(book=playbook(**ONLY)), 5, late(1, 2, 3, 4)), "reminder")
    assert reminders
    assert {(cue.text, cue.about, cue.corner) for cue in reminders} == {
        ("Turn one, throttle sooner", "late_throttle", 1)
    }
    assert all(4.0 <= lead(cue.starts, MARKS[0].brake) <= 8.0 for cue in reminders)


def test_it_needs_the_fault_twice_in_a_row_and_comes_every_other_lap() -> None:
    """Help that always comes is leaned on."""
    laps = [cue.lap for cue in cues(practise(planner(book=playbook(**ONLY)), 8, late(*range(1, 9))), "reminder")]
    assert laps == [3, 5, 7]
    assert cues(practise(planner(book=playbook(**ONLY)), 8, late(1, 2)), "reminder")[1:] == []


def test_a_finding_that_found_no_room_is_what_the_next_reminder_speaks_of() -> None:
    """Yellow flags lie over all but the last 400 m before turn one: too late there for a correction."""

    def yellow(moment: Moment) -> Moment:
        return replace(moment, quiet="yellow") if moment.distance is not None and moment.distance > 400.0 else moment

    plan = planner(focus=("late_throttle",), book=playbook(**ONLY))
    events = practise(plan, 4, late(1, 2, 3), change=yellow)
    assert [(cue.kind, cue.lap, cue.of) for cue in cues(events)] == [
        ("reminder", 3, (Spoken(2, 1, "late_throttle"),)),
        ("reminder", 4, (Spoken(3, 1, "late_throttle"),)),
    ]


def test_on_a_straight_too_short_it_comes_as_soon_as_it_may_or_not_at_all() -> None:
    """Turn two's straight, 600 to 900 m, lasts 6.7 s; shortened it gives less than four."""
    for metres, any_said in ((300.0, True), (150.0, True), (60.0, False)):
        parts = (*PARTS[:4], Part(metres, 45.0), *PARTS[5:])
        shift = metres - 300.0
        marks = (MARKS[0], *(moved(mark, shift) for mark in MARKS[1:]))
        book = playbook(**ONLY)
        events = practise(planner(book=book), 5, late(1, 2, 3, 4, corner=2), trace=lap_trace(parts), marks=marks)
        reminders = cues(events, "reminder")
        assert bool(reminders) is any_said, metres
        assert all(
            cue.ends is not None and cue.deadline is not None and cue.ends <= cue.deadline - 0.5 for cue in reminders
        )


def moved(mark: CornerMark, by: float) -> CornerMark:
    return replace(
        mark,
        brake=mark.brake + by,
        entry=mark.entry + by,
        apex=mark.apex + by,
        exit=mark.exit + by,
        apexes=tuple(apex + by for apex in mark.apexes),
    )


def test_for_a_corner_in_a_linked_run_it_comes_before_the_run() -> None:
    """Turn three follows turn two with no straight between that is worth the name."""
    events = practise(planner(book=playbook(**ONLY)), 5, late(1, 2, 3, 4, corner=3))
    reminders = cues(events, "reminder")
    assert {cue.text for cue in reminders} == {"Turn three, throttle sooner"}
    assert all(lead(cue.starts, MARKS[1].brake) < 6.7 for cue in reminders)


def test_a_correction_of_the_corner_before_goes_first_where_there_is_room_for_one() -> None:
    """The straight before turn two is the one behind turn one: what was found there is news, the reminder is not."""
    found = late(*range(1, 7), corner=2) | {(lap, 1): "late_throttle" for lap in (1, 2, 3, 4, 5)}
    events = practise(planner(book=playbook(**ONLY)), 6, found)
    on_the_straight = [cue for cue in cues(events) if cue.corner == 1 and cue.kind == "correction"]
    assert len(on_the_straight) >= 4


@pytest.mark.parametrize("talk", [{"reminders": False}])
def test_a_playbook_may_leave_them_out(talk: dict[str, bool]) -> None:
    assert cues(practise(planner(book=playbook(**(ONLY | talk))), 5, late(1, 2, 3, 4)), "reminder") == []
