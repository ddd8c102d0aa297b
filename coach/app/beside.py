"""A window beside the work: the window needs the process's first thread, so the work has one of its own."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future, wait
from typing import Protocol, TypeVar

SWITCH = 0.0005
"""s that one thread may hold the interpreter while the other waits: a drawn frame never holds up a datagram longer."""
LOOK = 0.1
"""s of waiting at a time: before Python 3.14, a wait for a thread on Windows hears no Ctrl-C until it ends
(github.com/python/cpython, issues 80116 and 125541), so each is short."""

Result = TypeVar("Result")


class Window(Protocol):
    """What is drawn while the work goes on."""

    def run(self, until: Callable[[], bool]) -> None:
        """Draw until `until` says so, or until the window is closed."""
        ...


def beside(window: Window | None, work: Callable[[], Result]) -> Result:
    """Do the work, with the window drawn meanwhile where there is one; returns what the work returns, or raises it.

    A window that closes or fails ends nothing but itself. A second Ctrl-C ends the wait at once.
    """
    if window is None:
        return work()
    done: Future[Result] = Future()

    def run() -> None:
        try:
            done.set_result(work())
        except BaseException as error:  # it belongs to the caller, whatever it is
            done.set_exception(error)

    before = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH)
    try:
        threading.Thread(target=run, name="session", daemon=True).start()
        window.run(done.done)
        while not done.done():
            wait([done], LOOK)
        return done.result()
    finally:
        sys.setswitchinterval(before)
