"""Fuel: what is no measure of what a lap takes."""

import pytest

from coach.planner.stores import Tank
from coach.vocabulary.events import Stores


def driven(tank: Tank, *laps: tuple[float, float | None]) -> Tank:
    """L left at each line, and the lap's time in s."""
    for number, (fuel, time) in enumerate(laps):
        tank.update(Stores(0.0, number, fuel, 30.0, None))
        tank.lap_over(time)
    return tank


def test_a_lap_that_was_not_whole_is_no_measure() -> None:
    tank = driven(Tank(), (20.0, None), (18.0, 90.0), (12.0, None), (10.0, 90.0))
    assert tank.a_lap == pytest.approx(2.0)


def test_a_stop_in_the_middle_of_a_lap_is_no_small_use() -> None:
    """1.5 L are filled in and 2 L used: what the lap began with says nothing."""
    tank = driven(Tank(), (20.0, None), (18.0, 90.0), (16.0, 90.0))
    tank.update(Stores(0.0, 3, 15.0, 30.0, None))
    tank.update(Stores(0.0, 3, 16.5, 30.0, None))
    driven(tank, (15.5, 90.0), (13.5, 90.0))
    assert tank.a_lap == pytest.approx(2.0)


def test_filled_up_it_warns_anew() -> None:
    tank = driven(Tank(), (13.0, None), (11.0, 90.0))
    assert tank.warning() == 5
    driven(tank, (30.0, 90.0), (28.0, 90.0))
    assert tank.warning() is None
    driven(tank, *((28.0 - 2.0 * lap, 90.0) for lap in range(1, 10)))
    assert tank.warning() == 5


def test_time_left_counts_the_running_lap_and_none_is_left_when_it_is_over() -> None:
    tank = driven(Tank(), (13.0, None), (11.0, 90.0))
    for seconds, laps, minutes in ((180.1, 3, 3), (180.0, 2, 3), (0.0, 0, 0), (-5.0, 0, 0)):
        tank.update(Stores(0.0, 2, 11.0, None, seconds))
        assert (tank.laps_left, tank.minutes_left) == (laps, minutes)
