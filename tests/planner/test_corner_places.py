import random
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


def test_whether_the_car_is_inside_is_the_same_by_table_as_by_looking_at_every_corner() -> None:
    dice = random.Random("inside")
    for _ in range(60):
        length = dice.uniform(50.0, 3000.0)
        ends = [(dice.uniform(0.0, length), dice.uniform(0.0, length)) for _ in range(dice.randrange(6))]
        marks = [CornerMark(n, "left", a, a, a, b, (a,), coached=dice.random() < 0.8) for n, (a, b) in enumerate(ends)]
        places = CornerPlaces(marks, length)
        for _ in range(60):
            here = dice.choice([dice.uniform(0.0, 2.0 * length), *(mark.entry for mark in marks)])
            spans = [
                ((mark.exit - mark.entry) % length, (here - mark.entry) % length) for mark in marks if mark.coached
            ]
            assert places.inside(here) == any(span < length / 2 and way < span for span, way in spans)
