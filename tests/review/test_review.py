"""What one session comes to: what was said and whether it helped, marks, steadiness, stages; nothing breaks."""

from __future__ import annotations

import statistics
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import iqr

from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.review.progress import progress
from coach.review.pupils import pupils
from coach.review.results import MENDED, SAME, UNKNOWN, VERDICTS, StageVerdict
from coach.review.review import review
from coach.review.things import fared
from coach.vocabulary.events import Action, Advice, Cue, Event, Mark, Reference, Run, Stage, Stores, Stream, Topic
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.stages import STAGES
from tests.review.made import TRACE, Did, Drove, events_of, lap, run, session

COASTS = Did("coasting", 2)
SAYS = ("Stay on it", "coasting", 2)


def test_what_was_said_helped_where_it_came_up_less_since() -> None:
    made = session(*[Drove((COASTS,))] * 3, Drove((COASTS,), said=[SAYS]), *[Drove()] * 6)
    (cue,) = review(made).said
    assert (cue.text, cue.about, cue.corner, cue.times, cue.laps) == ("Stay on it", "coasting", 2, 1, (4,))
    assert (cue.before, cue.after, cue.verdict) == (1.0, 0.0, MENDED)


def test_what_was_said_did_nothing_where_it_came_up_as_before() -> None:
    made = session(*[Drove((COASTS,), said=[SAYS])] * 6)
    (cue,) = review(made).said
    assert (cue.times, cue.before, cue.after, cue.verdict) == (6, None, None, UNKNOWN)  # one pass before: too few
    made = session(*[Drove((COASTS,))] * 3, *[Drove((COASTS,), said=[SAYS])] * 4)
    (cue,) = review(made).said
    assert (cue.times, cue.before, cue.after, cue.verdict) == (4, 1.0, 1.0, SAME)


def test_what_was_said_of_the_only_time_tells_nothing() -> None:
    """A fault that is told of when it comes up is rarer afterwards by that alone (regression to the mean)."""
    (cue,) = review(session(*[Drove()] * 3, Drove((COASTS,), said=[SAYS]), *[Drove()] * 9)).said
    assert (cue.before, cue.after, cue.verdict) == (0.25, 0.0, UNKNOWN)


def test_praise_has_no_verdict_and_what_was_held_back_was_not_said() -> None:
    made = session(Drove((COASTS,)), Drove())
    made.laps[1].cues.append(Cue(150.0, 2, "praise", "coasting", (), 2, "Good", True, 150.0, 151.0, None, None))
    made.laps[1].cues.append(Cue(150.0, 2, "correction", "coasting", (), 2, "No", False, None, None, None, "no room"))
    (cue,) = review(made).said
    assert (cue.text, cue.verdict, cue.before) == ("Good", UNKNOWN, None)


def test_marks_by_corner_as_they_are_driven() -> None:
    """The spread against numpy's standard deviation of a sample."""
    offs = [0.4, -0.2, 0.1, 3.5, 0.0]
    laps = [
        Drove(marks={1: (Mark("exit", 1.0 + off, off, 0.5), Mark("brake", (999.5 + off) % 1000.0, off, 2.0))})
        for off in offs
    ]
    brake, exit_ = review(session(*laps)).marks
    assert (brake.name, exit_.name) == ("brake", "exit")
    expected = np.std(offs, ddof=1)
    assert brake.spread == pytest.approx(expected, abs=1e-3)  # over the line, too
    assert exit_.spread == pytest.approx(expected, abs=1e-3)
    assert (brake.passes, brake.hit, exit_.hit) == (5, 0.8, 0.8)


def test_a_mark_that_nothing_is_known_of() -> None:
    (row,) = review(session(Drove(marks={1: (Mark("apex", 1.0, None, 0.5),)}))).marks
    assert (row.passes, row.hit, row.spread) == (0, None, None)


def test_how_steady_laps_are() -> None:
    """The spread against scipy.stats.iqr."""
    losses = [0.0, 0.3, 0.1, 0.7, 0.2]
    laps = [Drove(lost={1: lost}) for lost in losses]
    laps.insert(2, Drove(clean=False, why_not=("off_track",)))
    laps.insert(0, Drove(clean=False, why_not=("out_lap",), timed=False))
    steady = review(session(*laps)).steadiness
    assert steady is not None
    assert steady.spread == pytest.approx(iqr(losses), abs=1e-4)
    assert (steady.laps, steady.clean, steady.row) == (7, 5, 3)
    assert steady.share == pytest.approx(5 / 6)  # an out-lap is neither
    assert (steady.best, steady.median) == (50.0, pytest.approx(50.0 + statistics.median(losses)))


def test_cued_laps_against_the_others() -> None:
    cued = [Drove(said=[SAYS], lost={1: 0.01 * i}) for i in range(4)]
    silent = [Drove(lost={1: 0.5 + 0.01 * i}) for i in range(4)]
    told = review(session(*cued, *silent)).cued
    assert told is not None
    assert (told.cued, told.uncued) == (4, 4)
    assert told.cued_median == pytest.approx(50.015) and told.uncued_median == pytest.approx(50.515)
    assert told.chance == pytest.approx(2 / 70)  # as apart as they can be: 2 of the 70 ways to lay 4 of 8 (by hand)
    few = review(session(*cued[:2], *silent)).cued
    assert few is not None and (few.cued, few.cued_median, few.chance) == (2, None, None)


def test_the_stage_that_the_data_say() -> None:
    """Too few laps speak against no stage; spoilt ones speak against all that ask for clean ones in a row."""
    verdict = staged(Drove(), stage="rehearse")
    assert (verdict.stage, verdict.following, verdict.earned) == ("rehearse", None, False)
    assert verdict.advised == "rehearse"
    assert verdict.evidence
    assert staged(*[Drove()] * 3, stage=None).advised == "pace"
    assert staged(Drove(), SPOILT, stage=None).advised == "pace"
    assert staged(*[Drove(), SPOILT] * 4, stage=None).advised == "learn"
    assert staged(*[Drove()] * 4, SPOILT, *[Drove()] * 2, stage=None).advised == "clean"
    assert staged(*[Drove()] * 2, stage="learn").advised == "learn"
    assert review(session()).stage is None


SPOILT = Drove(clean=False, why_not=("off_track",))


def staged(*laps: Drove, stage: str | None) -> StageVerdict:
    verdict = review(session(*laps, stage=stage)).stage
    assert verdict is not None
    return verdict


def test_what_was_earned_once_in_the_session_is_earned() -> None:
    """A spin, or the lap back to the pits, does not take back what the driver was told."""
    clean = staged(*[Drove()] * 5, SPOILT, stage="clean")
    assert clean.earned and "5 clean laps in a row, 5 are needed" in clean.evidence and not clean.lacking
    stint = [Drove(lost={1: 0.01 * i}) for i in range(10)]
    assert staged(*stint, Drove(clean=False, why_not=("in_lap",)), stage="rehearse").earned


def test_what_the_stage_asks_is_told_with_whether_it_is_there() -> None:
    """What is worked on is known from the planner's own word, and the length of a race from the stream."""
    events = [*events_of(*[Drove()] * 3), Topic(400.0, 3, "late_throttle")]
    collector = Collector()
    for event in events:
        collector.take(event)
    verdict = review(collector.sessions[0]).stage
    assert verdict is not None
    assert verdict.points == (
        "not yet: 3 clean laps, 5 are needed",
        "met: the median of the last 3 is 0.0 % slower than the best, 1 % at most",
        "not yet: late throttle is not mended yet",
    )
    raced = Collector()
    race = [*run(), Stage(0.0, 0, "rehearse")]
    for number in range(1, 5):
        left = Stores(100.0 * number, number, None, 5.0 - number, None)
        race += [left, *lap(number, 100.0 * number, Drove(lost={1: 0.01 * number}))]
    for event in race:
        raced.take(event)
    asked = review(raced.sessions[0]).stage
    assert asked is not None and asked.earned and "a stint of 4 clean laps, 4 are needed" in asked.evidence


def test_losses_sum_to_the_laps_deltas() -> None:
    made = session(Drove(lost={1: 0.3, 3: -0.1}), Drove(lost={1: 0.1}), Drove(lost={2: 0.2}))
    rows = review(made).losses
    assert rows[0].corner == 1 and rows[0].a_lap == pytest.approx(0.1)
    assert sum(row.total for row in rows) == pytest.approx(sum(lap.delta or 0.0 for lap in made.laps), abs=1e-3)


def test_an_out_lap_loses_nothing_that_is_told() -> None:
    made = session(Drove(lost={1: 9.0}, clean=False, why_not=("standing_start",)), Drove(lost={2: 0.2}))
    assert review(made).losses[0].corner == 2


def test_who_is_stuck_and_what_pupils_have_in_common() -> None:
    def over(*faults: Did, times: int = 3) -> list[KeptSession]:
        return [session(*[Drove(faults)] * 4) for _ in range(times)]

    mended = [*over(Did("late_throttle", 3), times=2), session(*[Drove()] * 4)]
    klass = pupils({"ann": over(COASTS), "bo": over(COASTS, Did("late_throttle", 3)), "cy": mended, "di": []})
    assert klass.track == "Made"
    assert [pupil.name for pupil in klass.pupils] == ["ann", "bo", "cy"]
    stuck = {pupil.name: [(h.fault, h.corner) for h in pupil.stuck] for pupil in klass.pupils}
    assert stuck == {"ann": [("coasting", 2)], "bo": [("coasting", 2), ("late_throttle", 3)], "cy": []}
    (shared,) = klass.shared
    assert (shared.fault, shared.corner, set(shared.seconds)) == ("coasting", 2, {"ann", "bo"})
    assert klass.pupils[0].things[0].fault == "coasting"


def test_a_pupil_is_stuck_where_the_coach_gave_a_topic_up() -> None:
    one = session(*[Drove((COASTS,))] * 4)
    one.advice.append(Advice(1.0, 1, "practice", "coasting does not get better in turn 2: something else first"))
    assert [habit.fault for habit in pupils({"ann": [one]}).pupils[0].stuck] == ["coasting"]
    for texts in (
        (),
        ("coasting does not get better in turns 1, 3: something else first",),  # of another corner
        ("coasting does not get better in turn 2: something else first", "coasting is mended in turn 2, 0.10 s a lap"),
    ):
        other = session(*[Drove((COASTS,))] * 4)
        other.advice += [Advice(1.0, 1, "practice", text) for text in texts]
        assert pupils({"ann": [other]}).pupils[0].stuck == ()


def test_the_corner_that_the_coach_gave_up_is_found_under_the_newest_map_s_number() -> None:
    old, new = session(*[Drove((COASTS,))] * 4), session(Drove())
    old.begun, new.begun = 1.0, 2.0
    old.advice.append(Advice(1.0, 1, "practice", "coasting does not get better in turn 2: something else first"))
    new.corners = tuple(replace(mark, corner=mark.corner + 10) for mark in new.corners)
    klass = pupils({"ann": [old], "bo": [new]})
    assert [(habit.fault, habit.corner) for habit in klass.pupils[0].stuck] == [("coasting", 12)]


def test_the_circuit_that_most_pupils_drive() -> None:
    here, there = session(Drove()), session(Drove())
    there.track = "Other"
    assert pupils({"ann": [here, there], "bo": [there]}).track == "Other"
    assert [pupil.name for pupil in pupils({"ann": [here], "bo": [there]}, "Made").pupils] == ["ann"]
    assert pupils({}).pupils == []


FAULTS_DID = st.builds(
    Did,
    fault=st.sampled_from([*FAULTS, "of_a_later_version"]),
    corner=st.sampled_from([None, 1, 2, 3, 4]),
    cost=st.one_of(st.none(), st.floats(-0.5, 5.0)),
    late=st.booleans(),
    also=st.sampled_from([(), ("off_track",), ("coasting", "spin")]),
)
LAPS = st.builds(
    Drove,
    faults=st.lists(FAULTS_DID, max_size=4),
    clean=st.booleans(),
    why_not=st.sampled_from([(), ("off_track",), ("pit", "gap"), ("standing_start",)]),
    timed=st.booleans(),
    judged=st.booleans(),
    lost=st.dictionaries(st.integers(1, 4), st.floats(-1.0, 9.0), max_size=3),
    said=st.lists(st.just(SAYS), max_size=2),
    grid=st.booleans(),
    ends=st.booleans(),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(LAPS, max_size=6), st.lists(LAPS, max_size=4))
def test_whatever_was_driven_has_a_review(laps: list[Drove], more: list[Drove]) -> None:
    """Missing times, losses and judgements, unknown faults, laps that never end: figures hold together, none raises."""
    made, other = session(*laps), session(*more)
    found = review(made, review(other).things)
    costs = [thing.seconds for thing in found.things]
    assert len(costs) <= 3
    assert all(cost >= 0.0 for cost in costs)
    for thing in found.things:
        assert 1 <= thing.times <= thing.passes
    assert {outcome.verdict for outcome in found.outcomes} <= set(VERDICTS)
    assert {cue.verdict for cue in found.said} <= set(VERDICTS)
    view = progress([other, made])
    assert all(len(habit.story) == len(habit.shares) == len(habit.seconds) == 2 for habit in view.habits)
    klass = pupils({"ann": [made], "bo": [other, made]}, "Made")
    assert all(pupil.stage is None or pupil.stage.advised in STAGES for pupil in klass.pupils)
    assert review(made) == review(made)
    assert fared([], made) == []


@settings(max_examples=30, deadline=None)
@given(st.lists(LAPS, max_size=4), st.lists(st.integers(0, 200), max_size=12), st.booleans())
def test_events_in_any_order_lose_nothing_and_break_nothing(laps: list[Drove], swaps: list[int], jumps: bool) -> None:
    """Every finding is in one lap, or loose; none is there twice."""
    events: list[Event] = events_of(*laps)
    if jumps:
        events.insert(len(events) // 2, Stream(5.0, 1, "reset", 4.0, 5.0))
        events.append(Stream(5.0, 0, "rewind", 9.0, 5.0))
    events += [Stores(1.0, 1, 3.0, None, None), Action(1.0, 1, "mark"), Reference(1.0, 9, 60.0, "x", TRACE)]
    for place in swaps:
        if place + 1 < len(events) and place > 0:
            events[place], events[place + 1] = events[place + 1], events[place]
    collector = Collector()
    for event in events:
        collector.take(event)
    asked = sum(event.type == "fault" for event in events)
    kept = [f for one in collector.sessions for lap in one.laps for f in lap.faults]
    loose = [f for one in collector.sessions for f in one.loose_faults]
    assert len(kept) + len(loose) == asked
    assert isinstance(events[0], Run)
    review(collector.sessions[0])
