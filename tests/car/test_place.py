"""Where the car is: the same as an independent projection finds, by a walk that counts the laps."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pytest
import shapely

from feeds.car.circuit import Bend, Circuit, Straight, brack_mere
from feeds.car.place import Place

PACES = 4.0
"""m that the car moves between two looks: twice what it does at 360 m/s, and far under the tightest bend's radius."""


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    return brack_mere()


def beside(circuit: Circuit, place: float, offset: float) -> tuple[float, float]:
    """x, y in m, `offset` m to the left of the centre line at `place` m."""
    place %= circuit.length
    heading = float(np.interp(place, circuit.station, circuit.heading))
    x, y = (float(np.interp(place, circuit.station, values)) for values in (circuit.x, circuit.y))
    return x - offset * math.sin(heading), y + offset * math.cos(heading)


def walked(circuit: Circuit, place: Place, places: Iterable[float], offset: float) -> None:
    for one in places:
        place.find(*beside(circuit, one, offset))


def steps(begins: float, ends: float, pace: float = PACES) -> list[float]:
    count = math.ceil(abs(ends - begins) / pace)
    return [begins + (ends - begins) * i / count for i in range(count + 1)]


@pytest.mark.parametrize("offset", [-5.0, 0.0, 2.5, 5.0])
def test_station_and_offset_are_those_of_a_projection(circuit: Circuit, offset: float) -> None:
    """shapely's projection on the same line, which searches all of it, is the outside word. It cannot tell a side."""
    line = shapely.LineString(zip(circuit.x, circuit.y, strict=True))
    place = Place(circuit, 0.0)
    for one in steps(PACES, circuit.length - 2.0 * PACES):
        x, y = beside(circuit, one, offset)
        place.find(x, y)
        point = shapely.Point(x, y)
        # a corner of the line of half metres holds all places outside of it: up to 5 m x 0.5 m / (17 - 5) m = 0.21 m
        assert place.station == pytest.approx(line.project(point), abs=0.25)
        assert abs(place.offset) == pytest.approx(line.distance(point), abs=0.01)
        assert place.offset == pytest.approx(offset, abs=0.01)
        assert place.heading == pytest.approx(
            float(circuit.heading[round(place.station / circuit.step)]), abs=0.6 * circuit.step / 17.0
        )


def test_between_two_stations_it_goes_evenly(circuit: Circuit) -> None:
    """On a straight the station grows by what the car moves."""
    place = Place(circuit, 0.0)
    x, y = beside(circuit, 10.0, 1.0)
    heading = float(circuit.heading[round(10.0 / circuit.step)])
    place.find(x, y)
    first = place.station
    for i in range(1, 40):
        place.find(x + 0.37 * i * math.cos(heading), y + 0.37 * i * math.sin(heading))
        assert place.station - first == pytest.approx(0.37 * i, abs=1e-6)
        assert place.offset == pytest.approx(1.0, abs=1e-6)


def test_laps_are_counted_over_the_line(circuit: Circuit) -> None:
    length = circuit.length
    place = Place(circuit, length - 20.0)
    laps = []
    for one in steps(length - 20.0, 3.0 * length + 20.0):
        place.find(*beside(circuit, one, -2.0))
        laps.append((one, place.laps))
    for one, count in laps:
        if abs(one - length * round(one / length)) > 0.01:  # on the line itself rounding decides
            assert count == math.floor(one / length)
    assert place.laps == 3


def test_backwards_over_the_line_takes_the_lap_back(circuit: Circuit) -> None:
    place = Place(circuit, 0.0)
    walked(circuit, place, steps(0.0, 20.0), 1.0)
    walked(circuit, place, steps(20.0, -30.0), 1.0)
    assert place.laps == -1
    assert place.station == pytest.approx(circuit.length - 30.0, abs=circuit.step)
    walked(circuit, place, steps(-30.0, 20.0), 1.0)
    assert place.laps == 0
    assert place.station == pytest.approx(20.0, abs=circuit.step)


def test_to_and_fro_over_the_line_counts_no_lap_too_many(circuit: Circuit) -> None:
    place = Place(circuit, circuit.length - 1.0)
    for _ in range(50):
        walked(circuit, place, [-0.6, 0.6], 3.0)
        assert place.laps == 1
        walked(circuit, place, [-0.6], 3.0)
        assert place.laps == 0


def test_just_before_and_just_behind_the_line(circuit: Circuit) -> None:
    """The station is under the length before the line and near nothing behind it, never in between."""
    x, y, heading = float(circuit.x[0]), float(circuit.y[0]), float(circuit.heading[0])
    place = Place(circuit, circuit.length - 2.0)
    for along, laps in ((-1.0, 0), (-0.01, 0), (0.01, 1), (0.3, 1)):
        place.find(x + along * math.cos(heading), y + along * math.sin(heading))
        assert place.laps == laps
        assert place.station == pytest.approx(along + (circuit.length if laps == 0 else 0.0), abs=1e-3)
        assert 0.0 <= place.station <= circuit.length


def test_a_road_that_runs_back_beside_itself_does_not_catch_the_car() -> None:
    """A hairpin of 8 m radius: the way back lies some 16 m off, and the car is 6.5 m inside, near its centre."""
    turn = math.pi / 2
    tight, wide = Bend(turn, 8.0, ramp=2.0), Bend(turn, 60.0, ramp=20.0)
    circuit = Circuit(
        "hook",
        [Straight(200.0), tight, tight, Straight(60.0), Bend(-turn, 40.0, ramp=10.0), Straight(80.0), wide,
         Straight(40.0, fit=True), wide, Straight(10.0, fit=True), Bend(turn, 60.0, ramp=20.0)],
        width=14.0,
    )  # fmt: skip
    place = Place(circuit, 150.0)
    before = 150.0
    for one in steps(150.0, 290.0, 0.5):
        place.find(*beside(circuit, one, 6.5))
        assert before - 0.5 <= place.station <= before + 4.0
        before = place.station
    assert place.station == pytest.approx(290.0, abs=1.0)
    assert place.offset == pytest.approx(6.5, abs=0.1)


def test_outside_of_a_bend_each_place_is_found_from_both_sides(circuit: Circuit) -> None:
    """There two stretches of the line may each say that the other has the car: the walk ends, with one of the two."""
    hairpin = circuit.corners[3]
    middle = (hairpin.begins + hairpin.ends) / 2
    both = 0
    for one in steps(middle - 3.0, middle + 3.0, 0.02):
        x, y = beside(circuit, one, -hairpin.side * 5.0)
        found = []
        for begins in (hairpin.begins, hairpin.ends):
            place = Place(circuit, begins)
            place.find(x, y)
            found.append(place.station)
            assert place.station == pytest.approx(one, abs=0.25)
        both += found[0] != found[1]
    assert both > 0
