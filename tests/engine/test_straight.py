"""What an exit speed is worth, beyond the closed forms in tests/physics: odd straights and missing channels."""

from __future__ import annotations

import math

import pytest

from coach.engine.straight import LEAST_PULL, loss_from_speed
from coach.engine.stretch import Stretch
from tests.engine.handmade import stretch


def pulling(pull: float = 4.0, top: float = 60.0, seconds: float = 20.0) -> Stretch:
    """From 20 m/s with `pull` m/s^2 up to `top` m/s, and on at that."""
    return stretch(seconds, 100.0, lambda t: min(top, 20.0 + pull * t))


def test_the_references_own_speed_costs_nothing() -> None:
    assert loss_from_speed(pulling(), 0.0, 400.0, 20.0) == pytest.approx(0.0, abs=1e-6)


def test_slower_costs_and_faster_gains_the_more_the_further_off() -> None:
    losses = [loss_from_speed(pulling(), 0.0, 400.0, speed) for speed in (16.0, 18.0, 19.0, 20.0, 21.0, 23.0, 27.0)]
    assert all(loss is not None for loss in losses)
    assert losses == sorted(losses, reverse=True)  # type: ignore[type-var]
    assert len(set(losses)) == len(losses)


def test_a_small_difference_is_small() -> None:
    # continuous about the reference's speed: a tenth of a m/s is worth some hundredths and not the length of a row
    for difference in (0.001, 0.01, 0.1):
        gain = loss_from_speed(pulling(), 0.0, 400.0, 20.0 + difference)
        loss = loss_from_speed(pulling(), 0.0, 400.0, 20.0 - difference)
        assert gain is not None and loss is not None
        assert 0.0 < -gain < 0.25 * difference
        assert 0.0 < loss < 0.25 * difference


def test_a_speed_limit_gives_nothing_back() -> None:
    # At a top speed of 30 m/s the missing 1 m/s costs what it costs until it is made up, and nothing behind.
    near, far = (loss_from_speed(pulling(top=30.0), 0.0, end, 19.0) for end in (200.0, 350.0))
    assert near is not None and far is not None
    assert far == pytest.approx(near, abs=0.01)


def test_a_speed_that_never_comes_back() -> None:
    # 12 m/s on a straight of 20 m: still behind at its end; t = (sqrt(v^2 + 2 a L) - v) / a, both.
    def straight(v: float) -> float:
        return (math.sqrt(v * v + 2 * 4.0 * 20.0) - v) / 4.0

    assert loss_from_speed(pulling(), 0.0, 20.0, 12.0) == pytest.approx(straight(12.0) - straight(20.0), abs=0.01)


def test_a_reference_that_rolls_out_still_gives_a_bounded_answer() -> None:
    # Nothing pulls: the missing speed is taken to come back slowly, not never.
    rolling = stretch(20.0, 100.0, 20.0)
    loss = loss_from_speed(rolling, 0.0, 300.0, 18.0)
    assert loss is not None
    assert 0.0 < loss < 300.0 / 18.0 - 300.0 / 20.0 + 0.01
    back = (20.0**2 - 18.0**2) / (2 * LEAST_PULL)
    assert back < 300.0


@pytest.mark.parametrize(
    ("start", "end", "speed"),
    [
        (100.0, 100.0, 20.0),
        (100.0, 50.0, 20.0),
        (0.0, 400.0, 0.0),
        (0.0, 400.0, -3.0),
        (-10.0, 400.0, 20.0),
        (0.0, 9e9, 20.0),
    ],
)
def test_no_straight_no_answer(start: float, end: float, speed: float) -> None:
    assert loss_from_speed(pulling(), start, end, speed) is None


def test_without_the_references_speed_no_answer() -> None:
    assert loss_from_speed(stretch(20.0, 100.0, float("nan")), 0.0, 300.0, 20.0) is None
