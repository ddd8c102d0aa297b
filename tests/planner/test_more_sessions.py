"""What a new run, a new session and a new reference change, and what they leave as it was."""

from dataclasses import replace

import pytest

from coach.planner.planner import Planner
from coach.planner.playbook import CarClass
from coach.vocabulary.actions import QUIET, REPEAT, SPEAK, STATUS
from coach.vocabulary.events import (
    Action,
    Advice,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Moment,
    Passed,
    Reference,
    Stores,
    Stream,
)
from tests.planner.made_circuit import MARKS, drive, fault, lap_trace, planner, playbook
from tests.planner.session import NET, advice, begun, cues, held_back, late, practise, said

TRACE = lap_trace()
BARE = {"reminders": False, "summary_every": 0, "focus": False, "praise": False}


def session(
    plan: Planner, *laps: int, run: int = 1, t: float = 100.0, first: int = 1, then: dict[int, Event] | None = None
) -> list[Event]:
    """A run of so many laps, from lap `first` on, with late throttle in turn one on some; `then`: what comes after that
    lap."""
    out: list[Event] = []
    before: Moment | None = None
    waiting = list(MARKS)
    for made in drive(TRACE, laps=run, rate=25.0, t=t):
        moment = replace(made, lap=made.lap + first - 1)
        if before is not None and moment.lap != before.lap:
            out += plan.push(Lap(moment.t, before.lap, TRACE.time[-1], None, True, (), 0.1, TRACE.time[-1]))
            if then and before.lap in then:
                out += plan.push(replace(then[before.lap], t=moment.t))
            waiting = list(MARKS)
        while waiting and moment.distance is not None and moment.distance >= waiting[0].exit:
            mark = waiting.pop(0)
            hit = mark.corner == 1 and moment.lap in laps
            if hit:
                out += plan.push(replace(fault(), t=moment.t, lap=moment.lap))
            out += plan.push(Passed(moment.t, moment.lap, mark.corner, True, 0.2 if hit else NET))
        out += plan.push(moment)
        before = moment
    return out


def test_a_habit_lasts_over_a_reset_to_the_pits() -> None:
    plan = begun(planner(book=playbook(**BARE)))
    out = session(plan, 1, run=2)
    out += plan.push(Stream(200.0, 0, "reset", 200.0, 201.0))
    out += session(plan, 2, run=3, t=210.0)
    assert advice(out) == ["working on late throttle in turn 1: 0.10 s a lap"]


def test_another_driver_has_no_habits_yet() -> None:
    plan = begun(planner(book=playbook(**BARE)))
    out = session(plan, 1, run=2)
    begun(plan)
    out += session(plan, 2, run=3, t=210.0)
    assert advice(out) == []


def test_a_pass_of_the_run_before_does_not_silence_the_same_lap_and_corner() -> None:
    plan = begun(planner(book=playbook(**BARE)))
    out = session(plan, 1, run=1)
    out += plan.push(Stream(200.0, 0, "reset", 200.0, 201.0))
    out += session(plan, 1, run=1, t=210.0)
    assert said(out) == [(1, "Throttle sooner"), (1, "Throttle sooner")]


def test_the_silent_first_laps_begin_anew_with_each_run() -> None:
    plan = begun(planner(book=playbook({"first_laps": 1}, **BARE)))
    out = session(plan, 1, 2, run=2)
    out += plan.push(Stream(200.0, 0, "reset", 200.0, 201.0))
    out += session(plan, 5, 6, run=2, t=210.0, first=5)
    assert [cue.lap for cue in cues(out)] == [2, 6]


def test_each_run_begins_with_a_lap_with_cues() -> None:
    plan = begun(planner(book=playbook(alternate=True, **BARE)))
    out = session(plan, 1, 2, run=2)
    out += plan.push(Stream(200.0, 0, "reset", 200.0, 201.0))
    later = [replace(moment, lap=moment.lap + 1) for moment in drive(TRACE, laps=1, rate=25.0, t=210.0)]
    for moment in later:
        if moment.distance is not None and moment.distance >= 600.0 and len(cues(out)) == 1:
            out += plan.push(replace(fault(), t=moment.t, lap=2))
        out += plan.push(moment)
    assert [cue.lap for cue in cues(out)] == [1, 2]


def test_seconds_are_not_compared_over_a_change_of_reference() -> None:
    """The same clean passes; the lap that they are held against is another one from lap 4 on."""
    for then, words in (
        ({}, "Late throttle mended, two tenths"),
        ({3: Reference(0.0, 3, 44.0, "own", TRACE)}, "Late throttle mended"),
    ):
        plan = begun(planner(book=playbook(summary_every=0, reminders=False, focus=False)))
        out = session(plan, 1, 2, 3, run=7, then=dict(then))
        assert [cue.text for cue in cues(out, "praise")] == [words]


def test_losses_are_not_put_together_over_a_change_of_reference() -> None:
    lost = Loss(0.0, 0, (LossPart(1, "exit", 0.3),))
    for third, words in (
        (Reference(0.0, 3, 44.0, "own", TRACE), "All within range"),
        (lost, "Turn one costs three tenths"),
    ):
        plan = begun(planner(book=playbook(reminders=False)))
        out = session(plan, run=4, then={1: lost, 2: lost, 3: third})
        assert [text for _, text in said(out)] == [words]


def test_the_class_of_the_car_comes_from_the_run() -> None:
    made = playbook(**BARE)
    for cars, spoken in ((("made",), 0), (("another",), 1)):
        book = replace(made, cars=(CarClass("slow cars", cars, {}, net=0.5),))
        events = practise(planner(book=book), 1, late(1))
        assert len(cues(events)) == spoken


def test_a_corner_has_the_name_that_the_playbook_gives_it_on_this_track() -> None:
    for track, text in (("made", "Throttle sooner, the hairpin"), ("elsewhere", "Throttle sooner, turn two")):
        book = replace(playbook(**BARE), corners={track: {2: "the hairpin"}})
        assert [text for _, text in said(practise(planner(book=book), 1, late(1, corner=2)))] == [text]


def test_an_answer_is_out_of_date_after_a_minute() -> None:
    """Yellow flags for two laps of 45 s from where the answer is asked for."""

    def yellow(moment: Moment) -> Moment:
        return replace(moment, quiet="yellow") if moment.lap in (3, 4) else moment

    def stores(lap: int) -> Stores:
        return Stores(0.0, lap, None, 5.0, None)

    plan = planner(book=playbook(**BARE))
    events = practise(plan, 5, change=yellow, actions={3: STATUS}, stores=stores)
    assert said(events) == []
    assert held_back(events) == [(4, "silent: yellow")]


def test_who_asks_for_quiet_in_a_race_has_to_ask_for_the_rest_again() -> None:
    def racing(moment: Moment) -> Moment:
        return replace(moment, quiet="race")

    events = practise(
        planner(book=playbook(**BARE)), 5, late(1, 2, 3, 4), change=racing, actions={2: SPEAK, 3: QUIET, 4: REPEAT}
    )
    assert [(cue.lap, cue.kind, cue.about) for cue in cues(events)] == [
        (2, "status", None),
        (2, "correction", "late_throttle"),
        (3, "status", None),
        (4, "status", "late_throttle"),
    ]


def test_quiet_holds_for_what_is_self_inflicted_too() -> None:
    found: dict[tuple[int, int], str | Fault] = {(lap, 1): "lock_up" for lap in (1, 2, 3)}
    events = practise(planner(book=playbook(**BARE)), 3, found, actions={2: QUIET})
    assert [cue.lap for cue in cues(events, "correction")] == [1]


def test_an_answer_may_follow_on_a_straight_that_had_its_cue() -> None:
    """Asked on the long straight behind turn three, a second after the correction of that corner."""
    plan = begun(planner(book=playbook(**BARE)))
    out: list[Event] = []
    asked = found = False
    for moment in drive(TRACE, laps=1, rate=25.0):
        place = moment.distance or 0.0
        if place >= 1240.0 and not found:
            found, out = True, out + plan.push(replace(fault(corner=3), t=moment.t))
        if cues(out) and not asked:
            asked, out = True, out + plan.push(Action(moment.t, 1, REPEAT))
        out += plan.push(moment)
    first, second = cues(out)
    assert (first.kind, second.kind) == ("correction", "status")
    assert first.ends is not None and second.starts is not None
    assert second.starts == pytest.approx(first.ends + 2.0, abs=0.05)


def test_every_finding_of_what_was_asked_for_is_told_however_many_a_lap_has() -> None:
    found: dict[tuple[int, int], str | Fault] = {(lap, corner): "coasting" for lap in (1, 2, 3) for corner in (1, 3)}
    events = practise(planner(focus=("coasting",), book=playbook(corrections=1, **BARE)), 3, found)
    assert len(cues(events)) == 6


def test_a_report_of_laps_with_and_without_cues_needs_both() -> None:
    events = practise(planner(book=playbook(alternate=True, **BARE)), 2)
    assert [event for event in events if isinstance(event, Advice)] == []
