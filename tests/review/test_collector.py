"""Events become sessions: each finding in its lap, whenever it is told, live as from the memory."""

from __future__ import annotations

import json
from collections.abc import Iterable

import pytest

from coach.engine.learned import Learned, Measure
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.vocabulary.events import (
    Action,
    Advice,
    CornerMark,
    Corners,
    Detector,
    Event,
    Fault,
    Lap,
    Passed,
    Reference,
    Run,
    Stage,
    Stores,
    Stream,
    record,
)
from coach.vocabulary.reading import event_of
from coach.vocabulary.sample import Sample
from coach.vocabulary.stages import CLEAN, PACE
from tests.review.made import LENGTH, MARKS, TRACE, Did, Drove, events_of, grid, lap, run, session


def collect(events: Iterable[Event]) -> list[KeptSession]:
    collector = Collector()
    for event in events:
        collector.take(event)
    return collector.sessions


def test_each_finding_is_in_its_lap() -> None:
    made = session(Drove((Did("coasting", 2),)), Drove(), Drove((Did("late_throttle", 4, late=True),)))
    assert [[f.fault for f in kept.faults] for kept in made.laps] == [["coasting"], [], ["late_throttle"]]
    assert [len(kept.passes) for kept in made.laps] == [4, 4, 4]
    assert [kept.index for kept in made.laps] == [0, 1, 2]
    assert not (made.loose_faults or made.loose_passes or made.loose_cues)


def test_what_belongs_to_no_lap_that_ended_is_loose() -> None:
    made = session(Drove(), Drove((Did("spin", 1),), ends=False))
    assert [f.fault for f in made.loose_faults] == ["spin"]
    assert len(made.loose_passes) == 4


def test_numbers_that_begin_anew_are_other_laps() -> None:
    first = events_of(Drove(), Drove((Did("coasting", 1),)), Drove((Did("spin", 2),), ends=False))
    again = [Stream(400.0, 3, "reset", 399.0, 400.0), *lap(1, 401.0, Drove((Did("lock_up", 3, late=True),)))]
    (made,) = collect([*first, *again])
    assert [kept.number for kept in made.laps] == [1, 2, 1]
    assert [[f.fault for f in kept.faults] for kept in made.laps] == [[], ["coasting"], ["lock_up"]]
    assert [f.fault for f in made.loose_faults] == ["spin"]


def test_a_reset_within_a_lap_does_not_tear_it() -> None:
    events = events_of(Drove((Did("coasting", 1),)))
    place = next(i for i, event in enumerate(events) if isinstance(event, Passed) and event.corner == 2)
    events.insert(place, Stream(15.0, 1, "reset", 14.0, 15.0))
    (made,) = collect(events)
    assert [f.fault for f in made.laps[0].faults] == ["coasting"]
    assert len(made.laps[0].passes) == 4


def test_a_lap_told_after_the_next_one_was_torn_keeps_its_own() -> None:
    events = events_of(Drove((Did("coasting", 1),)))
    place = next(i for i, event in enumerate(events) if isinstance(event, Lap))
    events.insert(place, Stream(51.0, 2, "reset", 50.9, 51.0))  # in the quarter second in which lap 1 is held back
    (made,) = collect([*events, *lap(2, 52.0, Drove((Did("lock_up", 3),)))])
    assert [[f.fault for f in kept.faults] for kept in made.laps] == [["coasting"], ["lock_up"]]


def test_a_rewind_leaves_what_was_before_it() -> None:
    first = [*events_of(Drove()), *lap(2, 101.0, Drove((Did("coasting", 1),), ends=False))]
    again = [Stream(50.0, 2, "rewind", 120.0, 50.0), *lap(1, 51.0, Drove())]
    (made,) = collect([*first, *again])
    assert [kept.faults for kept in made.laps] == [[], []]
    assert [f.fault for f in made.loose_faults] == ["coasting"]


def test_a_count_that_a_source_corrects_on_the_way_loses_nothing() -> None:
    events = [*run(), Passed(5.0, 0, 1, True, 0.0), Passed(9.0, 7, 2, True, 0.0)]
    events.append(Lap(20.0, 7, 50.0, None, True, (), 0.0, 50.0))
    (made,) = collect(events)
    assert len(made.laps[0].passes) == 2


def test_another_run_is_another_session_and_the_first_keeps_its_own() -> None:
    sessions = collect([*events_of(Drove((Did("coasting", 1),))), *events_of(Drove())])
    assert [len(made.laps) for made in sessions] == [1, 1]
    assert [len(made.laps[0].faults) for made in sessions] == [1, 0]


def test_what_comes_before_any_run_is_passed_over() -> None:
    assert collect([Passed(1.0, 1, 1, True, None), Stream(1.0, 1, "lost", 1.0, None)]) == []


def test_a_lap_has_its_stage_and_the_fuel_that_it_took() -> None:
    events = [*run(), Stage(0.0, 0, CLEAN), Stores(49.0, 1, 20.0, None, None), *lap(1, 0.0, Drove())]
    events += [Stores(149.0, 2, 18.5, None, None), *lap(2, 100.0, Drove()), Stage(200.0, 3, PACE)]
    events += [Stores(249.0, 3, 40.0, None, None), *lap(3, 200.0, Drove())]
    (made,) = collect(events)
    assert [kept.stage for kept in made.laps] == [CLEAN, CLEAN, PACE]
    assert [kept.fuel for kept in made.laps] == [None, 1.5, None]  # nobody knows what was there before; refuelled
    assert made.stage == PACE


def test_losses_map_reference_and_the_rest() -> None:
    events = events_of(Drove(lost={1: 0.25}, grid=True))
    events += [Detector(60.0, 2, "lock_up", False, "wheel_speed"), Detector(60.0, 2, "coasting", False, "brake")]
    events += [Detector(61.0, 2, "coasting", True, None), Stream(62.0, 2, "late", 61.0, 62.0, 3)]
    events += [Advice(63.0, 2, "fuel", "two laps left"), Action(64.0, 2, "mark", 10.0)]
    (made,) = collect(events)
    assert sum(part.seconds for part in made.laps[0].parts) == pytest.approx(0.25)
    assert made.laps[0].grid is not None
    assert (made.map, made.corners, made.length) == ("m1", MARKS, LENGTH)
    assert (made.reference_time, made.reference_origin) == (50.0, "made")
    assert made.off == {"lock_up": "wheel_speed"}
    assert made.stream == {"late": 3}
    assert [advice.text for advice in made.advice] == ["two laps left"]
    assert [action.action for action in made.actions] == ["mark"]


def test_the_memory_gives_the_same_session_back() -> None:
    drives = [Drove((Did("coasting", 2, 0.25), Did("early_upshift", None, None)), lost={3: 0.125}), Drove(clean=False)]
    events = events_of(*drives, Drove((Did("spin", 1, 0.5),), ends=False), stage=CLEAN)
    kept = [event for event in events if not isinstance(event, Learned)]  # channels are kept apart
    plain = [json.loads(json.dumps(record(event))) for event in kept]
    (live,), (read,) = collect(kept), collect(e for e in map(event_of, plain) if e is not None)
    read.length = live.length  # kept beside, for a map's record has no lap
    assert read == live


def test_who_drives_and_how_the_day_was() -> None:
    collector = Collector()
    collector.see(Sample(t=0.0, driver="", session_kind="practice", track_temp=20.0))
    collector.take(Run(0.0, 0, "1", "made", None, "Car", None, "shipped"))
    collector.see(Sample(t=1.0, driver="ann", setup="soft", track="Made", track_temp=24.0, wetness=0.0))
    collector.see(Sample(t=2.0, driver="bo", car="Car", setup="stiff"))  # a run of another driver is about to come
    first = collector.sessions[0]
    assert (first.driver, first.setup, first.kind, first.track) == ("ann", "soft", "practice", "Made")
    assert first.conditions == {"track_temp": 24.0, "wetness": 0.0}
    collector.take(Run(2.0, 0, "1", "made", "Made", "Car", None, "shipped"))
    assert (collector.sessions[1].driver, collector.sessions[1].setup) == ("bo", "stiff")
    assert first.driver == "ann"


def test_corners_that_get_the_memory_s_numbers_take_what_happened_with_them() -> None:
    other = tuple(
        CornerMark(m.corner + 10, m.direction, m.brake, m.entry, m.apex, m.exit, m.apexes, m.linked) for m in MARKS
    )
    events = [
        *events_of(Drove((Did("coasting", 2),), said=[("Stay on it", "coasting", 2)])),
        Corners(60.0, 2, "m1", other, TRACE),
    ]
    (made,) = collect(events)
    kept = made.laps[0]
    assert kept.faults[0].corner == 12
    assert [passed.corner for passed in kept.passes] == [11, 12, 13, 14]
    assert {part.corner for part in kept.parts} == {11, 12, 13, 14}
    assert kept.cues[0].of[0].corner == 12


def test_a_map_read_from_another_lap_moves_no_numbers() -> None:
    moved = tuple(
        CornerMark(m.corner, m.direction, m.brake + 1, m.entry + 1, m.apex + 1, m.exit + 1, m.apexes) for m in MARKS
    )
    (made,) = collect([*events_of(Drove((Did("coasting", 2),))), Corners(60.0, 2, "m1", moved, TRACE)])
    assert made.laps[0].faults[0].corner == 2
    assert made.corners == moved


def test_a_late_fault_of_a_lap_long_ended_finds_it() -> None:
    events = events_of(Drove(), Drove())
    events.append(Fault(230.0, 1, "spin", None, 990.0, 50.0, 1.0, "rad", None, None))
    (made,) = collect(events)
    assert [f.fault for f in made.laps[0].faults] == ["spin"]


def test_channels_can_be_left_out() -> None:
    collector = Collector(channels=False)
    for event in events_of(Drove(grid=True)):
        collector.take(event)
    assert collector.sessions[0].laps[0].grid is None
    assert collector.sessions[0].laps[0].time == 50.0


def test_the_last_reference_is_kept_until_it_is_dropped() -> None:
    nothing = {mark.corner: 0.0 for mark in MARKS}
    first, second = grid(1, nothing), grid(2, {**nothing, 3: 0.5})
    began = [*events_of(Drove()), Reference(101.0, 1, first.total, "a", TRACE), Measure(101.0, 2, first, "a")]
    (made,) = collect(began)
    assert made.reference is first and (made.reference_time, made.reference_origin) == (first.total, "a")
    again = Reference(102.0, 2, second.total, "b", TRACE)
    (torn,) = collect([*began, again])
    assert torn.reference is None and torn.reference_origin == "b"  # its channels are not there yet
    (made,) = collect([*began, again, Measure(102.0, 2, second, "b")])
    assert made.reference is second
    (dropped,) = collect([*began, Detector(103.0, 2, "reference", False, "of another circuit")])
    assert dropped.reference is dropped.reference_time is dropped.reference_origin is None
    small = Collector(channels=False)
    for event in began:
        small.take(event)
    assert small.sessions[0].reference is None and small.sessions[0].reference_origin == "a"
