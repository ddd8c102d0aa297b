import pytest

from coach.planner.stores import Tank
from coach.vocabulary.events import Stores


def after(laps: int, a_lap: float, fuel: float, time: float = 92.4, **left: float) -> Tank:
    """A tank after so many laps; `fuel` L is left at the line."""
    tank = Tank()
    for lap in range(laps + 1):
        tank.update(Stores(0.0, lap, fuel + (laps - lap) * a_lap, left.get("laps_left"), left.get("time_left")))
        tank.lap_over(time if lap else None)
    return tank


def test_forty_five_minutes_at_92_4_s_are_thirty_laps_which_take_79_5_litres() -> None:
    """A worked example (arithmetic): 2700 s / 92.4 s = 29.22, so 30 laps; at 2.65 L a lap 79.5 L."""
    tank = after(3, 2.65, 79.5, time_left=45 * 60.0)
    assert tank.laps_left == 30
    assert tank.a_lap == pytest.approx(2.65)
    assert tank.fuel_laps == 30
    assert tank.minutes_left == 45
    assert tank.warning() is None
    assert after(3, 2.65, 79.4, time_left=45 * 60.0).fuel_laps == 29


def test_a_lap_behind_another_car_does_not_change_what_a_lap_takes() -> None:
    tank = after(4, 2.0, 20.0)
    tank.update(Stores(0.0, 5, 19.5, None, None))
    tank.lap_over(120.0)
    assert tank.a_lap == pytest.approx(2.0)


def test_too_little_fuel_is_said_once_at_each_step() -> None:
    tank, said = after(3, 2.0, 13.0, laps_left=20.0), []
    for lap in range(4, 11):
        tank.update(Stores(0.0, lap, 13.0 - 2.0 * (lap - 3), 20.0, None))
        tank.lap_over(92.0)
        said.append(tank.warning())
        if said[-1] is not None:
            tank.warned()
    assert said == [5, None, 3, 2, 1, None, None]


def test_a_warning_that_found_no_room_comes_again() -> None:
    tank = after(3, 2.0, 9.0, laps_left=20.0)
    assert [tank.warning(), tank.warning()] == [4, 4]


def test_fuel_that_lasts_is_no_news() -> None:
    assert after(3, 2.0, 6.5, laps_left=3.0).warning() is None
    assert after(3, 2.0, 4.5, laps_left=3.0).warning() == 2
    assert after(3, 2.0, 4.5).warning() == 2, "nobody knows how long it has to last"


def test_after_a_stop_for_fuel_the_use_is_not_taken_for_negative() -> None:
    tank = after(2, 2.0, 3.0)
    tank.update(Stores(0.0, 3, 50.0, None, None))
    tank.lap_over(95.0)
    tank.update(Stores(0.0, 4, 48.0, None, None))
    tank.lap_over(92.0)
    assert (tank.a_lap, tank.fuel_laps) == (pytest.approx(2.0), 24)


def test_nothing_sent_is_nothing_known() -> None:
    tank = Tank()
    tank.lap_over(90.0)
    assert (tank.fuel_laps, tank.laps_left, tank.minutes_left, tank.warning()) == (None, None, None, None)
    tank.update(Stores(0.0, 1, 10.0, None, None))
    assert tank.fuel_laps is None, "what a lap takes is not known yet"
