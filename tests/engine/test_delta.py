"""The running delta: by distance, interpolated, ten a second."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coach.engine.delta import DeltaClock
from coach.engine.lap import GridLap
from coach.vocabulary.events import Delta
from tests.engine.drives import OWN_TIMES, begin, drive, laps, learned, loop, only, run, told


def even(length: float, speed: float) -> GridLap:
    """A lap at one speed."""
    distance = np.linspace(0.0, length, round(length) + 1)
    return GridLap(1, length, distance / speed, np.zeros(len(distance)))


def test_the_reference_is_read_between_its_grid_points() -> None:
    clock = DeltaClock(even(1000.0, 40.0))
    assert clock.total == 25.0 and clock.length == 1000.0
    for distance in (0.0, 0.25, 1.0, 333.3, 999.9, 1000.0):
        assert clock.time_at(distance) == pytest.approx(distance / 40.0, abs=1e-12)


def test_the_reference_is_held_at_its_ends() -> None:
    clock = DeltaClock(even(1000.0, 40.0))
    assert clock.time_at(-3.0) == 0.0 and clock.time_at(1003.0) == 25.0


def test_one_per_cent_slower_everywhere() -> None:
    """checks.md, exact cases: dt(s) = integral (1/v - 1/v_ref) ds; 1 % slower on 90 s loses 0.90909 s, linear in s."""
    clock = DeltaClock(even(3600.0, 40.0))
    for share in (0.1, 0.5, 1.0):
        own = share * 3600.0 / (0.99 * 40.0)
        assert own - clock.time_at(share * 3600.0) == pytest.approx(share * 0.90909, abs=1e-4)


@pytest.mark.parametrize("rate", [10.0, 20.0, 50.0, 64.0, 100.0, 360.0])
@pytest.mark.parametrize("begins", [0.0, 0.013, 4096.0])
def test_ten_a_second_at_any_rate(rate: float, begins: float) -> None:
    clock = DeltaClock(even(1000.0, 40.0))
    times = [t for i in range(round(60.0 * rate)) if clock.due(t := round(begins + i / rate, 4))]
    assert len(times) == pytest.approx(600, abs=1)
    steps = np.diff(times)
    assert steps.min() > 0.1 - 1.0 / rate - 1e-3 and steps.max() < 0.1 + 1.0 / rate + 1e-3
    if (rate / 10.0).is_integer():
        assert steps == pytest.approx(0.1, abs=2e-4), "a rate of tens has no jitter at all"


def test_a_source_slower_than_ten_a_second_gives_one_a_sample() -> None:
    clock = DeltaClock(even(1000.0, 40.0))
    assert sum(clock.due(i / 4.0) for i in range(100)) == 100


def test_after_a_silence_or_a_rewind_it_goes_on_at_once() -> None:
    clock = DeltaClock(even(1000.0, 40.0))
    assert clock.due(5.0) and not clock.due(5.05)
    assert clock.due(9.0) and not clock.due(9.05) and clock.due(9.1)
    assert clock.due(2.0) and not clock.due(2.05)


@pytest.mark.parametrize("rate", [20.0, 60.0])
def test_the_delta_at_the_line_is_the_laps(rate: float) -> None:
    stream = told(2, rate, *OWN_TIMES, scatter=0.01, wander=0.5)
    events = run(stream, learned())
    deltas = only(events, Delta)
    crossings = [lap.crossing for lap in drive(2, rate, scatter=0.01, wander=0.5).laps]
    for lap in laps(events).values():
        own = [d for d in deltas if d.lap == lap.lap]
        assert len(own) == pytest.approx(10.0 * (lap.time or 0.0), abs=2)
        last = own[-1]
        slope = (own[-1].delta - own[-2].delta) / (own[-1].distance - own[-2].distance)
        at_line = last.delta + slope * (loop().length - last.distance)
        assert lap.delta is not None and abs(at_line - lap.delta) < 0.001
        assert last.predicted == pytest.approx(lap.time, abs=0.002)
        first = own[0]
        assert first.t >= crossings[lap.lap - 1] and first.distance >= 0.0


def test_before_the_first_line_there_is_no_delta() -> None:
    events = run(told(2, 20.0, *OWN_TIMES)[:60], learned())
    assert {d.lap for d in only(events, Delta)} <= {1}


@pytest.mark.parametrize("longer", [-5.0, 5.0])
def test_two_measurements_of_one_circuit_meet_at_the_line(longer: float) -> None:
    """This source's metre is a little longer or shorter than the reference's."""
    stream = told(2, 20.0, *OWN_TIMES, scatter=0.01, wander=0.5)
    factor = 1.0 + longer / loop().length
    scaled = [
        replace(
            s, lap_distance=(s.lap_distance or 0.0) * factor, track_length=round((s.track_length or 0.0) * factor, 3)
        )
        for s in stream
    ]
    events = run(scaled, learned())
    deltas = only(events, Delta)
    for lap in laps(events).values():
        last = [d for d in deltas if d.lap == lap.lap][-1]
        assert lap.delta is not None and abs(last.delta - lap.delta) < 0.005
        first = [d for d in deltas if d.lap == lap.lap + 1]
        assert not first or abs(first[0].delta) < 0.02


def test_without_a_reference_there_is_no_delta_until_there_is_one() -> None:
    events = run(told(3, 25.0, *OWN_TIMES, scatter=0.01, wander=0.5), begin())
    assert {d.lap for d in only(events, Delta)} == {3, 4}
