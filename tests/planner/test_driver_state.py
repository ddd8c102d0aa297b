import pytest

from coach.planner.driver import Driver
from coach.vocabulary.events import Moment

RATES = (20.0, 50.0, 360.0)
BOUND = 9.0


def moment(t: float, throttle: float | None, brake: float | None = 0.0, lateral: float | None = 0.0) -> Moment:
    return Moment(t, 1, 0.0, 50.0, throttle, brake, lateral)


def driven(rate: float, *pieces: tuple[float, float], begin: float = 10.0) -> Driver:
    """A driver after holding each throttle for its seconds."""
    driver, sample = Driver(), 0
    for seconds, throttle in pieces:
        for _ in range(round(seconds * rate)):
            driver.update(moment(begin + sample / rate, throttle), BOUND)
            sample += 1
    return driver


@pytest.mark.parametrize("rate", RATES)
def test_full_throttle_counts_from_its_first_sample(rate: float) -> None:
    driver = driven(rate, (1.0, 0.5), (1.0, 1.0))
    assert driver.full
    assert driver.full_since == pytest.approx(11.0)


@pytest.mark.parametrize("rate", RATES)
def test_the_cut_of_a_gear_change_does_not_end_it_a_lift_does(rate: float) -> None:
    assert driven(rate, (1.0, 1.0), (0.2, 0.0), (0.5, 1.0)).full_since == pytest.approx(10.0)
    assert driven(rate, (1.0, 1.0), (0.5, 0.6), (0.5, 1.0)).full_since == pytest.approx(11.5)


@pytest.mark.parametrize("rate", RATES)
def test_a_dip_before_full_throttle_is_held_begins_it_anew(rate: float) -> None:
    assert driven(rate, (0.1, 1.0), (0.1, 0.0), (0.5, 1.0)).full_since == pytest.approx(10.2)


def test_within_a_cut_the_throttle_is_held_but_not_full() -> None:
    driver = driven(50.0, (1.0, 1.0), (0.1, 0.0))
    assert driver.full_since == pytest.approx(10.0)
    assert not driver.full


def test_brakes_end_full_throttle_at_once() -> None:
    driver = driven(50.0, (1.0, 1.0))
    driver.update(moment(11.0, 1.0, brake=0.06), BOUND)
    assert driver.full_since is None
    assert not driver.full
    assert driver.calm_since is None


def test_cornering_ends_calm_but_not_full_throttle() -> None:
    driver = driven(50.0, (1.0, 1.0))
    driver.update(moment(11.0, 1.0, lateral=-9.5), BOUND)
    assert driver.calm_since is None
    assert driver.full_since == pytest.approx(10.0)
    driver.update(moment(11.02, 1.0, lateral=2.0), BOUND)
    assert driver.calm_since == pytest.approx(11.02)


@pytest.mark.parametrize("t", [11.6, 10.5])
def test_after_a_gap_or_a_step_back_nothing_is_held(t: float) -> None:
    driver = driven(50.0, (1.0, 1.0))
    driver.update(moment(t, 1.0), BOUND)
    assert driver.full_since == t
    assert driver.calm_since == t


def test_throttle_that_is_not_known_is_not_full_and_unknown_brakes_are_not_pressed() -> None:
    driver = Driver()
    driver.update(moment(10.0, None, None, None), BOUND)
    assert not driver.full
    driver.update(moment(10.02, 1.0, None, None), BOUND)
    assert (driver.full_since, driver.calm_since) == (10.02, 10.0)
