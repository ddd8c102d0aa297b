"""What holds of the planner whatever circuit, drive and findings it is given."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.planner import rules
from coach.planner.corners import CornerPlaces
from coach.planner.playbook import PUPILS, Playbook
from coach.planner.state import Practised
from coach.planner.windows import Windows
from coach.vocabulary.actions import ACTIONS, MARK, QUIET, QUIET_OR_SPEAK, SPEAK, USE_LAP
from coach.vocabulary.events import (
    Action,
    Advice,
    Answer,
    CornerMark,
    Cue,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Moment,
    Passed,
    Stage,
    Stores,
    Stream,
    Topic,
)
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.stages import STAGES
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import Part, braking, drive, knowing, lap_trace, planner, playbook, turning
from tests.properties.budget import examples

MARGIN = 0.5
Run = tuple[LapTrace, tuple[CornerMark, ...], list[Event], Playbook, tuple[str, ...]]

straights = st.builds(lambda cells, speed: Part(cells * 2.0, speed), st.integers(5, 300), st.floats(20.0, 90.0))
bends = st.builds(
    lambda cells, speed, lateral, throttle: Part(cells * 2.0, speed, throttle, 0.0, lateral),
    st.integers(2, 60),
    st.floats(10.0, 60.0),
    st.floats(0.0, 30.0),
    st.sampled_from([0.0, 0.5, 0.79, 0.85, 1.0]),
)
brakings = st.builds(lambda cells: braking(cells * 2.0), st.integers(2, 40))
traces = st.lists(st.one_of(straights, bends, brakings), min_size=2, max_size=10).map(
    lambda parts: lap_trace([*parts, turning(40.0)])
)
_ODD: list[dict[str, Any]] = [
    {"brake": 0.3},
    {"throttle": 0.2},
    {"throttle": 1.0, "brake": 0.0},
    {"lateral": 25.0},
    {"lateral": 0.0, "throttle": 1.0, "brake": 0.0},
    {"distance": None},
    {"throttle": None, "brake": None, "lateral": None, "speed": None},
    {"quiet": "yellow"},
    {"speed": 120.0},
]
odd = st.sampled_from(_ODD)
places = st.floats(0.0, 1.0, exclude_max=True)
whims = st.lists(st.tuples(places, places, odd), max_size=6)
"""What the driver does otherwise than the reference: from this share of the drive, for up to this share of a lap."""
prices = st.one_of(st.none(), st.floats(-0.1, 0.05), st.floats(0.05, 1.0), st.floats(0.05, 1.0))
found = st.builds(
    lambda name, corner, lap, net, cost: Fault(0.0, lap, name, corner, 10.0, net=net, cost=cost),
    st.sampled_from(list(FAULTS)),
    st.one_of(st.none(), st.integers(1, 3)),
    st.integers(1, 3),
    prices,
    prices,
)
breaks = st.sampled_from(["gap", "late", "reset", "teleport", "pit", "pause", "source"])
pressed = st.sampled_from([*ACTIONS, "topic coasting", "topic late_throttle", "dance"])
left = st.builds(
    lambda fuel, laps, time: Stores(0.0, 0, fuel, laps, time),
    st.one_of(st.none(), st.floats(0.0, 60.0)),
    st.one_of(st.none(), st.floats(0.0, 40.0)),
    st.one_of(st.none(), st.floats(-10.0, 5000.0)),
)
books = st.builds(
    lambda talk, silence, pupil, stage: replace(playbook(silence, **talk), pupil=pupil, stage=stage),
    st.fixed_dictionaries(
        {},
        optional={
            "corrections": st.integers(1, 20),
            "one_off": st.floats(0.0, 0.3),
            "reminders": st.booleans(),
            "focus": st.booleans(),
            "praise": st.booleans(),
            "summary_every": st.sampled_from([0, 1, 3]),
            "fade": st.booleans(),
            "alternate": st.booleans(),
        },
    ),
    st.fixed_dictionaries(
        {},
        optional={
            "race": st.booleans(),
            "first_laps": st.integers(0, 2),
            "after_incident": st.floats(0.0, 10.0),
        },
    ),
    st.sampled_from(PUPILS),
    st.sampled_from([None, *STAGES]),
)


@st.composite
def marks(draw: st.DrawFn, length: float) -> tuple[CornerMark, ...]:
    out = []
    for corner in range(1, draw(st.integers(0, 3)) + 1):
        shares = sorted(draw(st.lists(places, min_size=4, max_size=4)))
        brake, entry, apex, leave = (length * share for share in shares)
        out.append(CornerMark(corner, "left", brake, entry, apex, leave, (apex,), coached=draw(st.booleans())))
    return tuple(out)


@st.composite
def runs(draw: st.DrawFn) -> Run:
    """A reference, a map, a drive of some laps with findings, breaks and buttons in it, in order of time, and how it is
    coached."""
    trace = draw(traces)
    moments = list(
        drive(
            trace,
            laps=draw(st.floats(0.5, 2.5)),
            rate=draw(st.sampled_from([10.0, 20.0, 50.0])),
            t=draw(st.sampled_from([-1000.0, 0.0, 250.0])),
            pace=draw(st.floats(0.7, 1.3)),
        )
    )[:1500]
    for begin, lasts, values in draw(whims):
        first = int(begin * len(moments))
        for index in range(first, min(len(moments), first + 1 + int(lasts * len(moments) / 3))):
            moments[index] = replace(moments[index], **values)
    extra: dict[int, list[Event]] = {}
    corners = draw(marks(trace.length))
    for index in range(1, len(moments)):
        before, now = moments[index - 1], moments[index]
        for mark in corners:
            if before.distance is not None and now.distance is not None and before.distance < mark.exit <= now.distance:
                net = draw(st.floats(-0.1, 0.6))
                extra.setdefault(index, []).append(Passed(now.t, now.lap, mark.corner, draw(st.booleans()), net))
        if now.lap != before.lap:
            delta = draw(st.floats(-1.0, 9.0))
            ended = Lap(now.t, before.lap, trace.time[-1] + delta, None, draw(st.booleans()), (), delta, trace.time[-1])
            parts = tuple(LossPart(mark.corner, "exit", draw(st.floats(-0.1, 1.5))) for mark in corners)
            extra.setdefault(index, []).extend([ended, Loss(now.t, before.lap, parts)])
    for place, event in draw(st.lists(st.tuples(places, left), max_size=6)):
        index = int(place * len(moments))
        extra.setdefault(index, []).append(replace(event, t=moments[index].t, lap=moments[index].lap))
    for place, action in draw(st.lists(st.tuples(places, pressed), max_size=5)):
        index = int(place * len(moments))
        extra.setdefault(index, []).append(Action(moments[index].t, moments[index].lap, action))
        if action == USE_LAP:
            answer = Answer(moments[index].t, moments[index].lap, USE_LAP, draw(st.booleans()))
            extra[index].append(answer)
    for place, event in draw(st.lists(st.tuples(places, found), max_size=12)):
        index = int(place * len(moments))
        extra.setdefault(index, []).append(replace(event, t=moments[index].t))
    for place, what in draw(st.lists(st.tuples(places, breaks), max_size=2)):
        index = int(place * len(moments))
        extra.setdefault(index, []).append(Stream(moments[index].t, moments[index].lap, what, None, None))
    events: list[Event] = []
    for index, moment in enumerate(moments):
        events += [moment, *extra.get(index, [])]
    return trace, corners, events, draw(books), draw(st.sampled_from([(), ("late_throttle", "lock_up")]))


def cues_of(run: Run) -> list[Cue]:
    trace, corners, events, book, focus = run
    plan = knowing(planner(focus, lengths={"Throttle sooner": 0.4, "More speed": 0.3}, book=book), trace, corners)
    out = [cue for event in events for cue in plan.push(event)] + plan.finish()
    assert all(isinstance(event, (Cue, Advice, Topic, Stage, Practised)) for event in out)
    return [event for event in out if isinstance(event, Cue)]


def corrections_of(run: Run) -> list[Cue]:
    return [cue for cue in cues_of(run) if cue.kind == "correction"]


@settings(max_examples=examples(60), deadline=None)
@given(runs())
def test_nothing_is_said_where_it_must_not_be(run: Run) -> None:
    trace, _, events, book, _ = run
    windows = Windows(trace)
    moments = {event.t: event for event in events if isinstance(event, Moment)}
    before = None
    asked = any(isinstance(event, Action) and event.action in (SPEAK, QUIET_OR_SPEAK) for event in events)
    for cue in cues_of(run):
        if not cue.spoken:
            assert (cue.starts, cue.ends, cue.deadline) == (None, None, None)
            assert cue.why_not
            continue
        assert cue.starts is not None and cue.ends is not None and cue.deadline is not None
        now = moments[cue.starts]
        assert cue.starts < cue.ends <= cue.deadline - MARGIN
        assert now.distance is not None and windows.at(now.distance) is not None
        assert now.throttle is not None and now.throttle >= rules.FULL
        assert now.brake is None or now.brake <= rules.QUIET_BRAKE
        assert now.lateral is None or windows.bound is None or now.lateral <= windows.bound
        free = not book.silence.race or asked or cue.kind == "status"
        assert now.quiet == "" or (now.quiet == "race" and free)
        assert before is None or cue.starts >= before + rules.GAP - 1e-6
        before = cue.ends


@settings(max_examples=examples(60), deadline=None)
@given(runs())
def test_a_correction_starts_half_a_second_after_full_throttle_and_no_later_than_one_and_a_half_after_it_could(
    run: Run,
) -> None:
    """It could since the finding was there and all was free: full throttle, quiet, on one quiet stretch."""
    trace, corners, events, _, _ = run
    windows, places_of = Windows(trace), CornerPlaces(corners, trace.length)
    moments = [event for event in events if isinstance(event, Moment)]
    incidents = any(isinstance(event, Fault) and event.fault in ("spin", "off_track") for event in events)
    found: dict[tuple[int, int | None, str], float] = {}
    for event in events:
        if isinstance(event, Fault):
            found[event.lap, event.corner, event.fault] = event.t
    for cue in corrections_of(run):
        if not cue.spoken or cue.starts is None:
            continue
        now, of = next(m for m in moments if m.t == cue.starts), cue.of[0]
        before = [m for m in moments if cue.starts - rules.EARLIEST + 1e-6 < m.t <= cue.starts and m is not now]
        assert all(m.brake is None or m.brake <= rules.QUIET_BRAKE for m in before)
        around = [m for m in moments if cue.starts - rules.LATEST - 0.11 <= m.t <= cue.starts]
        stretch = None if now.distance is None else windows.at(now.distance)
        free = all(
            m.distance is not None
            and windows.at(m.distance) is stretch
            and not places_of.inside(m.distance)
            and m.throttle is not None
            and m.throttle >= rules.FULL
            and (m.brake or 0.0) <= rules.QUIET_BRAKE
            and (m.lateral or 0.0) <= rules.START_LATERAL * (windows.bound or 99.0)
            for m in around
        )
        begun = around[0].t <= cue.starts - rules.LATEST
        if free and begun and not incidents and not any(isinstance(event, Stream) for event in events):
            assert found[of.lap, of.corner, of.fault] >= cue.starts - rules.LATEST - 1e-6


@settings(max_examples=examples(60), deadline=None)
@given(runs())
def test_every_finding_ends_in_one_cue_and_no_corner_pass_in_two_spoken(run: Run) -> None:
    cues, events = cues_of(run), run[2]
    pushed = Counter((event.lap, event.corner, event.fault) for event in events if isinstance(event, Fault))
    speak = [cue for cue in cues if cue.kind in ("correction", "reminder")]
    told = Counter((of.lap, of.corner, of.fault) for cue in speak if cue.kind == "correction" for of in cue.of)
    reminded = {(of.lap, of.corner, of.fault) for cue in speak if cue.kind == "reminder" for of in cue.of}
    assert all(told[key] == count for key, count in pushed.items() if key not in reminded)
    assert set(told) <= set(pushed)
    assert all(len(cue.of) == 1 for cue in speak if cue.kind == "correction" and not cue.spoken)
    assert all(len({of.fault for of in cue.of}) == 1 for cue in speak if cue.of)
    if not any(isinstance(event, Stream) and event.what in ("reset", "source") for event in events):
        passes = Counter((of.lap, of.corner) for cue in cues if cue.spoken for of in cue.of if of.corner is not None)
        assert all(count == 1 for count in passes.values())
        reminded = Counter(cue.lap for cue in cues if cue.kind == "reminder" and cue.spoken)
        assert all(count == 1 for count in reminded.values())


@settings(max_examples=examples(40), deadline=None)
@given(runs())
def test_no_lap_has_more_corrections_than_the_playbook_allows_but_of_what_hurts_or_is_worked_on(run: Run) -> None:
    _, _, events, book, focus = run
    if focus or any(isinstance(event, Stream) for event in events):
        return
    mild = Counter(cue.lap for cue in corrections_of(run) if cue.spoken and cue.about not in book.first)
    assert all(count <= 2 * book.talk.corrections for count in mild.values())


@settings(max_examples=examples(24), deadline=None)
@given(runs())
def test_the_same_run_says_the_same_and_so_does_a_clock_that_began_elsewhere(run: Run) -> None:
    trace, corners, events, book, focus = run
    first = cues_of(run)
    assert cues_of(run) == first
    later = cues_of((trace, corners, [replace(event, t=event.t + 4096.0) for event in events], book, focus))
    assert [(cue.text, cue.spoken, cue.why_not) for cue in later] == [
        (cue.text, cue.spoken, cue.why_not) for cue in first
    ]
    assert all(abs(there.t - 4096.0 - here.t) < 1e-6 for here, there in zip(first, later, strict=True))


@settings(max_examples=examples(24), deadline=None)
@given(runs(), st.lists(st.tuples(places, st.floats(-500.0, 500.0)), min_size=1, max_size=3))
def test_a_clock_that_jumps_loses_no_finding(run: Run, jumps: list[tuple[float, float]]) -> None:
    trace, corners, events, book, focus = run
    shift, jumped = 0.0, []
    at = {int(place * len(events)): by for place, by in jumps}
    for index, event in enumerate(events):
        shift += at.get(index, 0.0)
        jumped.append(replace(event, t=event.t + shift))
    cues = cues_of((trace, corners, jumped, book, focus))
    reminded = [of for cue in cues if cue.kind == "reminder" for of in cue.of]
    told = sum(len(cue.of) for cue in cues if cue.kind == "correction")
    assert told <= sum(isinstance(event, Fault) for event in events) <= told + len(reminded)


@settings(max_examples=examples(50), deadline=None)
@given(traces, places)
def test_a_window_lasts_until_the_reference_is_busy(trace: LapTrace, share: float) -> None:
    windows = Windows(trace)
    here = share * trace.length
    stretch = windows.at(here)
    cell = int(here / trace.step)
    ends = range(cell, cell + 2)
    quiet = [
        trace.throttle[i] >= 0.8
        and trace.brake[i] <= 0.05
        and (windows.bound is None or trace.lateral[i] <= windows.bound)
        for i in ends
    ]
    if stretch is None:
        assert not all(quiet)
        return
    assert stretch.start < stretch.end
    assert windows.at(stretch.start) is stretch
    left = windows.seconds(here, stretch.end)
    assert 0 < left < windows.lap_time
    beyond = windows.at(stretch.end + trace.step / 2)
    assert beyond is None or len(windows.stretches) == 2, "only a lap that is quiet all round is cut inside the quiet"


@settings(max_examples=examples(40), deadline=None)
@given(runs())
def test_each_press_has_its_one_confirmation_said_or_held_back(run: Run) -> None:
    cues, presses = cues_of(run), Counter(event.action for event in run[2] if isinstance(event, Action))
    texts = Counter(cue.text for cue in cues if cue.kind == "status")
    said = run[3].language.sentences
    assert texts[said.marked] == presses[MARK]
    assert texts[said.lap_used] + texts[said.lap_unfit] == presses[USE_LAP]
    assert texts[said.silent] + texts[said.speaking] == presses[QUIET] + presses[SPEAK] + presses[QUIET_OR_SPEAK]
    assert texts[said.silent] >= presses[QUIET] and texts[said.speaking] >= presses[SPEAK]
