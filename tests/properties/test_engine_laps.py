"""Properties of laps and deltas over real drives: shifted, repeated, thinned, poorer."""

from __future__ import annotations

import json
import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.vocabulary.events import Delta, Event, Fault, Lap, Loss, Stream
from coach.vocabulary.sample import CHANNELS, Sample
from tests.engine.drives import OWN_TIMES, drive, laps, learned, loop, only, plain, run, told
from tests.properties.budget import examples

RATE = 20.0
DRIVEN = {"scatter": 0.01, "wander": 0.5}
TRUTH = {lap.lap: lap.time for lap in drive(2, RATE, **DRIVEN).laps}
SHIFT = 4096.0
"""s: a power of two, so that little is lost by rounding"""
SEEDS = st.integers(0, 10**6)


def driven() -> list[Sample]:
    return list(told(2, RATE, *OWN_TIMES, **DRIVEN))


def lines(events: list[Event]) -> list[str]:
    return [json.dumps(plain(event)) for event in events]


def test_the_same_samples_give_the_same_bytes() -> None:
    first, second = (lines(run(driven(), learned())) for _ in range(2))
    assert first == second
    assert len(first) > 1000


def near(a: float | None, b: float | None, within: float = 1e-6) -> bool:
    return a is b if a is None or b is None else abs(a - b) <= within


def test_a_drive_at_another_hour_is_the_same_drive() -> None:
    first = run(driven(), learned())
    second = run([replace(s, t=s.t + SHIFT) for s in driven()], learned())
    assert [type(e) for e in first] == [type(e) for e in second]
    for a, b in zip(first, second, strict=True):
        assert near(a.t + SHIFT, b.t) and a.lap == b.lap
        if isinstance(a, Lap) and isinstance(b, Lap):
            assert near(a.time, b.time) and near(a.delta, b.delta) and a.why_not == b.why_not
        elif isinstance(a, Delta) and isinstance(b, Delta):
            assert near(a.distance, b.distance) and near(a.delta, b.delta)
        elif isinstance(a, Fault) and isinstance(b, Fault):
            assert (a.fault, a.corner) == (b.fault, b.corner)
            assert near(a.size, b.size) and near(a.net, b.net) and near(a.cost, b.cost)
        elif isinstance(a, Loss) and isinstance(b, Loss):
            # each part is rounded to 0.1 ms, so it may fall to the other side
            assert all(near(p.seconds, q.seconds, 1.01e-4) for p, q in zip(a.parts, b.parts, strict=True))


@settings(deadline=None, max_examples=examples(6))
@given(SEEDS)
def test_lost_late_and_double_datagrams_leave_the_times_within_four_milliseconds(seed: int) -> None:
    chance = random.Random(seed)
    stream: list[Sample] = []
    lost = 0
    for sample in driven():
        if chance.random() < 0.05 and lost < 1:
            lost += 1  # never so many in a row that it is a gap
            continue
        lost = 0
        stream.append(sample)
        if chance.random() < 0.03:
            stream.append(sample)
        if chance.random() < 0.03 and len(stream) > 1:
            stream[-1], stream[-2] = stream[-2], stream[-1]
    events = run(stream, learned())
    found = laps(events)
    assert sorted(found) == [1, 2]
    for number, lap in found.items():
        assert near(lap.time, TRUTH[number], 0.004)
        assert lap.why_not == (("standing_start",) if number == 1 else ())
    assert {e.what for e in only(events, Stream)} <= {"late", "duplicate"}
    newest, dropped = -1.0, 0
    for sample in stream:
        dropped += sample.t <= newest
        newest = max(newest, sample.t)
    assert sum(e.count for e in only(events, Stream)) == dropped


@settings(deadline=None, max_examples=examples(8))
@given(st.sets(st.sampled_from([name for name in CHANNELS if name != "t"]), max_size=30))
def test_a_poorer_source_never_raises_and_its_laps_are_as_true(lacking: set[str]) -> None:
    stream = list(told(2, RATE, *sorted({*OWN_TIMES, *lacking}), **DRIVEN))
    found = laps(run(stream, learned()))
    if "lap_distance" not in lacking or not {"x", "y"} & lacking:
        timed = {n: lap.time for n, lap in found.items()}
        assert sorted(timed) == [1, 2]
        # without a speed the crossing is at constant speed: still well within
        assert all(near(timed[n], TRUTH[n], 0.004) for n in timed)


@settings(deadline=None, max_examples=examples(4))
@given(seed=st.integers(1, 50), rate=st.sampled_from([20.0, 30.0, 60.0]))
def test_delta_is_the_difference_of_the_times_and_runs_up_to_it(seed: int, rate: float) -> None:
    events = run(told(1, rate, *OWN_TIMES, seed=seed, **DRIVEN), learned())
    deltas = only(events, Delta)
    for lap in laps(events).values():
        assert lap.time is not None and lap.reference_time is not None and lap.delta is not None
        assert abs(lap.delta - (lap.time - lap.reference_time)) < 1e-9
        own = [d for d in deltas if d.lap == lap.lap]
        a, b = own[-2:]
        ahead = (loop().length - b.distance) / (b.distance - a.distance)
        assert abs(b.delta + (b.delta - a.delta) * ahead - lap.delta) < 0.001
        assert abs(len(own) - 10.0 * lap.time) < 2.0
