"""Ending in good order: Ctrl-C, SIGTERM or a terminal that is closed ask once, and the work ends at its next step."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

_ASKS = (signal.SIGINT, signal.SIGTERM)
_SLICE = 0.1
"""s of sleep between two looks at whether to stop."""


class Stop:
    """`asked` turns True when the person or the system asks for the end, or when there is no more to do."""

    def __init__(self) -> None:
        self.asked = False
        self._heard = False

    def sleep(self, seconds: float) -> None:
        """Sleep, but not much past the moment when the end is asked for."""
        until = time.perf_counter() + seconds
        while not self.asked and (left := until - time.perf_counter()) > 0:
            time.sleep(min(left, _SLICE))

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        if self._heard and number in _ASKS:
            raise KeyboardInterrupt
        self._heard = self.asked = True


@contextmanager
def stop_on_signals() -> Iterator[Stop]:
    """A Stop that hears Ctrl-C, SIGTERM and SIGHUP; asked a second time, it raises KeyboardInterrupt.

    A terminal that is closed may send its SIGHUP twice, so that one does not count as the second time; one that is
    ignored stays so, as `nohup` wants it. Outside the main thread no signal can be heard, and it stays as it is.
    """
    stop = Stop()
    if threading.current_thread() is not threading.main_thread():
        yield stop
        return
    before = {number: signal.signal(number, stop._on_signal) for number in _heard()}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _heard() -> list[signal.Signals]:
    numbers = list(_ASKS)
    if sys.platform != "win32" and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        numbers.append(signal.SIGHUP)
    return numbers
