from dataclasses import replace

import pytest

from coach.planner.corners import CornerPlaces
from coach.vocabulary.events import CornerMark

OVER_THE_LINE = CornerMark(9, "left", 950.0, 980.0, 10.0, 40.0, (10.0,))
MARKS = (
    CornerMark(1, "left", 100.0, 150.0, 180.0, 250.0, (180.0,)),
    CornerMark(2, "right", 300.0, 320.0, 330.0, 400.0, (330.0,)),
)


@pytest.fixture
def places() -> CornerPlaces:
    return CornerPlaces((*MARKS, OVER_THE_LINE), 1000.0)


@pytest.mark.parametrize(
    ("distance", "inside"), [(149.0, False), (150.0, True), (249.0, True), (250.0, False), (990.0, True), (39.0, True)]
)
def test_a_corner_is_from_entry_to_exit_over_the_line_too(places: CornerPlaces, distance: float, inside: bool) -> None:
    assert places.inside(distance) is inside


def test_a_corner_is_the_last_until_the_next_ones_apex_is_behind(places: CornerPlaces) -> None:
    assert places.is_last(1, 190.0)
    assert places.is_last(1, 329.0)
    assert not places.is_last(1, 331.0)
    assert places.is_last(2, 990.0)
    assert not places.is_last(2, 20.0)
    assert not places.is_last(7, 20.0), "a corner that the map lacks"


def test_a_bend_that_is_not_coached_keeps_nothing_back() -> None:
    flat = CornerPlaces([replace(mark, coached=False) for mark in MARKS], 1000.0)
    assert not flat.inside(200.0)
    assert flat.is_last(1, 350.0)
    assert flat.brake(1) == 100.0


def test_marks_that_make_no_sense_do_not_silence_a_whole_lap() -> None:
    assert not CornerPlaces([replace(MARKS[0], entry=260.0)], 1000.0).inside(500.0)


def test_a_corner_that_the_map_lacks_has_no_brake_point(places: CornerPlaces) -> None:
    assert places.brake(3) is None
    assert places.brake(None) is None
