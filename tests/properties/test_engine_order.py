"""Properties of the stream's order: whatever comes, is judged, counted and survived."""

from __future__ import annotations

import json
from dataclasses import fields
from itertools import pairwise
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.engine.engine import Engine
from coach.engine.order import REWIND, Order
from coach.vocabulary.events import Event, Lap, Moment, Reference, record
from coach.vocabulary.sample import Sample
from tests.engine.drives import begin, learned, run, told
from tests.properties.budget import examples

FINITE = st.floats(-1e12, 1e12, allow_nan=False)
"""The feeds let no larger number through."""
LIKELY = st.one_of(st.floats(0.0, 1.0), st.floats(-50.0, 3000.0), st.sampled_from([0.0, -0.0, 1e-9, 1e12, -1e12]))
NUMBER = st.one_of(st.none(), LIKELY, FINITE)
CLOCK = st.one_of(
    st.floats(0.001, 0.05), st.sampled_from([0.0, 0.02, 0.3, -0.02, -1.0, -1e9, 1e9, 3600.0]), st.floats(-5.0, 5.0)
)
LABEL = st.sampled_from([None, "", "loop-a", "loop-a", "loop-a", "another"])
FLAG = st.sampled_from([None, None, True, False])
WHEELS = st.one_of(st.none(), st.tuples(LIKELY, LIKELY, LIKELY, LIKELY))
CHANNELS = st.fixed_dictionaries(
    {},
    optional={
        **{f.name: NUMBER for f in fields(Sample) if f.name != "t" and f.type == "float | None"},
        **{f.name: FLAG for f in fields(Sample) if f.type == "bool | None"},
        **dict.fromkeys(("track", "car", "driver", "session_kind"), LABEL),
        "lap": st.one_of(st.none(), st.integers(-2, 5), st.integers(-(10**12), 10**12)),
        "gear": st.one_of(st.none(), st.integers(-1, 8)),
        "wheel_speed": WHEELS,
        "beside": st.sampled_from([None, "", "left"]),
        "assists": st.sampled_from([None, (), ("abs",), ("gearbox", "abs")]),
    },
)
GARBAGE = st.lists(st.tuples(CLOCK, CHANNELS), max_size=60)


def stream(steps: list[tuple[float, dict[str, Any]]], begins: float = 0.0) -> list[Sample]:
    t, out = begins, []
    for step, channels in steps:
        t = max(-1e12, min(1e12, t + step))
        out.append(Sample(t, **channels))
    return out


def lines(events: list[Event]) -> list[str]:
    return [json.dumps(record(event), allow_nan=False) for event in events if event.logged]


@settings(deadline=None, max_examples=examples(100))
@given(st.lists(st.tuples(CLOCK, st.one_of(st.none(), st.integers(0, 4))), max_size=80))
def test_every_sample_is_kept_or_counted(steps: list[tuple[float, int | None]]) -> None:
    order, kept, counted, last = Order(), 0, 0, None
    samples = stream([(step, {"lap": lap}) for step, lap in steps])
    events = []
    for sample in samples:
        verdict, told_ = order.judge(sample, 0)
        events += told_
        kept += verdict.keep
        if verdict.keep:
            assert verdict.new_run == (verdict.step is None)
            assert last is None or sample.t > last or last - sample.t > REWIND - 1e-5
            last = sample.t
        else:
            assert last is not None and 0.0 <= last - sample.t < REWIND
    events += order.flush(0)
    counted = sum(event.count for event in events if event.what in ("late", "duplicate"))  # type: ignore[attr-defined]
    assert kept + counted == len(samples)


@settings(deadline=None, max_examples=examples(40), suppress_health_check=[HealthCheck.too_slow])
@given(GARBAGE)
def test_no_finite_sample_raises_and_every_event_can_be_logged(steps: list[tuple[float, dict[str, Any]]]) -> None:
    samples = stream(steps)
    for start in (begin(), learned()):
        engine = Engine(start)
        events = [event for sample in samples for event in engine.push(sample)] + engine.finish()
        assert lines(events) or not samples
        for event in events:
            if isinstance(event, Lap):
                assert event.clean == (event.why_not == () and event.time is not None)


@settings(deadline=None, max_examples=examples(16), suppress_health_check=[HealthCheck.too_slow])
@given(GARBAGE)
def test_the_same_samples_give_the_same_records(steps: list[tuple[float, dict[str, Any]]]) -> None:
    samples = stream(steps)
    assert lines(run(samples, learned())) == lines(run(samples, learned()))


@settings(deadline=None, max_examples=examples(10), suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(st.integers(0, 3300), st.integers(1, 40), CHANNELS), min_size=1, max_size=12),
    st.lists(st.tuples(st.integers(0, 3300), CLOCK), max_size=6),
)
def test_garbage_within_a_real_drive_is_survived(
    wrong: list[tuple[int, int, dict[str, Any]]], jumps: list[tuple[int, float]]
) -> None:
    """Channels go mad for a while, the clock jumps: the drive goes on, and no broken lap becomes the reference."""
    samples = [_copy(sample) for sample in told(2, 25.0)]
    for where, count, channels in wrong:
        for sample in samples[where : where + count]:
            for name, value in channels.items():
                setattr(sample, name, value)
    for where, step in jumps:
        for sample in samples[where:]:
            sample.t += step
    events = run(samples, begin())
    assert lines(events)
    clean = {event.lap for event in events if isinstance(event, Lap) and event.clean}
    for event in events:
        assert not isinstance(event, Moment)
        if isinstance(event, Reference):
            assert event.lap in clean
            assert all(a < b for a, b in pairwise(event.trace.time))


def _copy(sample: Sample) -> Sample:
    return Sample(**{name: getattr(sample, name) for name in Sample.__dataclass_fields__})
