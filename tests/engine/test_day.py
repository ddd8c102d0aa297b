"""The day: grip beside the reference's, tyres that are cold, and what follows from it in a session."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from coach.engine.day import COLD, LAPS, POORER, Day, Warmth
from coach.engine.engine import Engine
from coach.engine.lap import GridLap
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.engine.tape import Tape
from coach.vocabulary.events import Advice, Event, Fault, Reference
from coach.vocabulary.sample import Sample, Tread
from tests.engine.drives import only, run_through, samples, told
from tests.engine.handmade import grid_lap
from tests.make_stream import Mistake, make_drive, test_loop


@cache
def known() -> EngineStart:
    best = study(told(3, 25.0), "plain")
    return EngineStart(
        "0",
        "test",
        "test",
        best.reference,
        "plain",
        best.circuit,
        best.scatter,
        best.usual,
        None,
        best.driver,
        best.warm,
    )


def slowed(lap: GridLap, share: float) -> GridLap:
    """The lap with `share` of its grip: v^2 / R is that share where v is its square root."""
    pace = share**0.5
    return replace(lap, time=lap.time / pace, channels={**lap.channels, "speed": lap.channels["speed"] * pace})


def weaker(stream: tuple[Sample, ...], share: float) -> list[Sample]:
    """The drive on a day with that share of the grip: all in slow motion, accelerations by the square of its pace."""
    pace = share**0.5
    out = []
    for s in stream:
        assert s.speed is not None and s.yaw_rate is not None and s.lap_time is not None
        out.append(
            replace(
                s,
                t=s.t / pace,
                speed=s.speed * pace,
                yaw_rate=s.yaw_rate * pace,
                vx=None if s.vx is None else s.vx * pace,
                vy=None if s.vy is None else s.vy * pace,
                ax=None if s.ax is None else s.ax * share,
                ay=None if s.ay is None else s.ay * share,
                lap_time=None,
                last_lap_time=None,
                wheel_speed=None,
                engine_speed=None,
            )
        )
    return out


def session(stream: list[Sample] | tuple[Sample, ...], start: EngineStart) -> tuple[list[Event], Engine]:
    return run_through(stream, start)


@pytest.mark.parametrize(("share", "poorer"), [(1.0, False), (0.97, False), (0.93, True), (0.80, True)])
def test_grip_is_read_from_the_bends(share: float, poorer: bool) -> None:
    lap = known().reference
    assert lap is not None
    day = Day(lap)
    assert day.grip() is None
    day.add(slowed(lap, share))
    assert (day.grip() is not None) is (share < 0.9)  # one lap tells only what is plain
    for _ in range(LAPS - 1):
        day.add(slowed(lap, share))
    assert day.grip() == pytest.approx(share, abs=0.01)
    assert (day.poorer() is not None) is poorer
    assert POORER == 0.05  # the design's 5 %


def test_a_driver_who_leaves_grip_in_some_bends_has_no_poor_day() -> None:
    """Half of the bends a fifth short: a mistake or two, and not the weather."""
    lap = known().reference
    assert lap is not None
    speed = lap.channels["speed"]
    short = replace(
        lap, channels={**lap.channels, "speed": np.where(lap.distance < 0.5 * lap.length, 0.9, 1.0) * speed}
    )
    day = Day(lap)
    for _ in range(LAPS):
        day.add(short)
    assert day.poorer() is None


@pytest.mark.parametrize(("share", "less"), [(0.97, False), (0.92, False), (0.86, True)])
def test_three_bends_tell_what_is_plain(share: float, less: bool) -> None:
    lap = known().reference
    assert lap is not None
    day, tape = Day(lap), Tape()
    limits = [bend.place for bend in day._bends]
    told_at = []
    for place, t, speed in zip(
        lap.distance, slowed(lap, share).time, slowed(lap, share).channels["speed"], strict=True
    ):
        tape.append(float(t), float(place), Sample(float(t), speed=float(speed)))
        if day.plainly_less(tape, float(place)):
            told_at.append(float(place))
    assert bool(told_at) is less
    assert not less or limits[2] <= told_at[0] <= limits[2] + 2.0


def test_nothing_is_said_of_a_reference_without_bends() -> None:
    straight = grid_lap(1000.0, 20.0, speed=[50.0] * 1001, yaw_rate=[0.0] * 1001)
    day = Day(straight)
    for _ in range(3):
        day.add(straight)
    assert day.grip() is None


def test_a_wet_day_is_said_once_and_judged_by_its_own_laps() -> None:
    events, engine = session(weaker(told(5, 25.0), 0.8), known())
    said = only(events, Advice)
    assert [event.topic for event in said] == ["practice"]
    assert "less grip" in said[0].text and said[0].numbers["grip"] == pytest.approx(0.8, abs=0.02)
    references = only(events, Reference)
    assert [event.origin for event in references][:2] == ["plain", "this session"]
    assert {event.origin for event in references[1:]} == {"this session"}
    own = engine.session
    assert own is not None and own.reference is own.best
    # Three bends at the limit were enough to hold no more marks against the lap (lap 1 is a standing start).
    assert engine.session is not None and engine.session.circuit is not None
    known_by = sorted(mark.exit for mark in engine.session.circuit.coached)[3]
    assert [f for f in only(events, Fault) if f.distance > known_by] == []
    # From then on a plain lap shows nothing.
    assert [f for f in only(events, Fault) if f.t > said[0].t] == []


def test_a_dry_day_is_not_spoken_of() -> None:
    events, _ = session(told(4, 25.0), known())
    assert only(events, Advice) == []
    assert [event.origin for event in only(events, Reference)] == ["plain"]


def test_another_drivers_grip_is_not_the_days() -> None:
    """Known to be somebody else's, the reference stays: it gives line and marks, and the pace is the driver's own."""
    start = replace(known(), driver="somebody else")
    stream = [replace(s, driver="me") for s in weaker(told(5, 25.0), 0.88)]
    events, engine = session(stream, start)
    assert {event.origin for event in only(events, Reference)} == {"plain"}
    said = only(events, Advice)
    assert len(said) == 1 and "quicker" in said[0].text
    assert said[0].numbers["gap"] == pytest.approx(1.0 / 0.88**0.5 - 1.0, abs=0.005)
    assert engine.session is not None and engine.session._references.pace is not None
    # Unless the road is wet, whoever drives.
    wet = [replace(s, wetness=0.4) for s in stream]
    events, _ = session(wet, start)
    assert any("less grip" in event.text for event in only(events, Advice))


def test_a_quick_reference_gives_no_pace_until_the_gap_closes() -> None:
    start = replace(known(), driver="somebody else")
    slow = [replace(s, driver="me") for s in weaker(told(4, 25.0), 0.90)]
    quick = [replace(s, driver="me", t=s.t + slow[-1].t + 0.04, lap=(s.lap or 0) + 3) for s in told(4, 25.0)[60:]]
    events, engine = session(slow, start)
    said = only(events, Advice)[0].t
    late = [event for event in only(events, Fault) if event.net is not None and event.net > 0.03 and event.t > said]
    assert late == []  # against the reference each corner loses a tenth and more, as it does before anything is known
    assert any(event.net is not None and event.net > 0.03 and event.t < said for event in only(events, Fault))
    for sample in quick:
        events += engine.push(sample)
    assert engine.session is not None and engine.session._references.pace is None
    assert len(only(events, Advice)) == 1


def test_a_mistake_is_still_seen_beside_a_quick_reference() -> None:
    start = replace(known(), driver="somebody else")
    drive = make_drive(test_loop(), 5, 25.0, mistakes=[Mistake("late_throttle", 4, 1, 0.8)])
    stream = [replace(s, driver="me") for s in weaker(tuple(samples(drive.rows)), 0.92)]
    events, _ = session(stream, start)
    found = [f for f in only(events, Fault) if f.fault == "late_throttle" and f.lap == 4]
    assert len(found) == 1
    assert found[0].net is not None and found[0].net > 0.1


def treads(degrees: float) -> tuple[Tread, Tread, Tread, Tread]:
    one = (degrees, degrees, degrees)
    return (one, one, one, one)


def test_cold_tyres_are_cold_until_they_have_come_near() -> None:
    warmth = Warmth(90.0)
    assert not warmth.cold
    warmth.watch(Sample(0.0, tyre_temp=treads(60.0)))
    assert warmth.cold
    for second in range(1, 200):
        warmth.watch(Sample(float(second), tyre_temp=treads(60.0 + 0.2 * second)))
        assert warmth.cold is (warmth._now is not None and warmth._now < 90.0 - COLD)
    assert not warmth.cold


def test_warm_is_learned_where_the_reference_does_not_say() -> None:
    warmth = Warmth()
    for second in range(100):
        warmth.watch(Sample(float(second), tyre_temp=treads(85.0)))
    assert not warmth.cold and warmth.lap() == pytest.approx(85.0)
    assert warmth.warm == pytest.approx(85.0)
    for second in range(100, 200):  # new tyres from the pits
        warmth.watch(Sample(float(second), tyre_temp=treads(50.0)))
    assert warmth.cold
    assert Warmth().lap() is None


def test_tyres_that_have_settled_are_warm_however_warm_others_were() -> None:
    """A harder compound or a colder evening: it would be cold for ever beside the reference's 95 degC."""
    warmth, second = Warmth(95.0), 0
    for lap, (degrees, cold) in enumerate(((70.0, True), (77.0, True), (78.0, True), (78.5, False)), 1):
        for _ in range(90):
            warmth.watch(Sample(float(second), tyre_temp=treads(degrees)))
            second += 1
        warmth.lap()
        assert warmth.cold is cold, lap
    for _ in range(30):  # new ones from the pits
        warmth.watch(Sample(float(second), tyre_temp=treads(45.0)))
        second += 1
    assert warmth.cold


def test_on_cold_tyres_only_the_physical_tests_speak() -> None:
    """The same mistakes on the same drive: with tyres 30 K under the reference's nothing is held against its marks."""
    drive = make_drive(test_loop(), 4, 25.0, mistakes=[Mistake("late_throttle", 3, 1, 0.8)])
    stream = samples(drive.rows)
    start = replace(known(), warm=90.0)
    cold = [replace(s, tyre_temp=treads(58.0)) for s in stream]
    warm = [replace(s, tyre_temp=treads(88.0)) for s in stream]
    found = [f.fault for f in only(session(warm, start)[0], Fault)]
    assert "late_throttle" in found
    assert "late_throttle" not in [f.fault for f in only(session(cold, start)[0], Fault)]
