"""Drives that once went wrong: topics that block, second runs, faults without a corner, fuel, laps that alternate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from coach.planner.planner import Planner
from coach.planner.record import Record
from coach.vocabulary.actions import REPEAT
from coach.vocabulary.events import (
    Action,
    Advice,
    Event,
    Fault,
    Lap,
    Passed,
    Reference,
    Stores,
    Stream,
)
from tests.planner.made_circuit import (
    MARKS,
    PARTS,
    Part,
    drive,
    fault,
    lap_trace,
    leaving,
    planner,
    play,
    playbook,
)
from tests.planner.session import NET, advice, begun, cues, late, practise, said

TRACE = lap_trace()
BARE = {"reminders": False, "summary_every": 0, "focus": False, "praise": False}


def costing(name: str, cost: float, **more: Any) -> Fault:
    return fault(name, net=cost, cost=cost, **more)


@pytest.mark.parametrize("comes", [lambda n: n % 2 == 1, lambda n: n % 3 != 0, lambda n: n % 3 == 1])
def test_a_cheap_topic_that_comes_now_and_then_does_not_block_a_dear_habit_for_ever(comes) -> None:
    found = {(n, 1): costing("late_throttle", 0.1) for n in range(1, 40) if comes(n) or n < 4}
    found |= {(n, 3): costing("coasting", 0.5) for n in range(6, 40)}
    events = practise(planner(book=playbook(**BARE)), 40, found, rate=10)
    assert any(cue.about == "coasting" for cue in cues(events)), advice(events)


def test_a_topic_that_got_better_once_and_then_no_more_gives_way() -> None:
    found = {(n, k): costing("late_throttle", 0.1) for n in range(1, 5) for k in (1, 2, 3)}
    found |= {(n, k): costing("late_throttle", 0.1) for n in range(5, 30) for k in (1, 2)}
    found |= {(n, 3): costing("coasting", 0.5) for n in range(6, 30)}
    assert any("coasting" in text for text in advice(practise(planner(book=playbook(**BARE)), 30, found, rate=10)))


def test_a_topic_whose_words_fit_nowhere_gives_way() -> None:
    from tests.planner.made_circuit import phrases

    plan = planner(book=playbook(**BARE), lengths={text: 60.0 for text in phrases() if "hrottle" in text})
    found = {(n, 1): costing("late_throttle", 0.6) for n in range(1, 20)} | {
        (n, 3): costing("coasting", 0.5) for n in range(1, 20)
    }
    events = practise(plan, 20, found, rate=10)
    assert max(cue.lap for cue in cues(events)) > 10, said(events)


def test_a_beginner_by_the_gap_works_on_the_line_first_from_the_first_topic_on() -> None:
    found = {(n, 3): costing("late_throttle", 0.5) for n in range(1, 8)} | {
        (n, 1): costing("narrow_exit", 0.2) for n in range(1, 8)
    }
    assert "working on narrow exit" in advice(practise(planner(book=playbook(**BARE)), 7, found, delta=5.0))[0]


def test_fuel_is_said_whatever_is_worked_on() -> None:
    found = {(n, k): costing("late_throttle", 0.3) for n in range(1, 12) for k in (1, 3)}
    events = practise(planner(), 11, found, stores=lambda n: Stores(0.0, n, 20.0 - 2.0 * n, 30.0, None))
    assert [text for _, text in said(events) if text.startswith("Fuel")]


def test_fuel_is_no_coaching_and_comes_on_laps_without_cues_too() -> None:
    events = practise(
        planner(book=playbook(alternate=True, **BARE)), 6, stores=lambda n: Stores(0.0, n, 16.0 - 2.0 * n, 30.0, None)
    )
    assert [lap for lap, text in said(events) if text.startswith("Fuel")] == [4, 5, 6]


def runs(
    plan: Planner, schedule: list[float], found: dict[tuple[int, int, int], Fault], t: float = 100.0
) -> list[Event]:
    """Runs of so many laps each, each counted from 1; findings by run, lap and corner."""
    out = []
    for run, laps in enumerate(schedule, 1):
        if run > 1:
            out += plan.push(Stream(t, 0, "reset", t, t + 1))
            t += 5
        before, waiting = None, list(MARKS)
        for moment in drive(TRACE, laps=laps, rate=10, t=t):
            if before is not None and moment.lap != before.lap:
                out += plan.push(Lap(moment.t, before.lap, 45.1, None, True, (), 0.1, 45.0))
                waiting = list(MARKS)
            while waiting and moment.distance >= waiting[0].exit:
                mark = waiting.pop(0)
                made = found.get((run, moment.lap, mark.corner))
                if made:
                    out += plan.push(replace(made, t=moment.t, lap=moment.lap, corner=mark.corner, distance=mark.apex))
                out += plan.push(Passed(moment.t, moment.lap, mark.corner, True, made.net if made else NET))
            out += plan.push(moment)
            before = moment
        t = before.t
    return out + plan.finish()


def test_the_same_lap_number_in_another_run_is_another_pass() -> None:
    """The first lap of three runs: twice it is a habit."""
    found = {(run, 1, 1): costing("late_throttle", 0.2) for run in (1, 2, 3)}
    events = runs(begun(planner(book=playbook(**BARE))), [1.3, 1.3, 1.3], found)
    assert [cue.text for cue in cues(events)] == ["Throttle sooner"] * 3
    assert advice(events)[0].startswith("working on late throttle")


def test_reminders_go_on_in_a_second_run() -> None:
    found = {(r, n, 1): costing("late_throttle", 0.3) for r in (1, 2) for n in range(1, 7)}
    events = runs(begun(planner(book=playbook(summary_every=0, focus=False))), [6.3, 6.3], found)
    reminders = [cue for cue in cues(events, "reminder") if cue.t > 390.0]
    assert [cue.lap for cue in reminders][:2] in ([2, 4], [3, 5], [1, 3])


def test_a_topic_put_aside_on_lap_8_is_not_aside_for_18_laps_of_the_next_run() -> None:
    found = {(1, n, 1): costing("late_throttle", 0.3) for n in range(1, 13)} | {
        (1, n, 3): costing("coasting", 0.1) for n in range(1, 13)
    }
    found |= {(2, n, 1): costing("late_throttle", 0.3) for n in range(1, 25)}
    events = runs(begun(planner(book=playbook(**BARE))), [12.3, 24.3], found)
    assert [e.lap for e in events if isinstance(e, Advice) and e.t > 650][-1] <= 8


def test_after_a_reset_nothing_sounds_over_what_still_sounds() -> None:
    plan = begun(planner(seconds=2.0, book=playbook(**BARE)))
    out, found = [], False
    for moment in drive(TRACE, rate=20):
        if moment.distance > 600 and not found:
            found, out = True, out + plan.push(replace(costing("late_throttle", 0.3), t=moment.t))
        out += plan.push(moment)
        if cues(out):
            break
    out += plan.push(Stream(moment.t + 0.05, 0, "reset", moment.t, moment.t + 0.05))
    found = False
    for later in drive(TRACE, laps=0.3, rate=20, t=moment.t + 0.1, begin=1300.0):
        if not found and later.t > moment.t + 3.5:
            lock_up = costing("lock_up", 0.3, corner=3, distance=1165.0, lap=0)
            found, out = True, out + plan.push(replace(lock_up, t=later.t))
        out += plan.push(replace(later, lap=0))
    assert len(cues(out)) == 2
    assert all(after.starts >= before.ends for before, after in pairwise(cues(out)))


def straights(
    plan: Planner, laps: int, hits: tuple[int, ...], whole: Callable[[int], bool] = lambda lap: True
) -> list[Event]:
    """Laps with a late shift up on some of them; those that are not `whole` end in the pits."""
    begun(plan)
    out, before, done = [], None, set()
    for moment in drive(TRACE, laps=laps, rate=10):
        if before is not None and moment.lap != before.lap:
            good = whole(before.lap)
            out += plan.push(
                Lap(
                    moment.t,
                    before.lap,
                    45.1 if good else None,
                    None,
                    good,
                    () if good else ("in_lap",),
                    0.1 if good else None,
                    45.0,
                )
            )
        if moment.lap in hits and moment.lap not in done and moment.distance > 1600:
            done.add(moment.lap)
            out += plan.push(Fault(moment.t, moment.lap, "late_upshift", None, 1500.0, net=0.2, cost=0.2))
        out += plan.push(moment)
        before = moment
    return out + plan.finish()


def test_a_topic_without_a_corner_is_praised_too() -> None:
    events = straights(planner(book=playbook(summary_every=0)), 9, (1, 2, 3))
    assert cues(events, "praise")


def test_in_and_out_laps_mend_no_shifts() -> None:
    events = straights(planner(book=playbook(summary_every=0)), 9, (1, 2, 3), whole=lambda n: n < 4)
    assert advice(events) == ["working on late upshift: 0.20 s a lap"]


def test_six_straights_cost_six_times() -> None:
    record = Record()
    for n in (1, 2):
        for _ in range(6):
            record.found(costing("late_upshift", 0.05, lap=n, corner=None))
        record.lap_over(n)
    assert record.cost_a_lap("late_upshift") == pytest.approx(0.3)


def test_praise_has_its_gain_where_ones_own_best_lap_is_the_reference() -> None:
    plan = begun(planner(book=playbook(summary_every=0)))
    out, before, waiting = [], None, list(MARKS)
    for moment in drive(TRACE, laps=9, rate=10):
        if before is not None and moment.lap != before.lap:
            out += plan.push(Lap(moment.t, before.lap, 45.1, None, True, (), 0.1, 45.0))
            waiting = list(MARKS)
            if before.lap == 4:
                plan.push(Reference(moment.t, 4, TRACE.time[-1], "own", TRACE))
        while waiting and moment.distance >= waiting[0].exit:
            mark = waiting.pop(0)
            hit = mark.corner == 1 and moment.lap in (1, 2, 3)
            if hit:
                out += plan.push(replace(costing("late_throttle", 0.3), t=moment.t, lap=moment.lap))
            net = 0.3 if hit else (0.02 if moment.lap < 5 else 0.0)  # from lap 5 on against lap 4
            out += plan.push(Passed(moment.t, moment.lap, mark.corner, True, net))
        out += plan.push(moment)
        before = moment
    assert [cue.text for cue in cues(out, "praise")] == ["Late throttle mended, three tenths"]


def test_a_reminder_comes_before_a_corner_right_behind_the_line() -> None:
    shift = 360.0
    parts = [Part(40, 60.0), *PARTS[1:-1], Part(760, 55.0), Part(360, 60.0)]
    marks = tuple(
        replace(m, brake=m.brake - shift, entry=m.entry - shift, apex=m.apex - shift, exit=m.exit - shift)
        for m in MARKS
    )
    events = practise(
        planner(book=playbook(summary_every=0, focus=False)),
        7,
        late(1, 2, 3, 4, 5, 6),
        trace=lap_trace(parts),
        marks=marks,
    )
    assert cues(events, "reminder")


def test_it_is_told_again_when_it_comes_on_every_lap_whatever_the_corner() -> None:
    found = {(n, k): costing("late_throttle", 0.2) for n in (1, 2) for k in (1, 2, 3)}
    found |= {(n, n % 3 + 1): costing("late_throttle", 0.2) for n in range(4, 16)}
    told = [cue.of[0].lap for cue in cues(practise(planner(book=playbook(**BARE)), 16, found, rate=10))]
    assert [n for n in told if n > 5] == list(range(6, 16))


def test_what_came_up_but_cost_nothing_is_not_mended() -> None:
    found = {(n, 1): costing("late_throttle", 0.2) for n in (1, 2, 3)} | {
        (n, 1): costing("late_throttle", 0.02) for n in range(4, 9)
    }
    assert cues(practise(planner(book=playbook(summary_every=0)), 9, found), "praise") == []


def test_what_is_repeated_elsewhere_names_its_corner() -> None:
    plan = begun(planner(book=playbook(**BARE)))
    out, done = [], set()
    for moment in drive(TRACE, rate=20):
        if moment.distance > 600 and "found" not in done:
            done.add("found")
            out += plan.push(replace(costing("late_throttle", 0.3), t=moment.t))
        if moment.distance > 1240 and "asked" not in done:
            done.add("asked")
            out += plan.push(Action(moment.t, moment.lap, REPEAT))
        out += plan.push(moment)
    assert [cue.text for cue in cues(out)] == ["Throttle sooner", "Throttle sooner, turn one"]


def test_the_dearer_one_is_not_overtaken_in_the_first_fifth_of_a_second() -> None:
    parts = (*PARTS[:-2], leaving(40), Part(40, 45.0, lateral=6.0), Part(720, 55.0))
    trace, marks = lap_trace(parts), (*MARKS[:2], replace(MARKS[2], exit=1280.0))
    plan = begun(planner(book=playbook(**BARE)), trace, marks)
    out = play(
        plan,
        drive(trace),
        (1060.0, costing("late_throttle", 0.5, corner=2)),
        (1280.0, costing("coasting", 0.06, corner=3)),
    )
    assert [cue.text for cue in out if cue.spoken] == ["Throttle sooner, turn two"]


def test_a_race_that_is_coached_has_reminders() -> None:
    book = playbook({"race": False}, summary_every=0, focus=False, praise=False)
    events = practise(planner(book=book), 6, late(1, 2, 3, 4, 5), change=lambda m: replace(m, quiet="race"))
    assert cues(events, "reminder")


def test_the_first_laps_of_a_later_run_are_without_a_word() -> None:
    found = {(r, n, 1): costing("late_throttle", 0.3) for r in (1, 2) for n in range(1, 7)}
    events = runs(begun(planner(book=playbook({"first_laps": 4}))), [6.3, 6.3], found)
    assert [(cue.lap, cue.kind) for cue in cues(events) if cue.lap < 5] == []


def test_the_first_flying_lap_has_cues_where_laps_alternate() -> None:
    plan = begun(planner(book=playbook(alternate=True)))
    out, before = [], None
    for moment in drive(TRACE, laps=2, rate=10):
        moment = replace(moment, lap=moment.lap - 1)  # lap 0 is the way to the line
        if before is not None and moment.lap != before.lap:
            out += plan.push(Lap(moment.t, 0, None, None, False, ("out_lap",), None, None))
        if before is not None and moment.lap == 1 and before.distance < 600 <= moment.distance:
            out += plan.push(replace(fault(), t=moment.t, lap=1))
        out += plan.push(moment)
        before = moment
    assert [cue.lap for cue in cues(out)] == [1]


def test_a_finding_told_after_its_pass_is_of_that_pass() -> None:
    record = Record()
    record.found(costing("wheelspin", 0.2, lap=1))
    record.passed(Passed(0.0, 1, 1, True, 0.1))
    record.passed(Passed(0.0, 2, 1, True, 0.1))
    record.found(costing("wheelspin", 0.2, lap=2))  # it ended behind the exit
    record.found(costing("wheelspin", 0.2, lap=3))
    record.passed(Passed(0.0, 3, 1, True, 0.1))
    assert [(turn.lap, turn.hit) for turn in record.trail("wheelspin", 1).turns] == [(1, True), (2, True), (3, True)]


def test_with_one_correction_a_lap_each_is_of_its_own_lap_and_nothing_is_said_twice_on_a_straight() -> None:
    found = {(lap, 1): costing("late_throttle", 0.3) for lap in range(1, 7)}
    events = practise(planner(book=playbook(corrections=1, summary_every=0)), 7, found)
    said_of = [(cue.lap, cue.of[0].lap) for cue in cues(events, "correction")]
    assert all(told == made for told, made in said_of) and len(said_of) == 6
    together = [(before, after) for before, after in pairwise(cues(events)) if before.corner == after.corner == 1]
    assert all((after.starts or 0.0) - (before.ends or 0.0) > 5.0 for before, after in together)
