"""Ending in good order: which signals ask for the end, and what a second one does."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator

import pytest

from coach.app.stop import Stop, stop_on_signals


@pytest.fixture(autouse=True)
def not_under_nohup() -> Iterator[None]:
    """These tests are of a terminal's hangup, which `nohup` would have ignored in what it starts."""
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)
    yield
    signal.signal(signal.SIGHUP, before)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_asks_and_the_handlers_are_put_back(number: signal.Signals) -> None:
    before = signal.getsignal(number)
    with stop_on_signals() as stop:
        assert not stop.asked
        os.kill(os.getpid(), number)
        assert stop.asked
    assert signal.getsignal(number) is before


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_asked_a_second_time_it_ends_at_once(number: signal.Signals) -> None:
    with stop_on_signals(), pytest.raises(KeyboardInterrupt):
        os.kill(os.getpid(), number)
        os.kill(os.getpid(), number)


def test_a_terminal_that_is_closed_may_say_so_twice() -> None:
    with stop_on_signals() as stop:
        os.kill(os.getpid(), signal.SIGHUP)
        os.kill(os.getpid(), signal.SIGHUP)
        assert stop.asked


def test_what_nohup_ignores_stays_ignored() -> None:
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with stop_on_signals() as stop:
            os.kill(os.getpid(), signal.SIGHUP)
            assert not stop.asked
    finally:
        signal.signal(signal.SIGHUP, before)


def test_one_ctrl_c_while_the_work_ends_by_itself_costs_nothing() -> None:
    with stop_on_signals() as stop:
        stop.asked = True  # there is no more to do
        os.kill(os.getpid(), signal.SIGINT)
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)


def test_outside_the_main_thread_nothing_is_heard() -> None:
    found: list[Stop] = []

    def run() -> None:
        with stop_on_signals() as stop:
            found.append(stop)

    before = signal.getsignal(signal.SIGINT)
    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    assert [stop.asked for stop in found] == [False]
    assert signal.getsignal(signal.SIGINT) is before
