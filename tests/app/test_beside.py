"""The work and the window beside each other."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable

import pytest

from coach.app.beside import SWITCH, beside
from coach.vocabulary.errors import WorkError


class Window:
    """Notes the thread it runs on; closes by itself after `lasts` s, if given."""

    def __init__(self, lasts: float | None = None) -> None:
        self.lasts = lasts
        self.thread: threading.Thread | None = None
        self.looks = 0

    def run(self, until: Callable[[], bool]) -> None:
        self.thread = threading.current_thread()
        began = time.monotonic()
        while not until() and (self.lasts is None or time.monotonic() - began < self.lasts):
            self.looks += 1
            time.sleep(0.002)


def test_without_a_window_the_work_stays_on_its_thread() -> None:
    assert beside(None, threading.current_thread) is threading.current_thread()


def test_the_window_has_the_first_thread_and_the_work_another() -> None:
    window = Window()

    def work() -> threading.Thread:
        time.sleep(0.05)
        assert sys.getswitchinterval() == pytest.approx(SWITCH)
        return threading.current_thread()

    assert beside(window, work) is not threading.current_thread()
    assert window.thread is threading.current_thread()
    assert window.looks > 3


def test_a_window_that_is_closed_does_not_end_the_work() -> None:
    assert beside(Window(lasts=0.0), lambda: time.sleep(0.05) or "done") == "done"


@pytest.mark.parametrize("error", [WorkError("no room"), KeyboardInterrupt(), ValueError("bug")])
def test_what_the_work_raises_is_raised(error: BaseException) -> None:
    def work() -> None:
        raise error

    before = sys.getswitchinterval()
    with pytest.raises(type(error)) as raised:
        beside(Window(), work)
    assert raised.value is error
    assert sys.getswitchinterval() == before
