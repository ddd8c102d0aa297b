"""Early and late shifts up: when they are told, and all that must not be told."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from coach.engine.faults import WATCHES
from coach.engine.faults.base import Finding
from coach.engine.faults.upshift import LEAST_COST, LEAST_SIZE, UpshiftWatch
from tests.engine.pulling import Driver, Judge, MadeCar, learned

LEARNING = (41.0, 28.0, 41.0, 28.0)
"""m/s: shifts that show both gears at 28 to 41 m/s; the best shift is at 34.29 m/s"""
EARLY, BEST, LATE = 28.0, 34.3, 41.0
Change = Callable[[float, float, int], dict[str, Any]]


def found(shift: float, learning: tuple[float, ...] = LEARNING, **more: Any) -> list[Finding]:
    driver, judge = learned(learning)
    return judge.take(driver.lap(shift, **more))


def names(findings: list[Finding]) -> list[str]:
    return [f.fault for f in findings]


def test_it_is_one_of_the_watches_and_off_with_an_automatic_gearbox() -> None:
    assert UpshiftWatch in WATCHES
    assert UpshiftWatch.off_with == "gearbox"
    assert UpshiftWatch.faults == ("early_upshift", "late_upshift")


def test_what_a_finding_tells() -> None:
    (finding,) = found(EARLY)
    assert finding.fault == "early_upshift"
    assert finding.unit == "rev/min"
    assert finding.phases == ("straight",)
    assert finding.strength == pytest.approx(finding.size / LEAST_SIZE)
    assert finding.cost is not None and finding.cost >= LEAST_COST
    assert finding.evidence["gear"] == 4
    assert finding.evidence["speed"] == pytest.approx(EARLY, abs=0.2)
    assert finding.evidence["engine_speed"] == pytest.approx(200.0 * EARLY, abs=40.0)
    assert finding.evidence["pull"] > finding.evidence["next_pull"]
    # 22 to 28 m/s at 6.5 to 5.6 m/s^2 takes (28^2 - 22^2) / (2 x 6.0) = 25 m
    assert finding.distance == pytest.approx(25.0, abs=2.0)


def test_it_is_told_on_the_same_straight_a_little_after_the_shift() -> None:
    driver, judge = learned(LEARNING)
    judge.told_at.clear()
    for shift in (EARLY, LATE):
        (finding,) = judge.take(driver.lap(shift))
        assert 1.0 <= judge.told_at.pop() - finding.begins <= 3.6


def test_on_the_first_straight_nothing_is_known() -> None:
    driver = Driver(MadeCar())
    assert Judge().take(driver.lap(EARLY)) == []


def test_who_always_shifts_early_has_not_shown_what_the_lower_gear_could_do() -> None:
    assert found(EARLY, (EARLY,) * 4) == []


def test_who_always_shifts_late_has_not_shown_what_the_next_gear_could_do() -> None:
    assert found(LATE, (LATE,) * 4) == []


def test_once_held_to_its_end_is_no_proof() -> None:
    assert found(EARLY, (28.0, 41.0, 28.0)) == []


def test_early_and_late_are_told_apart_on_laps_that_follow() -> None:
    driver, judge = learned(LEARNING)
    said = [names(judge.take(driver.lap(shift))) for shift in (BEST, EARLY, BEST, LATE, BEST)]
    assert said == [[], ["early_upshift"], [], ["late_upshift"], []]


def test_a_distance_before_the_line_counts_back_from_it() -> None:
    # the line lies 20 m behind the shift: what is told after it began before the lap
    driver, judge = Driver(MadeCar()), Judge()

    def moved(place: float, speed: float, gear: int) -> dict[str, Any]:
        return {"lap_distance": (place + 655.0) % 700.0}

    judge.take(driver.laps(LEARNING, change=moved))
    (finding,) = judge.take(driver.lap(EARLY, change=moved))
    assert finding.distance == pytest.approx(25.0 - 45.0, abs=3.0)


def braked(after: float) -> Change:
    """Brakes `after` m/s above an early shift."""
    return lambda place, speed, gear: {"brake": 0.6, "throttle": 0.0} if speed > EARLY + after and gear == 4 else {}


def test_who_brakes_within_a_second_shifted_for_the_corner() -> None:
    # the next gear pulls 5 m/s^2: 4 m/s more take 0.8 s, 7 m/s 1.4 s
    assert found(EARLY, change=braked(4.0)) == []


def spinning(place: float, speed: float, gear: int) -> dict[str, Any]:
    near = EARLY - 2.0 < speed < EARLY
    return {"wheel_speed": (speed, speed, 1.12 * speed, 1.12 * speed) if near else (speed,) * 4}


def turning(place: float, speed: float, gear: int) -> dict[str, Any]:
    return {"ay": 4.0} if EARLY - 2.0 < speed < EARLY + 2.0 and place < 100.0 else {}


def feeding_in(place: float, speed: float, gear: int) -> dict[str, Any]:
    return {"throttle": 0.8} if EARLY - 3.0 < speed < EARLY else {}


def lifting(place: float, speed: float, gear: int) -> dict[str, Any]:
    return {"throttle": 0.4} if gear == 4 and speed < EARLY + 8.0 and place < 200.0 else {}


@pytest.mark.parametrize("change", [spinning, turning, feeding_in, lifting])
def test_where_traction_or_the_driver_limits_it_is_no_fault(change: Change) -> None:
    assert names(found(EARLY, change=lambda *at: {})) == ["early_upshift"]
    assert found(EARLY, change=change) == []


def test_the_cut_of_the_shift_itself_is_no_lift() -> None:
    def cut(place: float, speed: float, gear: int) -> dict[str, Any]:
        return {"throttle": 0.0} if EARLY - 0.3 < speed < EARLY + 0.3 and place < 100.0 else {}

    assert names(found(EARLY, change=cut)) == ["early_upshift"]


def test_neutral_between_the_gears_is_part_of_the_shift() -> None:
    def between(place: float, speed: float, gear: int) -> dict[str, Any]:
        return {"gear": 0} if EARLY < speed < EARLY + 0.4 and place < 100.0 else {}

    assert names(found(EARLY, change=between)) == ["early_upshift"]


def test_a_skipped_gear_is_not_judged() -> None:
    assert found(EARLY, change=lambda place, speed, gear: {"gear": 5} if gear == 4 else {}) == []


def test_without_knowing_how_the_car_turns_nothing_is_told() -> None:
    driver, judge = Driver(MadeCar()), Judge()
    assert judge.take(driver.laps((*LEARNING, EARLY), change=lambda *at: {"ay": None})) == []


def test_after_a_jump_the_shift_is_forgotten() -> None:
    driver, judge = learned(LEARNING)
    told = []
    for sample in driver.lap(EARLY):
        told += judge.take([sample])
        if sample.gear == 4 and (sample.speed or 0.0) < EARLY + 2.0:
            judge.watch.reset()
    assert told == []


def test_the_draught_of_a_car_ahead_teaches_nothing() -> None:
    driver, judge = Driver(MadeCar()), Judge()
    assert judge.take(driver.laps((*LEARNING, EARLY), change=lambda *at: {"gap_ahead": 0.8})) == []


def hill(place: float) -> float:
    """Up 6 % where the lower gear is driven, level behind."""
    return 0.06 if place < 60.0 else 0.0


def test_a_slope_is_not_taken_for_the_gear() -> None:
    assert found(BEST, slope=hill) == []
    (finding,) = found(EARLY, slope=hill)
    assert finding.evidence["best_speed"] == pytest.approx(BEST, rel=0.03)


def test_without_height_the_same_road_compares() -> None:
    driver, judge = Driver(MadeCar()), Judge()
    judge.take(driver.laps(LEARNING, change=lambda *at: {"z": None}))
    (finding,) = judge.take(driver.lap(EARLY, change=lambda *at: {"z": None}))
    assert finding.evidence["best_speed"] == pytest.approx(BEST, rel=0.03)


LIMITED = MadeCar(fall=0.02, gain=6.0e-5, limit=7000.0)
"""No pulls cross below its limit of 7,000 rev/min, 35 m/s in the lower gear"""


def held(seconds: float) -> list[Finding]:
    """Laps with a shift just before the limit, then one on which the car stands at it for `seconds` s."""
    driver, judge = Driver(LIMITED), Judge()
    assert judge.take(driver.laps((34.9, 34.9, 34.9))) == []
    return judge.take(driver.lap(35.0, hold=seconds))


@pytest.mark.parametrize("seconds", [0.5, 1.0])
def test_who_stands_at_the_limiter_is_late(seconds: float) -> None:
    told = held(seconds)
    assert names(told) == ["late_upshift"]
    # the next gear pulls 6e-5 x (600 - 0.02 x 150 x 35) x 150 = 4.46 m/s^2: 200 x 4.46 rev/min a second are not gained
    assert told[0].size == pytest.approx(200.0 * 4.46 * seconds, rel=0.25)


def test_who_touches_the_limiter_is_not() -> None:
    assert held(0.1) == []
