"""Real time for anything that was read from a file."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from math import isfinite
from typing import Protocol, TypeVar

from coach.vocabulary.errors import InputError

LONGEST_SILENCE = 2.0
"""s of recorded time: a longer silence is cut to this."""


class Received(Protocol):
    """Anything with a receive time (s)."""

    @property
    def received(self) -> float: ...


Item = TypeVar("Item", bound=Received)


def paced(
    items: Iterable[Item],
    speed: float = 1.0,
    clock: Callable[[], float] = time.perf_counter,
    sleep: Callable[[float], None] = time.sleep,
) -> Iterator[Item]:
    """Give out `items` at the times of their `received`, `speed` times as fast; the first at once.

    Each moment is counted from the start, so that errors of `sleep` do not add up, and a slow caller is caught up
    with. A time that goes back is no wait. InputError unless `speed` is a number above 0.
    """
    if not (isfinite(speed) and speed > 0.0):
        raise InputError(f"cannot replay at {speed} times the speed: give a number above 0")
    return _paced(items, speed, clock, sleep)


def _paced(
    items: Iterable[Item], speed: float, clock: Callable[[], float], sleep: Callable[[float], None]
) -> Iterator[Item]:
    start: float | None = None
    before = due = 0.0
    for item in items:
        if start is None:
            start, before = clock(), item.received
        due += min(max(item.received - before, 0.0), LONGEST_SILENCE) / speed
        before = item.received
        wait = start + due - clock()
        if wait > 0.0:
            sleep(wait)
        yield item
