"""How hard a driver has slowed a car, by speed: the greatest mean deceleration over 0.3 s of each braking."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from coach.engine.brakes import ENOUGH, KEPT, OVER, SHARE, Brakes
from coach.vocabulary.sample import Sample


def braked(
    hardnesses: Iterable[float], begins: float = 52.0, rate: float = 60.0, lasts: float = 2.0, brake: float = 0.9
) -> Brakes:
    """One braking of `lasts` s after another, each at a constant deceleration, a second of driving between them."""
    brakes, t = Brakes(), 0.0
    for hardness in hardnesses:
        for i in range(round(lasts * rate)):
            brakes.watch(Sample(t, speed=begins - hardness * i / rate, brake=brake))
            t += 1.0 / rate
        for _ in range(round(rate)):
            brakes.watch(Sample(t, speed=begins, brake=0.0))
            t += 1.0 / rate
    return brakes


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("hardness", [3.0, 9.81, 25.0])
def test_a_constant_deceleration_is_read_exactly(hardness: float, rate: float) -> None:
    assert braked([hardness] * ENOUGH, 80.0, rate).hardest(80.0) == pytest.approx(hardness, rel=1e-6)


def test_it_must_be_seen_time_and_again() -> None:
    assert braked([10.0] * (ENOUGH - 1)).hardest(52.0) is None
    assert braked([10.0] * ENOUGH).hardest(52.0) == pytest.approx(10.0)


@pytest.mark.parametrize("count", [5, 9, 20, KEPT])
def test_against_an_independent_quantile(count: int) -> None:
    hardnesses = [6.0 + 0.37 * ((5 * i) % 17) for i in range(count)]
    expected = float(np.quantile(hardnesses, SHARE, method="lower"))
    assert braked(hardnesses).hardest(52.0) == pytest.approx(expected, rel=1e-6)


def test_the_luckiest_braking_is_no_mark_and_old_ones_are_forgotten() -> None:
    assert braked([8.0] * 9 + [14.0]).hardest(52.0) == pytest.approx(8.0)
    assert braked([14.0] * KEPT + [8.0] * KEPT).hardest(52.0) == pytest.approx(8.0)


def test_speeds_compare_in_bands() -> None:
    brakes = braked([10.0] * ENOUGH, begins=55.0)
    assert brakes.hardest(50.0) == brakes.hardest(59.9) == pytest.approx(10.0)
    assert brakes.hardest(49.9) is None and brakes.hardest(60.0) is None


def test_the_peak_of_a_braking_that_eases_off_is_its_beginning() -> None:
    """12 m/s^2 for half a second, then 4: trail braking."""
    brakes, t = Brakes(), 0.0
    for _ in range(ENOUGH):
        speed = 58.0
        for i in range(120):
            brakes.watch(Sample(t, speed=speed, brake=0.8))
            t, speed = t + 1.0 / 60.0, speed - (12.0 if i < 30 else 4.0) / 60.0
        brakes.watch(Sample(t, speed=speed, brake=0.0))
        t += 1.0 / 60.0
    assert brakes.hardest(58.0) == pytest.approx(12.0, rel=1e-6)


def test_what_is_no_braking_teaches_nothing() -> None:
    assert braked([10.0] * 9, brake=0.05).hardest(52.0) is None, "the foot rests on the pedal"
    assert braked([10.0] * 9, lasts=0.5 * OVER).hardest(52.0) is None, "too short to read a deceleration from"
    assert braked([-1.0] * 9).hardest(52.0) is None, "the car did not slow"
    brakes = Brakes()
    for i in range(2000):
        brakes.watch(Sample(i / 60.0, speed=None if i % 2 else 50.0, brake=None if i % 3 else 0.5))
    assert brakes.hardest(50.0) is None or brakes.hardest(50.0) == pytest.approx(0.0)


def test_a_silence_ends_a_braking() -> None:
    """From 52 to 30 m/s in two seconds that were not seen: no 11 m/s^2."""
    brakes, t = Brakes(), 0.0
    for _ in range(9):
        for speed in (52.0, 52.0, 30.0, 30.0):
            brakes.watch(Sample(t, speed=speed, brake=0.9))
            t += 0.1 if speed == 52.0 else 2.0
        brakes.watch(Sample(t, speed=52.0, brake=0.0))
        t += 1.0
    assert brakes.hardest(52.0) is None
