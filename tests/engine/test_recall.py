"""What is known from days before comes in while the driver drives; each lap leaves behind what another day needs."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from coach.engine.circuit import Circuit
from coach.engine.engine import Engine
from coach.engine.known import Known
from coach.engine.lap import GridLap, same_lap
from coach.engine.learned import Learned
from coach.engine.references import CHOSEN, OWN
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.actions import USE_LAP
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import (
    Action,
    Corners,
    Detector,
    Event,
    Fault,
    Lap,
    Loss,
    Moment,
    Passed,
    Reference,
    Run,
)
from coach.vocabulary.sample import Sample
from tests.engine.drives import at, begin, changed, laps, loop, only, recorded, samples, then
from tests.engine.test_days import paced
from tests.make_stream import Mistake, make_drive

RATE = 12.5
ORIGIN = "lap 3 of yesterday"


@cache
def driven(count: int = 3, seed: int = 3, *mistakes: Mistake, grip: float = 0.012) -> tuple[Sample, ...]:
    """A practised driver's laps; equal arguments give the same samples."""
    return tuple(samples(make_drive(loop(), count, RATE, mistakes, seed, grip, 0.2).rows))


@cache
def slow() -> tuple[Sample, ...]:
    """Another day, each lap with a mistake, so that none is quicker than yesterday's."""
    late = [Mistake("late_throttle", lap, corner, 0.8) for lap in (1, 2, 3) for corner in (1, 6)]
    return driven(3, 5, *late)


@cache
def yesterday() -> Known:
    """What a day of the same driver left behind."""
    engine = Engine(begin())
    learned = [event for sample in driven(4) for event in engine.push(sample) if isinstance(event, Learned)][-1]
    assert engine.session is not None
    return Known(engine.session.best, ORIGIN, learned.circuit, learned.scatter, learned.usual, None, learned.warm)


@cache
def remembering() -> tuple[Event, ...]:
    """The slow day with what yesterday left behind."""
    return tuple(run_with(slow(), {0: yesterday()}))


@cache
def of_slow() -> GridLap:
    return study(slow(), "slow").reference


def run_with(stream: Sequence[Sample], recalls: dict[int, Known], start: EngineStart | None = None) -> list[Event]:
    """All events but the moments, where these are recalled behind the samples of these numbers."""
    engine, out = Engine(begin() if start is None else start), []
    for number, sample in enumerate(stream):
        out += engine.push(sample)
        if number in recalls:
            out += engine.recall(recalls[number])
    return [event for event in out + engine.finish() if not isinstance(event, Moment)]


def renumbered(circuit: Circuit, by: int) -> Circuit:
    return replace(circuit, marks=tuple(replace(mark, corner=mark.corner + by) for mark in circuit.marks))


def test_each_lap_leaves_behind_its_channels_and_what_is_known_by_then() -> None:
    events = run_with(driven(), {})
    places = [number for number, event in enumerate(events) if isinstance(event, Lap)]
    assert len(places) == 3
    for place in places:
        lap, learned = events[place], events[place + 1]
        assert isinstance(lap, Lap) and isinstance(learned, Learned)
        assert (learned.lap, learned.t) == (lap.lap, lap.t)
        assert learned.grid is not None and lap.time == pytest.approx(learned.grid.total, abs=2e-3)
        assert learned.circuit is not None
    first, last = (events[place + 1] for place in (places[0], places[-1]))
    assert isinstance(first, Learned) and isinstance(last, Learned)
    assert first.scatter.to_json() != last.scatter.to_json(), "what was handed out does not change behind one's back"
    studied = study(driven(), "the same")
    assert last.scatter.to_json() == studied.scatter.to_json() and last.usual == studied.usual


def test_a_lap_that_was_not_whole_has_no_channels() -> None:
    stream = driven()
    pit = range(at(stream, 2, 200.0), at(stream, 2, 260.0))
    lost = [sample for number, sample in enumerate(stream) if number not in range(pit.start, pit.stop + 100)]
    events = run_with(lost, {})
    learned = {event.lap: event for event in only(events, Learned)}
    assert set(learned) == {event.lap for event in only(events, Lap)}
    assert any(event.grid is None for event in learned.values())


def test_recalled_at_the_first_sample_it_is_as_if_the_session_had_started_with_it() -> None:
    """Where no lap is quicker: the oracle is a start with the same reference, map, scatter and habits."""
    known = yesterday()
    start = begin(
        reference=known.reference,
        origin=ORIGIN,
        circuit=known.circuit,
        scatter=known.scatter,
        usual=known.usual,
        warm=known.warm,
    )
    started, recalled = recorded(run_with(slow(), {}, start)), recorded(remembering())
    assert [event for event in recalled if event["type"] != "run"][:2] == started[1:3]
    assert [event["type"] for event in started[:3]] == ["run", "reference", "corners"]
    key = json.dumps
    assert sorted(map(key, recalled[1:])) == sorted(map(key, started[1:]))
    assert any(event["type"] == "fault" for event in recalled)


def test_a_day_with_less_grip_is_treated_as_with_a_start_of_the_same_reference() -> None:
    """A tenth less of it everywhere: the laps of today count from then on, as the oracle has it too."""
    known, stream = yesterday(), paced(driven(3, 5), 0.94)
    start = begin(reference=known.reference, origin=ORIGIN, circuit=known.circuit, scatter=known.scatter)
    started = recorded(run_with(stream, {}, start))
    recalled = recorded(run_with(stream, {0: replace(known, usual={})}))
    assert any("less grip" in event["text"] for event in recalled if event["type"] == "advice")
    first, *others = (event["origin"] for event in recalled if event["type"] == "reference")
    assert first == ORIGIN and set(others) == {OWN}
    assert sorted(map(json.dumps, recalled[1:])) == sorted(map(json.dumps, started[1:]))


def test_a_quicker_clean_lap_of_the_session_takes_its_place_and_then_the_next_quicker_one() -> None:
    slower = of_slow()
    events = run_with(driven(3, 7), {0: Known(slower, ORIGIN)})
    references, clean = only(events, Reference), [lap for lap in only(events, Lap) if lap.clean]
    assert [reference.origin for reference in references][:2] == [ORIGIN, OWN]
    best: float | None = slower.total
    expected = []
    for lap in clean:
        if lap.time is not None and best is not None and lap.time < best:
            best = lap.time
            expected.append(lap.lap)
    assert [reference.lap for reference in references[1:]] == expected and expected
    for lap in clean:
        if lap.lap == expected[0]:
            assert lap.reference_time == pytest.approx(slower.total, abs=1e-6)


def test_a_slower_lap_never_does() -> None:
    references = only(remembering(), Reference)
    assert [reference.origin for reference in references] == [ORIGIN]


def test_where_the_session_has_the_quicker_lap_already_it_stays() -> None:
    stream = driven(3, 7)
    events = run_with(stream, {at(stream, 3, 300.0): Known(of_slow(), ORIGIN)})
    assert ORIGIN not in [reference.origin for reference in only(events, Reference)]


@pytest.mark.parametrize("lap", [1, 3])
def test_the_corners_have_the_numbers_of_the_memory(lap: int) -> None:
    """Yesterday they were numbered from another beginning; `lap`: before and behind the first map of today."""
    known = yesterday()
    assert known.circuit is not None
    circuit = renumbered(known.circuit, 20)
    for other in (Known(known.reference, ORIGIN, circuit), Known(circuit=circuit)):
        stream = slow()
        events = run_with(stream, {at(stream, lap, 500.0): other})
        after = [event for event in events if event.t > stream[at(stream, lap, 600.0)].t]
        numbers = {event.corner for event in only(after, Fault) if event.corner is not None}
        numbers |= {event.corner for event in only(after, Passed)}
        numbers |= {part.corner for event in only(after, Loss) for part in event.parts if part.corner is not None}
        assert numbers and min(numbers) > 20
        marks = only(events, Corners)[-1].corners
        assert {mark.corner for mark in marks if mark.coached} <= {mark.corner + 20 for mark in known.circuit.marks}
        learned = only(events, Learned)[-1]
        assert learned.circuit is not None and learned.circuit.name == known.circuit.name
        assert min(corner for corner, _, _ in learned.scatter.to_json()) > 20


def test_a_reference_of_the_sessions_own_stays_and_takes_the_numbers() -> None:
    known, own = yesterday(), study(driven(3, 9), "file")
    assert known.circuit is not None
    start = begin(reference=own.reference, origin="file", circuit=own.circuit, scatter=own.scatter, usual=own.usual)
    plain = run_with(slow(), {}, start)
    events = run_with(slow(), {20: replace(known, circuit=renumbered(known.circuit, 20))}, start)
    assert {reference.origin for reference in only(events, Reference)} == {"file"}
    assert len(only(events, Corners)) == 2 and len(only(plain, Corners)) == 1
    before, after = only(events, Corners)
    number = {mark.apex: mark.corner for mark in after.corners}
    by = {mark.corner: number[mark.apex] for mark in before.corners}
    assert min(by.values()) > 20

    def found(of: list[Event], change: Callable[[int | None], int | None]) -> list[tuple[Any, ...]]:
        faults = only(of, Fault)
        return [(event.fault, event.lap, change(event.corner), event.cost) for event in faults]

    assert found(events, lambda corner: corner) == found(plain, lambda corner: None if corner is None else by[corner])
    assert found(events, lambda corner: corner)


@pytest.mark.parametrize("choice", ["grip", "patchwork"])
def test_a_chosen_kind_of_reference_stays(choice: str) -> None:
    events = run_with(driven(2), {0: yesterday()}, begin(choice=choice))
    assert ORIGIN not in [reference.origin for reference in only(events, Reference)]


def test_a_lap_that_the_driver_chose_stays() -> None:
    stream, known = driven(3, 7), yesterday()
    engine, out = Engine(begin()), []
    pressed, recalled = at(stream, 2, 300.0), at(stream, 3, 300.0)
    for number, sample in enumerate(stream):
        out += engine.push(sample)
        out += engine.act(Action(sample.t, 2, USE_LAP)) if number == pressed else []
        out += engine.recall(known) if number == recalled else []
    assert only(out, Reference)[-1].origin == CHOSEN


def test_at_any_place_of_a_lap_each_corner_is_passed_once() -> None:
    stream, known = slow(), yesterday()
    whole = [(event.lap, event.corner) for event in only(remembering(), Passed)]
    assert len(set(whole)) == len(whole)
    for place in (0.0, 0.21, 0.43, 0.77):
        events = run_with(stream, {at(stream, 2, place * loop().length): known})
        passed = [(event.lap, event.corner) for event in only(events, Passed)]
        assert len(set(passed)) == len(passed), "no corner twice in a lap"
        assert [one for one in passed if one[0] > 2] == [one for one in whole if one[0] > 2]
        assert {event.lap for event in only(events, Lap)} == {1, 2, 3}
        assert only(events, Reference)[-1].origin == ORIGIN
        assert known.reference is not None
        assert laps(events)[3].reference_time == pytest.approx(known.reference.total, abs=1e-6)


def test_twice_is_as_good_as_once() -> None:
    twice = run_with(slow(), {0: yesterday(), 30: yesterday()})
    assert recorded(twice) == recorded(remembering())


def test_the_driver_became_known_later_and_has_a_lap_of_their_own() -> None:
    stream = slow()
    other = replace(of_slow(), number=9)
    events = run_with(stream, {0: Known(other, "somebody's"), at(stream, 1, 400.0): yesterday()})
    assert [reference.origin for reference in only(events, Reference)] == ["somebody's", ORIGIN]
    lap = yesterday().reference
    assert lap is not None and laps(events)[3].reference_time == pytest.approx(lap.total, abs=1e-6)


def elsewhere(lap: GridLap, **more: Any) -> Known:
    return Known(replace(lap, **more), ORIGIN)


def test_a_lap_that_does_not_fit_is_refused_and_the_session_goes_on_by_its_own() -> None:
    lap = yesterday().reference
    assert lap is not None
    for known, text in (
        (elsewhere(lap, length=lap.length * 1.1), "m long"),
        (elsewhere(lap, track="another"), "is a lap of another"),
    ):
        events = run_with(driven(2), {0: known})
        refused = [event for event in only(events, Detector) if event.name == "reference"]
        assert [event.on for event in refused] == [False] and text in (refused[0].lacks or "")
        assert {reference.origin for reference in only(events, Reference)} == {OWN}


def test_a_path_that_is_nowhere_near_is_noticed_where_only_it_tells_the_place() -> None:
    lap = yesterday().reference
    assert lap is not None
    away = elsewhere(lap, channels={**lap.channels, "x": lap.channels["x"] + 5000.0})
    stream = changed(driven(3), lambda sample: True, lap_distance=None, track_length=None)
    events = run_with(stream, {0: away})
    refused = [event for event in only(events, Detector) if event.name == "reference"]
    assert [event.on for event in refused] == [False] and "nowhere near" in (refused[0].lacks or "")
    assert {event.origin for event in only(events, Reference)[1:]} == {OWN}


def test_a_circuit_whose_length_comes_late_is_noticed_then() -> None:
    lap = yesterday().reference
    assert lap is not None
    stream = changed(driven(2), lambda sample: sample.t < driven(2)[25].t, track_length=None)
    events = run_with(stream, {0: elsewhere(lap, length=lap.length * 1.1)})
    assert [event.origin for event in only(events, Reference)][:1] == [ORIGIN]
    assert [event.on for event in only(events, Detector) if event.name == "reference"] == [False]
    assert {event.origin for event in only(events, Reference)[1:]} == {OWN}
    assert len(only(events, Run)) == 1


def test_another_session_forgets_it() -> None:
    first = driven(1)
    second = [replace(sample, driver="B") for sample in driven(2)]
    events = run_with(then([replace(sample, driver="A") for sample in first], second), {0: yesterday()})
    assert len(only(events, Run)) == 2
    begun = next(number for number, event in enumerate(events) if isinstance(event, Run) and number > 0)
    assert ORIGIN in [event.origin for event in only(events[:begun], Reference)]
    assert ORIGIN not in [event.origin for event in only(events[begun:], Reference)]


def test_before_the_first_sample_there_is_nobody_to_know_anything_of() -> None:
    assert Engine(begin()).recall(yesterday()) == []


def test_the_passes_of_earlier_days_come_before_those_of_today() -> None:
    known = yesterday()
    learned = only(remembering(), Learned)
    plain = only(run_with(slow(), {}), Learned)
    before = {(corner, name): values for corner, name, values in known.scatter.to_json()}
    first = {(corner, name): values for corner, name, values in learned[0].scatter.to_json()}
    assert before.keys() <= first.keys()
    assert all(values[: len(before[key])] == before[key] for key, values in first.items() if key in before)
    assert len(learned[0].usual) >= len(known.usual) > len(plain[0].usual)


def test_what_is_known_reads_back_as_it_was() -> None:
    known = replace(yesterday(), driver="A", warm=81.5)
    again = Known.from_json(json.loads(json.dumps(known.to_json())))
    assert again.to_json() == known.to_json()
    assert known.reference is not None and again.reference is not None and same_lap(known.reference, again.reference)
    events = run_with(slow(), {0: replace(again, driver=None, warm=None)})
    assert recorded(events) == recorded(remembering())
    assert Known.from_json(json.loads(json.dumps(Known().to_json()))).to_json() == Known().to_json()


@pytest.mark.parametrize(
    "change",
    [
        {"reference": {}},
        {"reference": 3},
        {"circuit": {"name": "a"}},
        {"scatter": 7},
        {"usual": [[1, 2]]},
        {"usual": [[1, "a", "nan"]]},
        {"origin": 4},
        {"driver": 4},
        {"warm": "inf"},
    ],
)
def test_what_was_not_written_so_is_refused_in_one_line(change: dict[str, Any]) -> None:
    with pytest.raises(FormatError) as caught:
        Known.from_json({**Known().to_json(), **change})
    assert "\n" not in str(caught.value)
    for nothing in (None, [], 4, "known", {}):
        with pytest.raises(FormatError):
            Known.from_json(nothing)
