"""The engine as a whole: sessions, what it starts from, studying a run."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from coach.engine.engine import Engine
from coach.engine.lap import GridLap
from coach.engine.start import EngineStart, mismatch
from coach.engine.study import study
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.events import (
    Corners,
    Delta,
    Detector,
    Event,
    Lap,
    Loss,
    Moment,
    Reference,
    Run,
    Stream,
    record,
)
from coach.vocabulary.sample import Sample
from tests.engine.drives import OWN_TIMES, at, begin, drive, laps, learned, loop, only, run, streams, then, told

RATE = 20.0
DRIVEN = {"scatter": 0.01, "wander": 0.5}


@pytest.fixture
def plain() -> list[Sample]:
    return list(told(3, RATE, *OWN_TIMES, **DRIVEN))


def small_lap() -> dict[str, Any]:
    return {
        **{"number": 1, "length": 300.0, "track": None, "car": None},
        **{"time": [0.0, 10.0, 20.0], "lateral": [0.0, 0.0, 0.0], "channels": {}},
    }


def log(events: list[Event]) -> str:
    return "\n".join(json.dumps(record(event)) for event in events if event.logged)


# sessions


def test_the_log_begins_with_the_run_and_what_it_starts_from(plain: list[Sample]) -> None:
    events = [event for event in run(plain[:10], learned()) if event.logged]
    assert [type(event) for event in events[:3]] == [Run, Reference, Corners]
    assert record(events[0]) == {
        "type": "run",
        "t": plain[0].t,
        "lap": 0,
        "version": "0",
        "source": "test",
        "track": "loop-a",
        "car": "car-a",
        "reference": "plain",
        "phrases": "test",
    }
    assert isinstance(events[1], Reference) and events[1].time == pytest.approx(drive(2).laps[1].time, abs=0.0005)


def test_without_a_sample_there_is_nothing() -> None:
    assert Engine(begin()).finish() == []


@pytest.mark.parametrize("label", ["track", "car", "driver"])
def test_a_change_of_a_label_is_a_new_session(plain: list[Sample], label: str) -> None:
    where = at(plain, 2, 700.0)
    stream = [*plain[:where], *(replace(s, **{label: "another"}) for s in plain[where:])]  # type: ignore[arg-type]
    events = run(stream)
    assert len(only(events, Run)) == 2
    source = streams(events, "source")
    assert [s.t for s in source] == [plain[where].t]
    second = events.index(only(events, Run)[1])
    assert events[second - 1] is source[0]
    assert {"track": only(events, Run)[1].track, "car": only(events, Run)[1].car, "driver": "another"}[
        label
    ] == "another"
    found = only(events, Lap)
    assert [(lap.lap, lap.clean) for lap in found] == [(1, False), (2, False), (3, True)]
    assert found[1].time is None, "joined on the way"


@pytest.mark.parametrize("label", ["track", "car", "driver"])
@pytest.mark.parametrize("empty", [None, ""])
def test_a_label_that_goes_missing_or_comes_late_is_no_new_session(
    plain: list[Sample], label: str, empty: str | None
) -> None:
    stream = [replace(s, **{label: empty}) if i % 3 != 1 else s for i, s in enumerate(plain[:300])]  # type: ignore[arg-type]
    events = run(stream)
    assert len(only(events, Run)) == 1 and streams(events) == []


def test_a_new_session_may_begin_at_an_earlier_time(plain: list[Sample]) -> None:
    other = [replace(s, car="another") for s in plain]
    events = run([*plain[: at(plain, 2, 100.0)], *other])
    assert [s.what for s in streams(events)] == ["source"]
    assert [(lap.lap, lap.clean) for lap in only(events, Lap)] == [(1, False), (1, False), (2, True), (3, True)]


def test_nothing_learned_in_one_car_is_used_in_the_next(plain: list[Sample]) -> None:
    other = [replace(s, car="another") for s in plain]
    events = run(then(plain, other))
    second = events.index(only(events, Run)[1])
    assert only(events[:second], Reference)
    first_lap = only(events[second:], Lap)[0]
    assert first_lap.delta is None
    assert only(events[second:], Reference)[0].lap == 2


def test_what_was_held_back_is_told_before_the_next_session(plain: list[Sample]) -> None:
    stream = [replace(s, last_lap_time=99.0) for s in plain]
    end = at(plain, 2, 0.0) + 2
    events = run([*stream[:end], replace(stream[end], car="another")])
    first = events.index(streams(events, "source")[0])
    assert [lap.lap for lap in only(events[:first], Lap)] == [1]


# a reference of another circuit


def test_a_reference_of_another_circuit_is_refused_in_one_line(plain: list[Sample]) -> None:
    events = run([replace(s, track="loop-b") for s in plain[:50]], learned())
    refused = [d for d in only(events, Detector) if d.name == "reference"]
    assert [d.on for d in refused] == [False]
    line = refused[0].lacks or ""
    assert "loop-a" in line and "loop-b" in line and "choose" in line and "\n" not in line
    assert only(events, Run)[0].reference is None and only(events, Reference) == []


@pytest.mark.parametrize(("factor", "fits"), [(1.004, True), (0.996, True), (1.006, False), (0.9, False)])
def test_two_measurements_of_one_circuit_differ_by_less_than_half_a_per_cent(factor: float, fits: bool) -> None:
    sample = Sample(0.0, track_length=loop().length * factor, lap_distance=0.0)
    message = mismatch(learned(), sample)
    assert (message is None) == fits
    assert message is None or ("m long" in message and "choose" in message)


@pytest.mark.parametrize(("factor", "fits"), [(1.02, True), (1.05, True), (1.07, False), (0.9, False)])
def test_a_lap_along_its_path_is_shorter_than_the_centre_line(factor: float, fits: bool) -> None:
    """A source without `lap_distance` is measured along the path driven, which cuts some per cent."""
    assert (mismatch(learned(), Sample(0.0, track_length=loop().length * factor)) is None) == fits


def test_a_length_of_hundreds_of_digits_is_told_in_short() -> None:
    lap = replace(begin(), reference=GridLap.from_json({**small_lap(), "length": 1e308}))
    assert mismatch(lap, Sample(0.0, track_length=4321.4)) == (
        "the reference lap is 1e+308 m long, this circuit 4321 m: choose a lap of this circuit and layout"
    )


def test_no_label_and_no_length_is_no_mismatch() -> None:
    assert mismatch(learned(), Sample(0.0)) is None
    assert mismatch(begin(), Sample(0.0, track="loop-b")) is None


@pytest.mark.parametrize("channels", [{"track": "loop-b"}, {"track_length": 3000.0}])
def test_a_circuit_that_is_named_only_later_refuses_the_reference_then(
    plain: list[Sample], channels: dict[str, Any]
) -> None:
    nameless = [replace(s, track=None, track_length=None) for s in plain[:20]]
    named = [replace(s, **{"track": None, "track_length": None, **channels}) for s in plain[20:60]]
    events = run([*nameless, *named], learned())
    assert [r.reference for r in only(events, Run)] == ["plain", None]
    assert [d.on for d in only(events, Detector) if d.name == "reference"] == [False]


def test_a_circuit_that_is_never_named_refuses_the_reference_at_the_line(plain: list[Sample]) -> None:
    """Neither a name nor a length: what the lap measured must do."""
    stream = [
        replace(s, track=None, track_length=None, x=None, y=None, lap_distance=(s.lap_distance or 0.0) * 1.1)
        for s in plain
    ]
    events = run(stream, learned())
    refused = [d for d in only(events, Detector) if d.name == "reference"]
    assert len(refused) == 1 and "m long" in (refused[0].lacks or "")
    found = laps(events)
    assert found[1].delta is None and found[2].delta is None
    assert [r.origin for r in only(events, Reference)][:2] == ["plain", "this session"]
    assert found[3].delta == pytest.approx((found[3].time or 0.0) - (found[2].time or 0.0), abs=1e-5)


def test_positions_far_from_the_references_path_refuse_it_and_begin_a_survey(plain: list[Sample]) -> None:
    """Only x and y, of a circuit that is somewhere else: nothing but the path tells."""
    stream = [replace(s, track=None, track_length=None, lap_distance=None, x=(s.x or 0.0) + 5000.0) for s in plain]
    events = run(stream, learned())
    refused = [d for d in only(events, Detector) if d.name == "reference"]
    assert len(refused) == 1 and "nowhere near" in (refused[0].lacks or "")
    assert refused[0].t - stream[0].t == pytest.approx(5.0, abs=0.1)
    assert only(events, Reference)[-1].origin == "this session"
    assert all(lap.delta is None for n, lap in laps(events).items() if n < 3)


# the numbers agree


def test_deltas_ledger_and_lap_time_agree(plain: list[Sample]) -> None:
    events = run(plain, learned())
    found = laps(events)
    losses = {loss.lap: loss for loss in only(events, Loss)}
    assert sorted(losses) == sorted(found) == [1, 2, 3]
    for number, lap in found.items():
        assert lap.delta is not None and lap.time is not None and lap.reference_time is not None
        assert lap.delta == pytest.approx(lap.time - lap.reference_time, abs=1e-9)
        assert sum(part.seconds for part in losses[number].parts) == pytest.approx(lap.delta, abs=0.001)


def test_events_come_in_order_of_time(plain: list[Sample]) -> None:
    times = [event.t for event in run(plain, learned())]
    assert times == sorted(times)


def test_a_pause_is_quiet_and_so_are_pit_and_traffic(plain: list[Sample]) -> None:
    engine = Engine(begin())
    expected = {"in_pit": (True, "pit"), "yellow_flag": (True, "yellow"), "beside": ("left", "beside")}
    for i, (channel, (value, quiet)) in enumerate(expected.items()):
        for sample, wanted in ((replace(plain[2 * i], **{channel: value}), quiet), (plain[2 * i + 1], "")):
            moments = [e for e in engine.push(sample) if isinstance(e, Moment)]
            assert [m.quiet for m in moments] == [wanted]
    race = [e for e in engine.push(replace(plain[10], session_kind="race")) if isinstance(e, Moment)]
    assert race[0].quiet == "race"


# what it starts from


def test_a_start_read_back_gives_the_same_bytes(plain: list[Sample]) -> None:
    start = learned()
    back = EngineStart.from_json(json.loads(json.dumps(start.to_json())))
    assert json.dumps(back.to_json()) == json.dumps(start.to_json())
    assert log(run(plain, back)) == log(run(plain, start))
    assert log(run(plain, start)).count('"type": "lap"') == 3


def test_a_run_leaves_its_start_as_it_was(plain: list[Sample]) -> None:
    before = json.dumps(learned().to_json())
    run(plain, learned())
    assert json.dumps(learned().to_json()) == before


def test_a_start_without_a_reference_is_read_back() -> None:
    back = EngineStart.from_json(json.loads(json.dumps(begin().to_json())))
    assert back.reference is None and back.circuit is None and back.version == "0"


@pytest.mark.parametrize(
    "data",
    [
        *(None, [], "x", {}, {"version": "1"}, {"reference": 3, "circuit": None}),
        *({"reference": None, "origin": origin} for origin in (5, ["a"], {"a": 1}, True)),
        *({"reference": None, "usual": [usual]} for usual in ([1e400, "a", 1.0], [1, "a", 10**400])),
        {"reference": None, "scatter": [[1e400, "a", [1.0]]]},
        {"reference": None, "circuit": {"name": "a", "length": 10**400, "marks": []}},
        {"reference": {**small_lap(), "length": 10**400}},
    ],
)
def test_a_damaged_start_is_one_clear_line(data: Any) -> None:
    if isinstance(data, dict) and "reference" in data:
        data = {**begin().to_json(), **data}
    with pytest.raises(FormatError) as caught:
        EngineStart.from_json(data)
    assert "\n" not in str(caught.value) and "cannot be read" in str(caught.value)


# studying a run


def test_the_best_clean_lap_of_a_run_is_chosen() -> None:
    times = {lap.lap: lap.time for lap in drive(4, RATE, **DRIVEN).laps}
    best = min((2, 3, 4), key=lambda number: times[number])
    studied = study(told(4, RATE, *OWN_TIMES, **DRIVEN), "run-a")
    assert studied.reference.number == best
    assert studied.reference.total == pytest.approx(times[best], abs=0.0005)
    assert studied.circuit.length == pytest.approx(loop().length, abs=0.001)
    assert studied.circuit.coached
    assert studied.reference.track == "loop-a" and studied.reference.car == "car-a"


def test_a_quicker_lap_that_is_not_clean_is_not_chosen() -> None:
    stream = told(4, RATE, *OWN_TIMES, **DRIVEN)
    times = {lap.lap: lap.time for lap in drive(4, RATE, **DRIVEN).laps}
    first, second = sorted((2, 3, 4), key=lambda number: times[number])[:2]
    spoiled = [replace(s, lap_valid=not (s.lap == first and 20.0 < (s.lap_distance or 0.0) < 900.0)) for s in stream]
    assert study(spoiled, "run-a").reference.number == second


def test_a_run_without_a_clean_lap_says_what_spoiled_them(plain: list[Sample]) -> None:
    stream = [replace(s, lap_valid=False, edge_left=-3.0 if s.lap == 2 else s.edge_left) for s in plain]
    with pytest.raises(InputError) as caught:
        study(stream, "my-run.jsonl")
    message = str(caught.value)
    assert message.startswith("my-run.jsonl: ") and "\n" not in message
    assert "3 laps, none clean (cut, off_track, standing_start)" in message and "flying lap" in message


def test_a_run_that_ends_at_the_line_counts_its_last_lap(plain: list[Sample]) -> None:
    stream = [replace(s, last_lap_time=99.0) for s in plain[: at(plain, 2, 0.0) + 1]]
    with pytest.raises(InputError, match=r"1 laps, none clean \(standing_start\)"):
        study(stream, "x")


@pytest.mark.parametrize("count", [0, 1, 300])
def test_a_run_without_a_lap_says_so(plain: list[Sample], count: int) -> None:
    with pytest.raises(InputError, match="no lap from line to line"):
        study(plain[:count], "x")


def test_the_events_between_two_laps_are_of_the_source_time(plain: list[Sample]) -> None:
    """No clock but the samples': an hour later on the source's clock is the same drive."""
    late = [replace(s, t=s.t + 4096.0) for s in plain]
    first, second = run(plain, learned()), run(late, learned())
    assert [type(e) for e in first] == [type(e) for e in second]
    assert [s.t for s in only(second, Delta)] == pytest.approx([s.t + 4096.0 for s in only(first, Delta)])
    assert only(first, Stream) == only(second, Stream) == []
