"""References made of the driver's own laps, in a session: when they come, when they change, what they judge."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from coach.engine.engine import Engine
from coach.engine.references import FAR, MEANINGFUL
from coach.engine.start import EngineStart
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Advice, Corners, Delta, Detector, Event, Fault, Lap, Loss, Reference, Run
from tests.engine.drives import begin, only, recorded, run_through, samples, told
from tests.make_stream import Mistake, make_drive, test_loop


@cache
def session(choice: str, *lacking: str) -> tuple[tuple[Event, ...], Engine]:
    events, engine = run_through(told(4, 25.0, *lacking), begin(choice=choice))
    return tuple(events), engine


@pytest.mark.parametrize(("choice", "origin"), [("grip", "grip lap"), ("patchwork", "patchwork lap")])
def test_a_made_reference_stands_from_the_first_whole_lap_on(choice: str, origin: str) -> None:
    events, engine = session(choice)
    assert only(events, Run)[0].reference == origin
    references, laps = only(events, Reference), only(events, Lap)
    assert {event.origin for event in references} == {origin}
    # Lap 1 is a standing start: its line and grip will do for the grip lap, a patchwork takes clean laps only.
    first = next(lap for lap in laps if (choice == "grip" and lap.time is not None) or lap.clean)
    assert references[0].lap == first.lap
    assert first.t - 0.1 <= references[0].t <= first.t + 0.3
    assert engine.session is not None and engine.session.reference is not None and engine.session.best is not None
    assert engine.session.reference.total <= engine.session.best.total + 1e-6
    assert only(events, Corners) and only(events, Delta)


def test_the_grip_lap_is_followed_by_parts_that_sum_to_the_delta() -> None:
    events, _ = session("grip")
    laps = {lap.lap: lap for lap in only(events, Lap)}
    losses = only(events, Loss)
    assert losses
    for loss in losses:
        delta = laps[loss.lap].delta
        assert delta is not None and sum(part.seconds for part in loss.parts) == pytest.approx(delta, abs=1e-3)


def test_line_and_gears_are_not_held_against_a_grip_lap() -> None:
    _, engine = session("grip")
    assert engine.session is not None and engine.session._watcher is not None
    assert not engine.session._references.by_line
    assert not engine.session._watcher._by_line and not engine.session._watcher._same_car
    _, other = session("patchwork")
    assert other.session is not None and other.session._references.by_line


def test_a_made_lap_changes_only_by_something_worth_it() -> None:
    """Each new reference is a thousandth quicker than the one before, or its driver has beaten that one."""
    late = [Mistake("late_throttle", lap, corner, 0.5) for lap, corner in ((2, 1), (3, 6), (4, 1))]
    drive = make_drive(test_loop(), 6, 25.0, mistakes=late)

    for choice in ("grip", "patchwork"):
        events, _ = run_through(samples(drive.rows), begin(choice=choice))
        references = only(events, Reference)
        clean = [lap for lap in only(events, Lap) if lap.clean and lap.time is not None]
        for before, after in pairwise(references):
            first = choice == "grip" and before.lap == 1  # on the line of a lap that was not clean
            beaten = any(lap.time is not None and lap.time < before.time and lap.t <= after.t for lap in clean)
            assert first or beaten or after.time < before.time * (1.0 - MEANINGFUL) + 1e-4


def test_the_patchwork_is_better_than_any_lap_it_is_made_of() -> None:
    late = [Mistake("late_throttle", 2, 1, 0.8), Mistake("late_throttle", 3, 6, 0.8)]
    drive = make_drive(test_loop(), 4, 25.0, mistakes=late)
    events, engine = run_through(samples(drive.rows), begin(choice="patchwork"))
    last = only(events, Reference)[-1]
    times = {lap.lap: lap.time for lap in only(events, Lap) if lap.clean and lap.time is not None}
    assert last.lap == 3 and last.time < min(times[2], times[3]) - 0.1  # each lap has one mistake
    assert last.time == pytest.approx(times[4], abs=0.01)  # driven without one
    found = [(fault.fault, fault.lap, fault.corner) for fault in only(events, Fault) if fault.fault == "late_throttle"]
    assert len([corner for _, lap, corner in found if lap == 3]) == 1
    assert engine.session is not None and engine.session.reference is not None and engine.session.best is not None
    assert engine.session.reference.length == engine.session.best.length


@pytest.mark.parametrize("choice", ["grip", "patchwork"])
def test_a_mistake_is_found_on_a_new_circuit(choice: str) -> None:
    """No reference but the driver's own laps, the mistake in lap 3."""
    drive = make_drive(test_loop(), 4, 25.0, mistakes=[Mistake("late_throttle", 3, 1, 0.8)])
    events, _ = run_through(samples(drive.rows), begin(choice=choice))
    found = [f for f in only(events, Fault) if f.fault == "late_throttle" and f.lap == 3]
    assert [f.corner for f in found] == [1]
    assert found[0].net is not None and found[0].net > 0.1


@pytest.mark.parametrize("lacking", [("x", "y"), ("x", "y", "yaw_rate"), ("throttle", "brake")])
def test_a_grip_lap_needs_little(lacking: tuple[str, ...]) -> None:
    events, _ = session("grip", *lacking)
    assert only(events, Reference)[0].origin == "grip lap"


def test_where_nothing_tells_how_the_car_turns_the_best_lap_is_the_reference() -> None:
    events, _ = session("grip", "x", "y", "yaw_rate", "ay", "vy", "yaw")
    assert {event.origin for event in only(events, Reference)} == {"this session"}
    said = [event for event in only(events, Detector) if event.name == "grip lap"]
    assert [(event.on, event.lacks) for event in said] == [(False, "x and y, or yaw_rate, or ay")]


def test_a_driver_who_is_far_from_the_grip_lap_is_told_so_once() -> None:
    events, engine = session("grip")
    assert engine.session is not None and engine.session.best is not None and engine.session.reference is not None
    gap = engine.session.best.total / engine.session.reference.total - 1.0
    far = engine.session._references.pace is not None
    assert far is (gap > FAR)
    assert len(only(events, Advice)) <= 1


@pytest.mark.parametrize("choice", ["grip", "patchwork"])
def test_a_recording_begins_from_the_same_choice_and_says_the_same(choice: str) -> None:
    start = begin(choice=choice)
    again = EngineStart.from_json(start.to_json())
    assert again.choice == choice and again.reference is None
    events, _ = session(choice)
    repeated, _ = run_through(told(4, 25.0), again)
    assert recorded(repeated) == recorded(events)


def test_start_fields_come_back_and_old_starts_do_without() -> None:
    start = replace(begin(choice=None), driver="one", warm=84.5)
    again = EngineStart.from_json(start.to_json())
    assert (again.choice, again.driver, again.warm) == (None, "one", 84.5)
    old = {k: v for k, v in start.to_json().items() if k not in ("choice", "driver", "warm")}
    again = EngineStart.from_json(old)
    assert (again.choice, again.driver, again.warm) == (None, None, None)


@pytest.mark.parametrize(
    ("key", "value"), [("choice", "fast"), ("choice", 3), ("driver", 3), ("warm", "hot"), ("warm", float("nan"))]
)
def test_a_start_with_a_wrong_field_is_refused(key: str, value: object) -> None:
    with pytest.raises(FormatError):
        EngineStart.from_json({**begin().to_json(), key: value})


def test_without_a_choice_nothing_is_made() -> None:
    events, _ = run_through(told(3, 25.0), begin())
    assert {event.origin for event in only(events, Reference)} == {"this session"}
    assert only(events, Run)[0].reference is None
