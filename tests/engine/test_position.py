"""Where on the lap the car is: by distance, by projection, by survey."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from coach.engine.engine import Engine
from coach.engine.position import ByDistance, Survey, choose
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.events import Delta, Detector, Moment, Stream
from coach.vocabulary.sample import Sample
from tests.engine.drives import (
    OWN_TIMES,
    at,
    begin,
    drive,
    laps,
    learned,
    loop,
    moved,
    only,
    run,
    run_through,
    samples,
    streams,
    then,
    told,
)
from tests.make_stream import Arc, Circuit, Drive, Straight, make_drive, without

RATE = 20.0
DRIVEN = {"scatter": 0.01, "wander": 0.5}
CLOSE = 0.004
TRUTH = {lap.lap: lap.time for lap in drive(3, RATE, **DRIVEN).laps}
NO_DISTANCE = {"lap_distance": None, "track_length": None}


@pytest.fixture
def plain() -> list[Sample]:
    return list(told(3, RATE, *OWN_TIMES, **DRIVEN))


@pytest.fixture
def without_distance() -> list[Sample]:
    return list(told(3, RATE, *OWN_TIMES, *NO_DISTANCE, **DRIVEN))


def wandering(stream: list[Sample]) -> list[Sample]:
    """A driver who crosses the line up to 1.5 m further left or right each time."""
    return moved(stream, lambda p: 1.5 * math.sin(1.7 * p))


def worst(found: dict[int, float | None], *numbers: int) -> float:
    return max(abs((found[n] or 0.0) - TRUTH[n]) for n in numbers)


def times(stream: list[Sample], start: EngineStart | None = None) -> dict[int, float | None]:
    return {number: lap.time for number, lap in laps(run(stream, start)).items()}


# the source's own distance


def test_the_length_is_learned_where_the_distance_wraps(plain: list[Sample]) -> None:
    stream = [replace(s, track_length=None) for s in plain]
    events, engine = run_through(stream)
    found = {number: lap.time for number, lap in laps(events).items()}
    assert worst(found, 1, 2, 3) < 0.0005  # measured: 0.01 ms
    assert engine.session is not None and engine.session.best is not None
    assert engine.session.best.length == pytest.approx(loop().length, abs=0.05)
    assert streams(events) == []


@pytest.mark.parametrize("lacking", [(), ("speed",), ("speed", "x", "y")], ids=len)
def test_the_length_is_learned_without_speed_too(lacking: tuple[str, ...]) -> None:
    stream = told(3, RATE, *OWN_TIMES, "track_length", *lacking, **DRIVEN)
    assert worst(times(list(stream)), 1, 2, 3) < CLOSE  # measured: 0.3 ms without speed


def test_a_track_length_that_shrinks_in_mid_lap_does_not_stop_the_laps(plain: list[Sample]) -> None:
    """A source that takes back its length, then has it again: that lap is broken, the next ones are whole."""
    low, high = at(plain, 1, 1500.0), at(plain, 1, 1600.0)
    stream = [replace(s, track_length=1000.0) if low <= i < high else s for i, s in enumerate(plain)]
    found = laps(run(stream))
    assert found[1].time is None and "reset" in found[1].why_not
    assert worst({n: lap.time for n, lap in found.items()}, 2, 3) < CLOSE


def test_the_way_to_the_pits_is_not_taken_for_the_line(plain: list[Sample]) -> None:
    """Joined on the way, put back to 50 m behind the line, the length not yet known: no lap of 900 m is learned."""
    out = plain[at(plain, 1, 50.0) :]
    still = [replace(out[0], t=0.04 * i, speed=0.0, vx=0.0, lap=1) for i in range(50)]
    stream = then(then(plain[at(plain, 1, 300.0) : at(plain, 1, 900.0)], still), out)
    events, engine = run_through([replace(s, track_length=None) for s in stream])
    assert [s.what for s in streams(events)] == ["reset"]
    found = laps(events)
    assert sorted(found) == [1, 2, 3]
    assert found[1].time is None
    assert worst({n: lap.time for n, lap in found.items()}, 2, 3) < CLOSE
    assert engine.session is not None and engine.session.best is not None
    assert engine.session.best.length == pytest.approx(loop().length, abs=0.05)


def test_a_length_learned_wrongly_is_given_up() -> None:
    by = ByDistance()
    for i, distance in enumerate([298.0, 299.0, 0.5, 1.5]):
        by.locate(Sample(i / 50.0, speed=50.0, lap_distance=distance))
    fix = by.locate(Sample(0.1, speed=50.0, lap_distance=250.0))
    assert fix is not None and fix.length is not None and fix.length < 310.0
    fix = by.locate(Sample(0.2, speed=50.0, lap_distance=420.0))
    assert fix is not None and fix.length is None and fix.distance == 420.0


@pytest.mark.parametrize("length", [0.0, -5.0, 12.0, 1e12])
def test_a_track_length_that_is_none_is_not_believed(plain: list[Sample], length: float) -> None:
    assert worst(times([replace(s, track_length=length) for s in plain]), 1, 2, 3) < CLOSE


def test_a_distance_before_the_line_may_be_negative(plain: list[Sample]) -> None:
    """A grid slot 100 m before the line as -100 m."""
    stream = [
        replace(s, lap_distance=(s.lap_distance or 0.0) - (s.track_length or 0.0)) if s.lap == 0 else s for s in plain
    ]
    assert worst(times(stream), 1, 2, 3) < CLOSE


# x, y onto a known path


def test_positions_are_projected_onto_the_references_path(without_distance: list[Sample]) -> None:
    found = times(without_distance, learned())
    assert worst(found, 1, 2, 3) < 0.0005  # measured: 0.03 ms


def test_a_driver_who_crosses_the_line_elsewhere_each_time(plain: list[Sample]) -> None:
    slanted = study(moved(list(told(2)), lambda p: 3.0 * (p - 2.5)), "slanted")
    start = begin(reference=slanted.reference, origin="slanted", circuit=slanted.circuit, scatter=slanted.scatter)
    found = times([replace(s, **NO_DISTANCE) for s in wandering(plain)], start)
    assert worst(found, 1, 2, 3) < 0.002  # measured: 0.6 ms


def test_the_projected_distance_is_the_sources(plain: list[Sample]) -> None:
    sent = plain[at(plain, 1, 0.0) : at(plain, 3, 0.0)]
    _, engine = run_through([replace(s, **NO_DISTANCE) for s in plain[:5]], learned())
    apart = []
    for s in sent:
        moment = next(e for e in engine.push(replace(s, **NO_DISTANCE)) if isinstance(e, Moment))
        assert moment.distance is not None and s.lap_distance is not None
        gap = abs(moment.distance - s.lap_distance) % loop().length
        apart.append(min(gap, loop().length - gap))
    assert max(apart) < 1.5  # the wander of the line in corners; the reference's own grid is 1 m


# survey of a new circuit


def test_a_new_circuit_is_surveyed_from_the_line_where_the_count_rises(without_distance: list[Sample]) -> None:
    found = times(without_distance)
    assert found[1] is None, "the lap that finds the line is not timed"
    assert worst(found, 2, 3) < 0.0005  # measured: 0.01 ms


def test_a_survey_of_a_driver_who_crosses_the_line_elsewhere_each_time() -> None:
    longer = drive(4, RATE, **DRIVEN)
    truth = {lap.lap: lap.time for lap in longer.laps}
    stream = [replace(s, **NO_DISTANCE) for s in wandering(list(told(4, RATE, *OWN_TIMES, **DRIVEN)))]
    found = times(stream)
    assert max(abs((found[n] or 0.0) - truth[n]) for n in (2, 3, 4)) < 0.002  # measured: 0.16 ms


def test_without_a_count_the_line_lies_where_the_car_first_drives_at_speed(plain: list[Sample]) -> None:
    stream = [replace(s, lap=None, **NO_DISTANCE) for s in plain]
    laid = next(i for i, s in enumerate(stream) if (s.speed or 0.0) >= 10.0) - 1
    way = np.array([(s.lap or 0) * loop().length + (s.lap_distance or 0.0) for s in plain])
    line = way[laid] + loop().length * np.arange(1, 4)
    crossed = np.interp(line, way, [s.t for s in plain])  # linear: 0.1 ms at 40 m/s and 10 m/s^2
    found = [lap for lap in laps(run(stream)).values() if lap.time is not None]
    assert [lap.time for lap in found] == pytest.approx(np.diff(crossed).tolist(), abs=CLOSE)
    assert [lap.lap for lap in found] == [1, 2]


def test_the_line_is_not_laid_in_the_pit_lane(plain: list[Sample]) -> None:
    pits = [replace(s, lap=None, in_pit=s.t < 6.0, **NO_DISTANCE) for s in plain]
    survey = Survey()
    fixes = [(s.t, survey.locate(s)) for s in pits[:400]]
    assert min(t for t, fix in fixes if fix is not None) == pytest.approx(6.0, abs=0.05)


def test_a_survey_goes_on_after_a_reset(plain: list[Sample], without_distance: list[Sample]) -> None:
    """The line stays where it was found."""
    stream = then(without_distance[: at(plain, 2, 1200.0)], without_distance, laps=2)
    events = run(stream)
    assert [s.what for s in streams(events)] == ["reset"]
    found = laps(events)
    assert found[2].time is None and not found[2].clean
    assert found[3].why_not == ("standing_start",)
    assert found[4].time == pytest.approx(TRUTH[2], abs=CLOSE)
    assert found[5].time == pytest.approx(TRUTH[3], abs=CLOSE)


def test_a_distance_that_comes_a_little_later_is_used(plain: list[Sample]) -> None:
    stream = [replace(s, **NO_DISTANCE) if i < 10 else s for i, s in enumerate(plain)]
    _, engine = run_through(stream)
    assert engine.session is not None and engine.session.best is not None
    assert engine.session.best.length == pytest.approx(loop().length, abs=0.01)


# a circuit that passes near itself


@cache
def hairpin() -> Drive:
    """Two straights about 14 m apart, joined by a hairpin of 7 m, and the way back."""
    right, left = math.radians(-90.0), math.radians(90.0)
    circuit = Circuit(
        [
            *(Straight(300.0, fit=True), Arc(7.0, 2 * right, 6.0), Straight(220.0), Arc(30.0, left)),
            *(Straight(60.0), Arc(30.0, right), Straight(60.0), Arc(30.0, right), Straight(150.0, fit=True)),
            *(Arc(30.0, right), Straight(40.0)),
        ],
        width=8.0,
        name="near-itself",
    )
    return make_drive(circuit, 3, RATE, scatter=0.01, wander=0.5)


def test_a_circuit_that_passes_near_itself_is_not_left_for_the_other_straight() -> None:
    made = hairpin()
    stream = samples(without(made.rows, *OWN_TIMES))
    best = study(stream, "near-itself")
    length = best.reference.length
    start = begin(reference=best.reference, origin="x", circuit=best.circuit, scatter=best.scatter)
    out = at(stream, 1, 0.0)
    engine_events, engine = run_through([replace(s, **NO_DISTANCE) for s in stream[:out]], start)
    assert engine_events
    worst_gap, found = 0.0, []
    for s in stream[out:]:
        for event in engine.push(replace(s, **NO_DISTANCE)):
            if isinstance(event, Moment):
                assert event.distance is not None and s.lap_distance is not None
                gap = abs(event.distance - s.lap_distance) % length
                worst_gap = max(worst_gap, min(gap, length - gap))
            else:
                found.append(event)
    assert worst_gap < 5.0, "two straights 14 m apart are half a kilometre apart along the lap"
    assert only(found, Stream) == []
    timed = laps(found)
    for truth in made.laps:
        assert timed[truth.lap].time == pytest.approx(truth.time, abs=CLOSE)


def test_a_circuit_that_passes_near_itself_can_be_surveyed() -> None:
    made = hairpin()
    stream = samples(without(made.rows, *OWN_TIMES, "lap_distance", "track_length"))
    found = laps(run(stream))
    for truth in made.laps[1:]:
        assert found[truth.lap].time == pytest.approx(truth.time, abs=CLOSE)


def test_a_silence_on_two_straights_side_by_side_ends_on_the_right_one() -> None:
    """Lost on one, found again on the other."""
    made = hairpin()
    stream = samples(without(made.rows, *OWN_TIMES))
    best = study(stream, "near-itself")
    start = begin(reference=best.reference, origin="x", circuit=best.circuit, scatter=best.scatter)
    low, high = at(stream, 2, 150.0), at(stream, 2, 480.0)
    _, engine = run_through([replace(s, **NO_DISTANCE) for s in stream[:low]], start)
    for s in stream[high : high + 50]:
        for event in engine.push(replace(s, **NO_DISTANCE)):
            if isinstance(event, Moment):
                assert event.distance == pytest.approx(s.lap_distance, abs=3.0)


# choice of a locator


def test_the_best_locator_for_what_is_sent() -> None:
    here = Sample(0.0, x=1.0, y=2.0)
    assert choose(Sample(0.0), None) is None
    assert choose(Sample(0.0, x=1.0), None) is None
    assert isinstance(choose(replace(here, lap_distance=0.0), None), ByDistance), "0.0 is a distance"
    assert isinstance(choose(here, None), Survey)
    moments = only(Engine(learned()).push(replace(here, x=0.0, y=0.0)), Moment)
    assert moments[0].distance is not None, "on the reference's path the first place is known, a survey knows none yet"


def test_a_source_without_any_place_says_what_it_lacks_and_goes_on(plain: list[Sample]) -> None:
    events = run([replace(s, x=None, y=None, **NO_DISTANCE) for s in plain[:500]], learned())
    lacking = [(d.name, d.on, d.lacks) for d in only(events, Detector) if d.name == "position"]
    assert lacking == [("position", False, "lap_distance, or x and y")]
    assert laps(events) == {} and only(events, Delta) == []


def test_a_distance_that_ends_for_good_is_replaced_by_the_position(plain: list[Sample]) -> None:
    gone = plain[at(plain, 2, 300.0)].t
    stream = [replace(s, lap_distance=None) if s.t >= gone else s for s in plain]
    found = laps(run(stream, learned()))
    assert not found[2].clean
    assert found[3].clean and found[3].time == pytest.approx(TRUTH[3], abs=CLOSE)
