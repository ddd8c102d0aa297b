"""The work and the window beside each other."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType

import pytest

import coach.app.beside as module
from coach.app.beside import LOOK, SWITCH, beside
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


def test_no_wait_for_the_work_is_longer_than_a_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows a Ctrl-C is heard between two waits only (github.com/python/cpython, issue 80116)."""
    waits: list[float | None] = []
    real = module.wait

    def noted(futures: object, timeout: float | None = None) -> object:
        waits.append(timeout)
        return real(futures, timeout)

    monkeypatch.setattr(module, "wait", noted)
    assert beside(Window(lasts=0.0), lambda: time.sleep(2.5 * LOOK) or "done") == "done"
    assert waits == [LOOK] * 3
    assert LOOK <= 0.25


def test_a_second_ctrl_c_ends_the_wait_at_once() -> None:
    """The work hangs and its window is closed: the signal's KeyboardInterrupt comes out.

    The signal is raised in another thread, so it wakes no wait of this one: as on Windows.
    """
    hangs, interval = threading.Event(), sys.getswitchinterval()

    def on_signal(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, on_signal)
    press = threading.Timer(0.05, signal.raise_signal, [signal.SIGINT])
    press.start()
    try:
        began = time.monotonic()
        with pytest.raises(KeyboardInterrupt):
            beside(Window(lasts=0.0), lambda: hangs.wait(20.0))
        assert time.monotonic() - began < 5.0
    finally:
        hangs.set()
        press.join()
        signal.signal(signal.SIGINT, before)
        for thread in threading.enumerate():
            if thread.name == "session":
                thread.join()
    assert sys.getswitchinterval() == interval
