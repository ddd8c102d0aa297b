"""The texts of debrief, progress and pupils, whole, from made values."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.app.telling.debrieftext import HIDDEN, debrief_text
from coach.app.telling.lines import WIDTH
from coach.app.telling.nexttime import closing_blocks
from coach.app.telling.progresstext import progress_text
from coach.app.telling.pupilstext import pupils_text
from coach.review.model import KeptLap, KeptSession
from coach.review.results import (
    Class,
    CornerLoss,
    CuedAgainstUncued,
    Day,
    Habit,
    MarkRow,
    Outcome,
    Progress,
    Pupil,
    Review,
    Said,
    Setup,
    Shared,
    StageVerdict,
    Steadiness,
    Thing,
)
from coach.review.words import nothing_words
from coach.vocabulary.events import Fault, LossPart, Passed

LATE = Thing(*("late_throttle", 6, 0.19, 5, 6, 1.14, (1, 2, 3, 5, 6), 0.72, "s"), "In 5 of 6 passes, 0.23 s each time.")
EARLY = Thing("early_braking", 1, 0.06, 1, 6, 0.34, (1,), 17.2, "m", "Once, in lap 1: 0.34 s.")
LOCKED = Thing("lock_up", 4, 0.0, 2, 6, 0.0, (2, 3), 0.7, "slip", "In 2 of 6 passes, 0.00 s each time.")
LACKING = "3 clean laps in a row, 5 are needed"
VERDICT = StageVerdict("clean", False, (LACKING, "18 of 20 marks hit in the last laps"), "pace", "learn", (LACKING,))
STEADY = Steadiness(6, 5, 89.1, 89.767, 0.41, 5 / 6, 4)
BEGUN = 1_767_000_000.0


def laps() -> list[KeptLap]:
    parts = (LossPart(6, "exit", 0.2), LossPart(6, "straight", 0.1, 0.09))
    fault = Fault(125.0, 1, "late_throttle", 6, 300.0, 124.0, 0.72, "s", 0.2, 0.23)
    passed = Passed(126.0, 1, 6, True, 0.3)
    return [
        KeptLap(1, 0, 90.0, 89.767, True, (), 0.3, 89.467, parts, [fault], [passed]),
        KeptLap(2, 1, 180.0, None, False, ("gap",)),
    ]


SESSION = KeptSession(
    *(12, BEGUN, BEGUN + 600.0, "Brack Mere", "Pellow R", "Ann", "soft rear"),
    note="wind from\nbehind",
    laps=laps(),
    reference_time=89.467,
    reference_origin="lap 5 of 2026-11-20",
    off={"early_downshift": "engine_speed"},
)
SESSION.stream["gap"] += 2
REVIEW = Review(
    things=[LATE, EARLY, LOCKED],
    outcomes=[Outcome(EARLY, "mended", "Before 1 of 6 passes, now 0 of 8: that may well be luck.", 0.06, 0.0, 0.4)],
    stage=replace(VERDICT, stage="pace", following="rehearse", advised="clean"),
    losses=[CornerLoss(6, {"exit": 0.2, "straight": 0.1}, 0.09, 0.3, 0.3)],
    marks=[MarkRow(6, "brake", 6, 0.75, 2.13), MarkRow(6, "apex", 6, None, None)],
    said=[Said("Throttle sooner", "late_throttle", 6, 3, (1, 2, 3), 0.8, None, "unknown")],
    steadiness=STEADY,
    cued=CuedAgainstUncued(3, 2, 89.5, 90.1, 0.12),
)


@pytest.fixture(autouse=True)
def utc(monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    monkeypatch.setenv("TZ", "UTC")
    time.tzset()


def test_a_whole_debrief() -> None:
    assert debrief_text(SESSION, REVIEW) == (
        """\
Brack Mere, Pellow R, Ann
session 12, 2025-12-29 09:20, setup soft rear, stage pace
note: wind from behind
6 laps ended, 5 clean, 4 of them in a row; best 1:29.100, median 1:29.767,
spread 0.41 s
reference: 1:29.467, of lap 5 of 2026-11-20

LAPS
  lap        time   to the reference
    1    1:29.767     +0.300
    2           -          -            not clean: gap

WHERE THE SECONDS ARE
Seconds against the reference over 1 whole lap, + is lost: the median of each
column, and in all their sum. The costliest place comes first. Of the straight,
(by exit) is what the speed at the corner's exit explains.
  place      braking    entry     exit  straight  (by exit)    a lap   in all
  turn 6           -        -   +0.200    +0.100     +0.090   +0.300   +0.300

FAULTS FOUND
Costs as told at the corner; NEXT TIME has what the whole laps lost by them.
  place      fault              times   cost s   median size        laps
  turn 6     late throttle          1    0.230   0.72 s             1

MARKS
How many of the passes hit each, and the spread: the standard deviation of the
places where it was met.
  place    passes              brake             apex             exit
  turn 6        6       75 %   2.1 m        -       -        -       -

SAID, AND WHETHER IT HELPED
Before and after: in how many of the judged passes it was wrong until it was
first said, and then.
  about      words                              times  before   after  it became
  turn 6     "Throttle sooner"                      3    80 %       -  unknown

CUED LAPS AND OTHERS
  clean laps with a cue that tells what to do     3, median  1:29.500
  clean laps without one                          2, median  1:30.100
  by luck alone so clear a difference comes 12 times in 100
  a cue follows a mistake: what it brings, only drives with --alternate tell

Not judged: early downshift, because this stream has no engine_speed.
The stream: gap 2.

HOW THE LAST ONES FARED
  mended   brake later in turn 1
           Before 1 of 6 passes, now 0 of 8: that may well be luck.

STAGE
  pace: the seconds: what costs most, one topic at a time
  rehearse is not earned yet
   - not yet: 3 clean laps in a row, 5 are needed
   - met: 18 of 20 marks hit in the last laps
  by what was driven, practise at the stage clean: --stage clean

NEXT TIME
  1. throttle sooner in turn 6: 0.19 s a lap
     In 5 of 6 passes, 0.23 s each time.
  2. brake later in turn 1: 0.06 s a lap
     Once, in lap 1: 0.34 s.
  3. brake without locking a wheel in turn 4: no seconds yet
     In 2 of 6 passes, 0.00 s each time.
"""
    )


def test_at_the_stage_clean_no_lap_time_is_told_and_only_what_a_thing_is_worth_in_seconds() -> None:
    hidden = replace(SESSION, stage="clean")
    text = debrief_text(hidden, replace(REVIEW, stage=VERDICT, outcomes=[]))
    assert HIDDEN in text.replace("\n", " ")
    assert "1:29" not in text and "WHERE THE SECONDS ARE" not in text and "+0." not in text and "1:30" not in text
    before, _, after = text.partition("\nNEXT TIME\n")
    assert " s" not in [line[-2:] for line in before.splitlines()] and "0.19 s a lap" in after
    assert "  lap\n    1  clean\n    2  not clean: gap\n" in text
    assert "pace is not earned yet\n   - not yet: 3 clean laps in a row, 5 are needed\n" in text


def test_nothing_found_and_nothing_judged_are_two_things() -> None:
    assert closing_blocks(Review(), judged=False) == [[], [], ["NEXT TIME", *_two(nothing_words(judged=False))]]
    assert closing_blocks(Review(), judged=True) == [[], [], ["NEXT TIME", *_two(nothing_words(judged=True))]]


def _two(text: str) -> list[str]:
    from textwrap import wrap

    return wrap(text, WIDTH, initial_indent="  ", subsequent_indent="  ")


def test_a_session_without_a_lap() -> None:
    text = debrief_text(KeptSession(track=None, car=None), Review())
    assert text.startswith("a track without a name, a car without a name\nstage pace\nno lap ended\nreference: none\n")


def day(number: int, losses: dict[int | None, float]) -> Day:
    return Day(30 + number, BEGUN + number * 86400.0, f"2026-11-{10 + number}", None, "pace", STEADY, losses)


PROGRESS = Progress(
    *("Ann", "Pellow R", "Brack Mere"),
    days=[day(1, {6: 0.4, None: -0.1}), day(2, {6: 0.1, 1: 0.2})],
    habits=[Habit("late_throttle", 6, (0.8, 0.0), (0.3, 0.0), ("new", "mended"), "From 8 of 10 passes to 0 of 9.")],
    cued=None,
    reference=("lap 4 of session 2", 89.1),
)


def test_a_whole_progress() -> None:
    assert progress_text(PROGRESS) == (
        """\
Brack Mere, Pellow R, Ann
2 sessions, held against 1:29.100, lap 4 of session 2

SESSIONS
  no.  when              stage     laps  clean      best    median  spread  kept
    1  2026-11-11        pace         6   83 %  1:29.100  1:29.767  0.41 s    31
    2  2026-11-12        pace         6   83 %  1:29.100  1:29.767  0.41 s    32

SECONDS BY CORNER
Seconds a lap against that lap at the median of each session, + is lost.
  place                 1             2
  turn 6           +0.400        +0.100
  turn 1                -        +0.200
  no corner        -0.100             -

HABITS
The dearest first: what became of each by session, and the share of judged
passes.
  late throttle in turn 6
     1 new (80 %), 2 mended (0 %)
     From 8 of 10 passes to 0 of 9.
"""
    )


def test_setups_are_told_with_their_sessions_where_there_are_two() -> None:
    setups = [Setup("soft", (0,), STEADY, {}, 0.04), Setup(None, (1,), STEADY, {}, None)]
    text = progress_text(replace(PROGRESS, setups=setups))
    assert text.endswith(
        """
SETUPS
  soft: sessions 1
     5 clean laps, median 1:29.767, spread 0.41 s; as far from the others by
     luck alone 4 times in 100
  without a name: sessions 2
     5 clean laps, median 1:29.767, spread 0.41 s
"""
    )


def test_progress_of_nothing_is_one_line() -> None:
    assert progress_text(Progress(None, None, None)) == "No session is kept of that driver, car and circuit.\n"
    assert pupils_text(Class(None)) == "No pupil has driven that circuit.\n"


CLASS = Class(
    "Brack Mere",
    [
        Pupil("Ann", 3, 20, STEADY, VERDICT, (LATE,), (PROGRESS.habits[0],)),
        Pupil("Ben (b)", 1, 4, replace(STEADY, best=None, median=None, spread=None), None, (), ()),
    ],
    [Shared("late_throttle", 6, {"Ann": 0.21, "Ben (b)": 0.1})],
    {6: {"Ann": 0.21, "Ben (b)": 0.1}, None: {"Ann": -0.01}},
)


def test_whole_pupils() -> None:
    assert pupils_text(CLASS) == (
        """\
Brack Mere, 2 pupils

PUPILS
  name              sessions  laps  clean      best    median  spread  stage
  Ann                      3    20   83 %  1:29.100  1:29.767  0.41 s  clean
  Ben (b)                  1     4   83 %         -         -       -  -

SECONDS BY CORNER
Seconds a lap at the median of the last session, + is lost.
  place               Ann       Ben (b)
  turn 6           +0.210        +0.100
  no corner        -0.010             -

IN COMMON
  late throttle in turn 6: Ann 0.21 s, Ben (b) 0.10 s a lap

STUCK
  Ann: late throttle in turn 6
     From 8 of 10 passes to 0 of 9.

NEXT TIME
  Ann
     1. throttle sooner in turn 6: 0.19 s a lap
  Ben (b)
     nothing that was found costs enough to name
"""
    )


ANY = st.text(max_size=120) | st.sampled_from(["\x1b[31m" * 30, "a\nb\r\tc", "\u202e" * 20, "\ud800", "x" * 900])


@settings(max_examples=40, deadline=None)
@given(label=ANY, other=ANY)
def test_whatever_the_labels_hold_it_is_printable_and_within_80_columns(label: str, other: str) -> None:
    thing = replace(LATE, why=other)
    session = replace(SESSION, track=label, car=other, driver=label, setup=other, note=label, reference_origin=other)
    review = replace(REVIEW, things=[thing], said=[replace(REVIEW.said[0], text=label)])
    days = [replace(day(number, {6: 0.4}), label=label, setup=other) for number in range(1, 30)]
    habit = replace(PROGRESS.habits[0], story=("new",) * 29, shares=(0.5,) * 29, why=other)
    progress = replace(PROGRESS, driver=label, car=other, days=days, habits=[habit], reference=(label, 89.1))
    pupils = [replace(CLASS.pupils[0], name=f"{label}{number}", things=(thing,)) for number in range(9)]
    losses: dict[int | None, dict[str, float]] = {6: {pupil.name: 0.2 for pupil in pupils}}
    shared = [Shared("late_throttle", 6, {pupil.name: 0.2 for pupil in pupils})]
    for text in (
        debrief_text(session, review),
        progress_text(progress),
        pupils_text(Class(label, pupils, shared, losses)),
    ):
        for line in text[:-1].split("\n"):
            assert line.isprintable() and len(line) <= WIDTH, line
