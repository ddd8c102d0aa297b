"""What spoils a lap while it is driven."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from coach.engine.conduct import WHY_NOT, Conduct
from coach.vocabulary.sample import Sample


def watched(stream: Iterable[Sample], step: float = 1.0) -> Conduct:
    conduct = Conduct()
    for index, sample in enumerate(stream):
        conduct.watch(sample, index * step)
    return conduct


def steady(seconds: float, begins: float = 0.0, rate: float = 50.0, **channels: object) -> list[Sample]:
    count = round(seconds * rate)
    return [Sample(begins + i / rate, **{"speed": 40.0, **channels}) for i in range(count)]  # type: ignore[arg-type]


def test_the_reasons_are_the_contracts_in_its_order() -> None:
    contract = "off_track cut pit gap reset standing_start out_lap in_lap spin paused"
    assert " ".join(WHY_NOT) == contract


def test_a_lap_on_the_road_has_nothing_against_it() -> None:
    assert watched(steady(2.0, edge_left=3.0, edge_right=5.0, vx=40.0, vy=1.0, on_track=True)).why == set()


@pytest.mark.parametrize(
    ("edge", "seconds", "off"),
    [
        (-0.90, 2.0, False),  # one side over: kerb use, no fault (contract)
        (-0.96, 2.0, True),  # beyond half of the 1.9 m that stands in for the width
        (-0.96, 0.08, False),  # for less than 0.1 s
        (-0.96, 0.14, True),
    ],
)
@pytest.mark.parametrize("side", ["edge_left", "edge_right"])
def test_off_track_is_the_whole_car_beyond_the_edge_for_a_tenth(
    side: str, edge: float, seconds: float, off: bool
) -> None:
    conduct = watched(steady(seconds, **{side: edge}) + steady(0.5, 5.0, **{side: 2.0}))
    assert conduct.why == ({"off_track"} if off else set())
    assert not conduct.off, "back on the road"


def test_the_cars_own_width_counts_where_it_is_sent() -> None:
    assert watched(steady(1.0, edge_left=-0.85, car_width=1.6)).why == {"off_track"}
    assert watched(steady(1.0, edge_left=-0.96, car_width=2.2)).why == set()


def test_two_short_moments_beyond_the_edge_do_not_add_up() -> None:
    out, back = {"edge_left": -2.0}, {"edge_left": 1.0}
    stream = steady(0.08, 0.0, **out) + steady(0.04, 0.08, **back) + steady(0.08, 0.12, **out)
    assert watched(stream).why == set()


def test_the_source_may_say_that_the_car_is_off() -> None:
    assert watched(steady(0.2, on_track=False)).why == {"off_track"}


def test_a_lap_that_the_source_calls_invalid_is_cut() -> None:
    assert watched(steady(0.5, lap_valid=True) + steady(0.5, 0.5, lap_valid=False)).why == {"cut"}


def test_off_the_track_and_therefore_invalid_is_one_reason() -> None:
    assert watched(steady(0.5, edge_left=-3.0) + steady(0.5, 0.5, lap_valid=False)).why == {"off_track"}


def crossed(conduct: Conduct, t: float) -> Conduct:
    conduct.turn_over(t, odometer=3000.0, recently=500.0)
    return conduct


def test_an_invalid_lap_that_the_source_takes_back_late_does_not_spoil_the_next() -> None:
    conduct = crossed(watched(steady(1.0, lap_valid=False)), 1.0)
    for sample in steady(1.5, 1.0, lap_valid=False) + steady(60.0, 2.5, rate=5.0, lap_valid=True):
        conduct.watch(sample, 3000.0)
    assert conduct.why == set()


def test_a_lap_that_stays_invalid_from_the_line_on_is_not_clean() -> None:
    conduct = crossed(watched(steady(1.0, lap_valid=False)), 1.0)
    for sample in steady(3.0, 1.0, lap_valid=False):
        conduct.watch(sample, 3000.0)
    assert conduct.why == {"cut"}


def test_pit_lane_makes_an_in_lap_and_an_out_lap() -> None:
    conduct = watched(steady(0.5, in_pit=False) + steady(0.5, 0.5, in_pit=True))
    assert conduct.why == {"pit", "in_lap"}
    crossed(conduct, 1.0)
    assert conduct.why == {"pit", "out_lap"}
    for sample in steady(0.5, 1.0, in_pit=True) + steady(0.5, 1.5, in_pit=False):
        conduct.watch(sample, 3000.0)
    assert conduct.why == {"pit", "out_lap"}
    crossed(conduct, 2.0)
    assert conduct.why == set()


def test_a_pit_lane_before_the_line_leaves_the_next_lap_clean() -> None:
    conduct = watched(steady(0.5, in_pit=True) + steady(0.5, 0.5, in_pit=False))
    assert conduct.why == {"pit", "in_lap", "out_lap"}
    assert crossed(conduct, 1.0).why == set()


@pytest.mark.parametrize(("metres", "standing"), [(400.0, True), (600.0, False)])
def test_a_car_that_stood_shortly_before_the_line_starts_from_standing(metres: float, standing: bool) -> None:
    conduct = Conduct()
    conduct.watch(Sample(0.0, speed=0.0), 1000.0)
    conduct.turn_over(9.0, odometer=1000.0 + metres, recently=500.0)
    assert conduct.why == ({"standing_start"} if standing else set())


@pytest.mark.parametrize(
    ("vx", "vy", "gear", "spun"),
    [
        (30.0, 12.0, 3, False),  # a slide of 22 degrees
        (10.0, 20.0, 3, False),  # 63 degrees: a very big one, still caught perhaps
        (2.0, 20.0, 3, True),
        (-15.0, 1.0, 3, True),  # backwards on the road
        (-5.0, 0.0, -1, False),  # reversing
        (-2.0, 1.0, 3, False),  # too slow for a direction
    ],
)
def test_a_spin_is_an_angle_of_travel_that_nobody_steers_through(vx: float, vy: float, gear: int, spun: bool) -> None:
    assert ("spin" in watched([Sample(0.0, speed=20.0, vx=vx, vy=vy, gear=gear)]).why) == spun


def test_a_spin_and_off_the_road_at_the_line_goes_over_into_the_next_lap() -> None:
    conduct = watched(steady(0.5, edge_left=-4.0))
    assert crossed(conduct, 0.5).why == {"off_track"}
