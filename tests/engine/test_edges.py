"""Off the track: the whole car beyond an edge, or the source's word. The rule is the contract's (section 5)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from coach.engine.faults.edges import EdgeWatch
from coach.vocabulary.sample import Sample
from tests.engine.watching import PLANTED, built_in, corner_begun, follow, stream

HALF = 0.95
"""m, half of the width where none is sent (contract)"""
ROAD = 10.0
"""m"""
SPEED = 25.0


def out_for(seconds: float, by: float, begins: float = 1.0) -> Callable[[float], float]:
    """The outer edge's gap of a car whose inner side is `by` m beyond it for `seconds` s."""
    return lambda t: -HALF - by if begins - 1e-9 <= t < begins + seconds - 1e-9 else 2.0


def drive(gap: Callable[[float], float], side: str = "left", rate: float = 60.0, seconds: float = 8.0) -> list[Sample]:
    other = "edge_right" if side == "left" else "edge_left"
    return stream(seconds, rate, SPEED, **{f"edge_{side}": gap, other: lambda t: ROAD - gap(t)})


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("rate", [20.0, 60.0, 100.0, 360.0])
def test_the_whole_car_beyond_an_edge_is_off(rate: float, side: str) -> None:
    told = follow(EdgeWatch(), drive(out_for(0.6, 0.8), side, rate))
    assert len(told) == 1
    at, finding = told[0]
    assert (finding.fault, finding.unit) == ("off_track", "m")
    assert finding.size == pytest.approx(0.8)
    assert finding.begins == pytest.approx(1.0, abs=1.0 / rate)
    assert finding.distance == pytest.approx(100.0 + SPEED * 1.0, abs=SPEED / rate + 0.01)
    assert finding.evidence == {"side": side, "by": "edges"}
    assert finding.strength >= 2.0, "nothing is allowed there"
    assert at == pytest.approx(1.6, abs=2.0 / rate), "when it is back"


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
def test_a_long_one_is_told_within_a_second_and_as_far_as_it_was_then(rate: float) -> None:
    gap = lambda t: 2.0 if t < 1.0 else -HALF - 0.5 * (t - 1.0)  # noqa: E731
    told = follow(EdgeWatch(), drive(gap, rate=rate))
    assert len(told) == 1
    at, finding = told[0]
    assert at - finding.begins == pytest.approx(1.0, abs=2.0 / rate)
    assert finding.size == pytest.approx(0.5, abs=0.03)


def test_a_tenth_of_a_second_makes_it() -> None:
    assert len(follow(EdgeWatch(), drive(out_for(0.11, 0.5), rate=100.0))) == 1
    assert follow(EdgeWatch(), drive(out_for(0.09, 0.5), rate=100.0)) == []


def test_one_side_over_is_kerb_use() -> None:
    assert follow(EdgeWatch(), drive(lambda t: -HALF + 0.02)) == []


def test_the_width_that_is_sent_counts() -> None:
    wide = [replace(s, car_width=2.2) for s in drive(out_for(0.6, 0.1))]
    assert follow(EdgeWatch(), wide) == []
    narrow = [replace(s, car_width=1.5) for s in drive(out_for(0.6, 0.1))]
    assert follow(EdgeWatch(), narrow)[0][1].size == pytest.approx(HALF + 0.1 - 0.75)


def test_twice_within_three_seconds_is_once() -> None:
    def twice(apart: float) -> list[Sample]:
        first, second = out_for(0.5, 0.4), out_for(0.5, 0.9, 1.5 + apart)
        return drive(lambda t: min(first(t), second(t)), seconds=12.0)

    assert len(follow(EdgeWatch(), twice(1.5))) == 1
    assert len(follow(EdgeWatch(), twice(4.0))) == 2


def test_a_car_that_stays_out_is_told_once() -> None:
    assert len(follow(EdgeWatch(), drive(out_for(20.0, 0.9), seconds=30.0))) == 1


def test_the_source_says_that_the_car_is_off() -> None:
    samples = stream(6.0, 60.0, SPEED, on_track=lambda t: not 1.0 <= t < 1.5)
    told = follow(EdgeWatch(), samples)
    assert [(f.size, f.evidence["by"]) for _, f in told] == [(0.0, "on_track")]
    assert follow(EdgeWatch(), stream(6.0, 60.0, SPEED, on_track=lambda t: not 1.0 <= t < 1.05)) == []
    assert follow(EdgeWatch(), [replace(s, in_pit=True) for s in samples]) == []
    assert follow(EdgeWatch(), [replace(s, speed=0.0) for s in samples]) == []


def test_the_source_turns_the_lap_invalid() -> None:
    told = follow(EdgeWatch(), stream(6.0, 60.0, SPEED, lap_valid=lambda t: t < 2.0))
    assert [(round(f.begins, 2), f.size, f.evidence["by"]) for _, f in told] == [(2.0, 0.0, "lap_valid")]
    assert told[0][0] == pytest.approx(3.0, abs=0.05)
    assert follow(EdgeWatch(), stream(6.0, 60.0, SPEED, lap_valid=False)) == [], "it was so before"


def test_an_excursion_that_makes_the_lap_invalid_is_one() -> None:
    for late in (-0.05, 0.05, 0.3, 1.5, 5.0):
        gap = out_for(0.6, 0.8)
        samples = [replace(s, lap_valid=s.t < 1.0 + late) for s in drive(gap)]
        told = follow(EdgeWatch(), samples)
        assert [f.size for _, f in told] == [pytest.approx(0.8)], late


def test_off_over_the_line() -> None:
    samples = drive(out_for(0.8, 0.6), rate=50.0)
    length = 100.0 + SPEED * 1.4
    over = [replace(s, lap_distance=(s.lap_distance or 0.0) % length) for s in samples]
    told = follow(EdgeWatch(), over)
    assert len(told) == 1
    assert told[0][1].distance == pytest.approx(-SPEED * 0.4, abs=1.0), "m before the line that was crossed since"


def test_channels_that_are_sent_now_and_then() -> None:
    samples = drive(out_for(0.6, 0.8), rate=100.0)
    sparse = [s if i % 3 == 0 else replace(s, edge_left=None, edge_right=None) for i, s in enumerate(samples)]
    assert [f.size for _, f in follow(EdgeWatch(), sparse)] == [pytest.approx(0.8)]


def test_a_car_that_is_moved_takes_nothing_along() -> None:
    watch = EdgeWatch()
    assert follow(watch, drive(out_for(9.0, 0.8), seconds=1.05)) == []
    watch.reset()
    assert follow(watch, [replace(s, t=s.t + 2.0) for s in drive(lambda t: 2.0)]) == []


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
def test_the_built_in_car_runs_off_where_it_is_told_to(car: str) -> None:
    told = follow(EdgeWatch(), built_in(car, "steady", *PLANTED))
    assert [corner_begun(f.distance) for _, f in told] == [6, 10]
    for (_, finding), planted in zip(told, (1.0, 0.7), strict=True):
        assert finding.size == pytest.approx(planted, abs=0.5)


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
@pytest.mark.parametrize("person", ["steady", "beginner"])
def test_clean_laps_stay_on_it(car: str, person: str) -> None:
    assert follow(EdgeWatch(), built_in(car, person)) == []
