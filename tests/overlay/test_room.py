"""Where there is room to read. Places and lengths are the made circuit's; see made_circuit.py."""

from __future__ import annotations

from dataclasses import replace
from math import nan

import pytest

from coach.overlay.room import ReadingRoom
from coach.vocabulary.events import Moment
from tests.planner.made_circuit import Part, braking, drive, lap_trace, turning

TRACE = lap_trace()
STRAIGHT = Moment(10.0, 1, 700.0, 45.0, 1.0, 0.0, 0.0)


def knowing() -> ReadingRoom:
    room = ReadingRoom()
    room.know(TRACE)
    return room


def seen(*moments: Moment) -> ReadingRoom:
    room = knowing()
    for moment in moments:
        room.update(moment)
    return room


def test_straights_are_where_the_circuit_has_them() -> None:
    room, straight = knowing(), set()
    for moment in drive(TRACE, laps=2):
        room.update(moment)
        if room.since is not None and moment.distance is not None and moment.lap == 2:
            straight.add(round(moment.distance))
    within = [(0, 400), (600, 900), (1060, 1100), (1240, 2000)]
    assert straight
    assert all(any(start <= place <= end for start, end in within) for place in straight)
    assert all(any(start <= place <= end for place in straight) for start, end in within)


def test_seconds_left_are_the_references_and_go_on_over_the_line() -> None:
    assert seen(replace(STRAIGHT, distance=750.0)).left == pytest.approx(150 / 45, abs=0.05)
    assert seen(replace(STRAIGHT, distance=1900.0)).left == pytest.approx(100 / 55 + 400 / 60, abs=0.05)
    assert seen(replace(STRAIGHT, distance=3900.0)).left == pytest.approx(100 / 55 + 400 / 60, abs=0.05)
    assert seen(replace(STRAIGHT, distance=500.0)).left == 0.0


@pytest.mark.parametrize(
    "change",
    [
        {"throttle": 0.9},
        {"throttle": None},
        {"brake": 0.06},
        {"lateral": 9.0},
        {"lateral": 7.5},
        {"distance": None},
        {"distance": 480.0},
        {"quiet": "yellow"},
        {"quiet": "beside"},
        {"quiet": "off"},
        {"quiet": "pit"},
    ],
)
def test_none_begins(change: dict[str, object]) -> None:
    assert seen(replace(STRAIGHT, **change)).since is None  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "change", [{}, {"brake": None}, {"lateral": None}, {"lateral": 6.0}, {"quiet": "race"}, {"speed": None}]
)
def test_one_begins(change: dict[str, object]) -> None:
    assert seen(replace(STRAIGHT, **change)).since == 10.0  # type: ignore[arg-type]


def test_it_takes_more_to_begin_than_to_stay() -> None:
    sway = replace(STRAIGHT, t=10.1, lateral=8.5, throttle=0.85)
    assert seen(sway).since is None
    assert seen(STRAIGHT, sway).since == 10.0


def test_a_gear_change_ends_nothing_but_a_lift_does() -> None:
    room = seen(STRAIGHT)
    for after, stays in ((0.1, True), (0.2, True), (0.29, True), (0.31, False), (0.4, False)):
        room.update(replace(STRAIGHT, t=10.0 + after, throttle=0.0))
        assert (room.since is not None) is stays


def pressed(*throttle: float) -> ReadingRoom:
    """A straight with these throttles, a tenth apart, from 10 s on."""
    return seen(*(replace(STRAIGHT, t=10.0 + tenth / 10, throttle=share) for tenth, share in enumerate(throttle)))


def test_full_throttle_counts_as_it_does_for_speech() -> None:
    """From the first touch, or anew where the driver still feels for grip, or eases for longer than a gear change."""
    assert pressed(1.0, 1.0, 1.0).full == 10.0
    feeling = pressed(1.0, 0.85, 1.0, 0.85, 1.0)
    assert (feeling.since, feeling.full) == (10.0, 10.4)
    assert pressed(1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 1.0).full == 10.0
    eased = pressed(1.0, 1.0, 1.0, 1.0, 1.0, 0.85, 0.85, 0.85, 0.85)
    assert (eased.since, eased.full) == (10.0, None)
    assert pressed(*[1.0] * 5, *[0.85] * 4, 1.0).full == pytest.approx(10.9)


def test_brakes_end_it_at_once() -> None:
    assert seen(STRAIGHT, replace(STRAIGHT, t=10.02, brake=0.1)).since is None


def test_after_a_gap_it_begins_anew() -> None:
    assert seen(STRAIGHT, replace(STRAIGHT, t=10.4)).since == 10.0
    assert seen(STRAIGHT, replace(STRAIGHT, t=11.0)).since == 11.0
    assert seen(STRAIGHT, replace(STRAIGHT, t=4.0)).since == 4.0


def test_a_lift_of_the_reference_ends_a_straight_and_its_gear_change_does_not() -> None:
    def left(lift: float) -> float:
        parts = (Part(300, 50.0), Part(lift, 50.0, throttle=0.5), Part(300, 50.0), braking(60), turning(80))
        room = ReadingRoom()
        room.know(lap_trace(parts))
        room.update(replace(STRAIGHT, distance=100.0))
        return room.left

    assert left(10.0) == pytest.approx(510 / 50, abs=0.05)
    assert left(40.0) == pytest.approx(200 / 50, abs=0.05)


def test_without_a_reference_or_with_a_broken_one_there_is_no_room() -> None:
    broken = replace(TRACE, lateral=TRACE.lateral[:-1])
    for trace in (None, broken, replace(TRACE, length=0.0), replace(TRACE, time=[0.0])):
        room = knowing()
        room.know(trace)
        room.update(STRAIGHT)
        assert (room.since, room.left) == (None, 0.0)


def test_where_the_reference_has_holes() -> None:
    """Of pedals: it may have braked there, or lifted. Of the lateral acceleration: the pedals tell."""

    def left(**holes: list[float]) -> float:
        room = ReadingRoom()
        room.know(replace(TRACE, **holes))
        room.update(replace(STRAIGHT, distance=750.0))
        return room.left

    def holed(channel: list[float]) -> list[float]:
        return [nan if 800.0 <= TRACE.step * index <= 840.0 else value for index, value in enumerate(channel)]

    whole = left()
    assert left(lateral=holed(TRACE.lateral)) == whole
    assert left(brake=holed(TRACE.brake)) == pytest.approx(50 / 45, abs=0.1)
    assert left(throttle=holed(TRACE.throttle)) == pytest.approx(50 / 45, abs=0.1)


def test_a_reference_without_lateral_acceleration_still_has_its_straights() -> None:
    room = ReadingRoom()
    room.know(replace(TRACE, lateral=[0.0] * len(TRACE.lateral)))
    room.update(STRAIGHT)
    assert room.since == 10.0
    room.update(replace(STRAIGHT, t=10.1, distance=920.0))
    assert room.since is None
