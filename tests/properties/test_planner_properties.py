"""What holds of the planner whatever circuit, drive and findings it is given."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.planner import rules
from coach.planner.windows import Windows
from coach.vocabulary.events import CornerMark, Cue, Event, Fault, Moment, Stream
from coach.vocabulary.faults import FAULTS
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import Part, braking, drive, knowing, lap_trace, planner, turning

MARGIN = 0.5

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


@st.composite
def marks(draw: st.DrawFn, length: float) -> tuple[CornerMark, ...]:
    out = []
    for corner in range(1, draw(st.integers(0, 3)) + 1):
        shares = sorted(draw(st.lists(places, min_size=4, max_size=4)))
        brake, entry, apex, leave = (length * share for share in shares)
        out.append(CornerMark(corner, "left", brake, entry, apex, leave, (apex,), coached=draw(st.booleans())))
    return tuple(out)


@st.composite
def runs(draw: st.DrawFn) -> tuple[LapTrace, tuple[CornerMark, ...], list[Event]]:
    """A reference, a map, and a drive of some laps with findings and breaks in it, in order of time."""
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
    for place, event in draw(st.lists(st.tuples(places, found), max_size=12)):
        index = int(place * len(moments))
        extra.setdefault(index, []).append(replace(event, t=moments[index].t))
    for place, what in draw(st.lists(st.tuples(places, breaks), max_size=2)):
        index = int(place * len(moments))
        extra.setdefault(index, []).append(Stream(moments[index].t, moments[index].lap, what, None, None))
    events: list[Event] = []
    for index, moment in enumerate(moments):
        events += [moment, *extra.get(index, [])]
    return trace, draw(marks(trace.length)), events


def cues_of(trace: LapTrace, corners: tuple[CornerMark, ...], events: list[Event]) -> list[Cue]:
    plan = knowing(planner(lengths={"Throttle sooner": 0.4, "More speed": 0.3}), trace, corners)
    out = [cue for event in events for cue in plan.push(event)] + plan.finish()
    cues = [cue for cue in out if isinstance(cue, Cue)]
    assert len(cues) == len(out)
    return cues


@settings(max_examples=120, deadline=None)
@given(runs())
def test_nothing_is_said_where_it_must_not_be(run: tuple[LapTrace, tuple[CornerMark, ...], list[Event]]) -> None:
    trace, corners, events = run
    windows = Windows(trace)
    moments = {event.t: event for event in events if isinstance(event, Moment)}
    before = None
    for cue in cues_of(trace, corners, events):
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
        assert now.quiet == ""
        assert before is None or cue.starts >= before
        before = cue.ends


@settings(max_examples=120, deadline=None)
@given(runs())
def test_every_finding_ends_in_one_cue_and_no_corner_pass_in_two_spoken(
    run: tuple[LapTrace, tuple[CornerMark, ...], list[Event]],
) -> None:
    trace, corners, events = run
    cues = cues_of(trace, corners, events)
    pushed = Counter((event.lap, event.corner, event.fault) for event in events if isinstance(event, Fault))
    assert Counter((of.lap, of.corner, of.fault) for cue in cues for of in cue.of) == pushed
    assert all(len(cue.of) == 1 for cue in cues)
    if not any(isinstance(event, Stream) and event.what in ("reset", "source") for event in events):
        passes = Counter((of.lap, of.corner) for cue in cues if cue.spoken for of in cue.of if of.corner is not None)
        assert all(count == 1 for count in passes.values())


@settings(max_examples=40, deadline=None)
@given(runs())
def test_the_same_run_says_the_same_and_so_does_a_clock_that_began_elsewhere(
    run: tuple[LapTrace, tuple[CornerMark, ...], list[Event]],
) -> None:
    trace, corners, events = run
    first = cues_of(trace, corners, events)
    assert cues_of(trace, corners, events) == first
    later = cues_of(trace, corners, [replace(event, t=event.t + 4096.0) for event in events])
    assert [(cue.text, cue.spoken, cue.why_not) for cue in later] == [
        (cue.text, cue.spoken, cue.why_not) for cue in first
    ]
    assert all(abs(there.t - 4096.0 - here.t) < 1e-6 for here, there in zip(first, later, strict=True))


@settings(max_examples=40, deadline=None)
@given(runs(), st.lists(st.tuples(places, st.floats(-500.0, 500.0)), min_size=1, max_size=3))
def test_a_clock_that_jumps_loses_no_finding(
    run: tuple[LapTrace, tuple[CornerMark, ...], list[Event]], jumps: list[tuple[float, float]]
) -> None:
    trace, corners, events = run
    shift, jumped = 0.0, []
    at = {int(place * len(events)): by for place, by in jumps}
    for index, event in enumerate(events):
        shift += at.get(index, 0.0)
        jumped.append(replace(event, t=event.t + shift))
    assert len(cues_of(trace, corners, jumped)) == sum(isinstance(event, Fault) for event in events)


@settings(max_examples=100, deadline=None)
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
