"""Real time for recorded items, with a clock that the test holds."""

from __future__ import annotations

import math

import pytest

from coach.vocabulary.errors import InputError
from feeds.base import Datagram
from feeds.pacing import paced


class Clock:
    """Stands still but for `sleep`, which oversleeps."""

    def __init__(self, late: float = 0.0) -> None:
        self.now = 50.0
        self.late = late

    def __call__(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        assert seconds > 0.0
        self.now += seconds + self.late


def moments(times: list[float], clock: Clock, speed: float = 1.0, work: float = 0.0) -> list[float]:
    out = []
    for _ in paced([Datagram(time, b"") for time in times], speed, clock, clock.sleep):
        out.append(clock.now - 50.0)
        clock.now += work
    return out


def test_items_come_at_their_times_and_the_first_at_once() -> None:
    assert moments([1000.0, 1000.5, 1001.25], Clock()) == [0.0, 0.5, 1.25]


def test_speed_divides_the_waits() -> None:
    assert moments([0.0, 1.0, 3.0], Clock(), speed=4.0) == [0.0, 0.25, 0.75]


def test_oversleeping_does_not_add_up() -> None:
    out = moments([index / 64 for index in range(641)], Clock(late=0.003))
    assert max(moment - index / 64 for index, moment in enumerate(out)) <= 0.003 + 1e-9


def test_a_slow_caller_is_caught_up_with() -> None:
    out = moments([index / 64 for index in range(641)], Clock(), work=1 / 128)
    assert out[-1] == pytest.approx(10.0)


def test_long_silences_are_cut_and_times_that_go_back_are_no_wait() -> None:
    assert moments([0.0, 3600.0, 3601.0, 5.0, 6.0], Clock()) == [0.0, 2.0, 3.0, 3.0, 4.0]


@pytest.mark.parametrize("speed", [0.0, -1.0, math.nan, math.inf])
def test_a_speed_that_is_none_is_refused_before_anything_is_read(speed: float) -> None:
    with pytest.raises(InputError, match="give a number above 0"):
        paced([], speed)
