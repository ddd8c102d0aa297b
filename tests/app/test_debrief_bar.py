"""The progress bar: on a terminal only, late, one line, gone at the end. The terminal is the system's own pty."""

from __future__ import annotations

import fcntl
import io
import os
import pty
import select
import struct
import termios
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TextIO

import pytest

from coach.app.console import Console
from coach.app.telling.progressbar import AFTER, EVERY, WIDTH, ProgressBar

SETTLED = 0.05
"""s without another piece, after which all that was written has come through"""
ERASED = "\r\x1b[K"
"""ECMA-48: carriage return, and ERASE IN LINE to its end."""


class Clock:
    """Goes on when it is told to."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def read_all(master: int) -> str:
    """What was written to a pty so far."""
    os.set_blocking(master, False)
    pieces = []
    until = time.monotonic() + 10.0
    while time.monotonic() < until:
        try:
            pieces.append(os.read(master, 4096))
        except BlockingIOError:
            if select.select([master], [], [], SETTLED)[0]:
                continue
            break
    return b"".join(pieces).decode()


@dataclass
class Terminal:
    master: int
    stream: TextIO

    def shown(self) -> str:
        """All that came since it was last asked: the system hands it over in pieces."""
        return read_all(self.master)


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    master, slave = pty.openpty()
    with open(slave, "w", encoding="utf-8") as stream:
        yield Terminal(master, stream)
    os.close(master)


def test_what_takes_less_than_a_second_shows_nothing(terminal: Terminal) -> None:
    clock = Clock()
    with ProgressBar("reading", terminal.stream, clock) as bar:
        for share in (0.0, 0.5, 1.0):
            clock.now += AFTER / 4
            bar.at(share)
    assert terminal.shown() == ""


def test_it_is_one_line_that_is_gone_at_the_end(terminal: Terminal) -> None:
    clock = Clock()
    with ProgressBar("reading a.cwrec", terminal.stream, clock) as bar:
        clock.now += AFTER
        bar.at(0.5)
        assert terminal.shown() == f"{ERASED}[###############...............]  50 %  reading a.cwrec"
        bar.at(0.6)
        assert terminal.shown() == "", "not again so soon"
        clock.now += EVERY
        bar.at(7.0)
        assert terminal.shown() == f"{ERASED}[##############################] 100 %  reading a.cwrec"
    assert terminal.shown() == ERASED


def test_a_line_that_is_said_meanwhile_stands_above_it(terminal: Terminal) -> None:
    clock = Clock()
    with ProgressBar("reading", terminal.stream, clock) as bar:
        console = bar.above(Console(terminal.stream))
        console.say("early")
        clock.now += AFTER
        bar.at(0.1)
        console.say("a word")
        clock.now += EVERY
        bar.at(0.2)
    shown = terminal.shown()
    assert shown.startswith("early\r\n" + ERASED + "[###...")
    assert f"{ERASED}a word\r\n{ERASED}[######" in shown
    assert shown.endswith(ERASED)


def test_it_is_gone_where_the_work_fails(terminal: Terminal) -> None:
    clock = Clock()
    with pytest.raises(KeyboardInterrupt), ProgressBar("reading", terminal.stream, clock) as bar:
        clock.now += AFTER
        bar.at(0.5)
        raise KeyboardInterrupt
    assert terminal.shown().endswith(ERASED)


def test_a_pipe_and_a_closed_output_get_nothing() -> None:
    clock = Clock()
    out, closed = io.StringIO(), io.StringIO()
    closed.close()
    for stream in (out, closed):
        with ProgressBar("reading", stream, clock) as bar:
            clock.now += AFTER
            bar.at(0.5)
    assert out.getvalue() == ""


def test_a_terminal_that_goes_away_ends_nothing(terminal: Terminal) -> None:
    clock = Clock()
    with ProgressBar("reading", terminal.stream, clock) as bar:
        terminal.stream.close()
        for share in (0.5, 0.6):
            clock.now += AFTER
            bar.at(share)


def test_it_stays_within_the_columns(terminal: Terminal) -> None:
    clock = Clock()
    with ProgressBar("x" * 300, terminal.stream, clock) as bar:
        clock.now += AFTER
        bar.at(0.5)
        assert len(terminal.shown().removeprefix(ERASED)) == WIDTH


def test_a_narrow_terminal_has_a_narrower_line(terminal: Terminal) -> None:
    """A line that breaks would leave what is above the break."""
    clock = Clock()
    with ProgressBar("reading", terminal.stream, clock) as bar:
        for columns in (20, 40, 12):
            fcntl.ioctl(terminal.stream, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
            clock.now += 2.0
            bar.at(0.5)
            assert len(terminal.shown().removeprefix(ERASED)) == min(columns - 1, 48)


def test_items_are_handed_through(terminal: Terminal) -> None:
    clock = Clock()
    with ProgressBar("reading", terminal.stream, clock) as bar:
        seen = []
        for item in bar.over("abcd", 4):
            clock.now += AFTER
            seen.append(item)
    assert seen == list("abcd")
    assert [part[:38].split("]")[1].strip() for part in terminal.shown().split(ERASED)[1:-1]] == [
        "25 %",
        "50 %",
        "75 %",
    ]
