"""The receive clock: the time of day, but never going back."""

from __future__ import annotations

import time
from collections.abc import Callable


def steady_wall_clock() -> Callable[[], float]:
    """A clock in s since 1970 that starts at the system's time and then runs with the performance counter.

    Setting the computer's clock during a session does not move it, and it is as fine as the system has.
    """
    start = time.time() - time.perf_counter()
    counter = time.perf_counter
    return lambda: start + counter()
