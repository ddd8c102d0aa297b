"""What an instructor types: whole lines in any pieces, and never in the way of the end."""

from __future__ import annotations

import os
import sys
import threading

import pytest

from coach.app.following.instructor import Typed, help_lines
from coach.app.typed import standard_input
from coach.vocabulary.actions import INSTRUCTORS
from coach.vocabulary.faults import FAULTS


def test_lines_come_in_any_pieces_and_wrong_ones_are_answered() -> None:
    asked: list[str] = []
    told: list[str] = []
    typed = Typed(asked.append, told.append)
    for piece in (b"ma", b"rk\r\nnext\n\n  ", b"\ntopic late_throttle", b"\n\xff\xfe\n", b"x" * 2000, b"\nspeak\n"):
        typed.take(piece)
    assert asked == ["mark", "next_topic", "topic late_throttle", "speak"]
    assert [line.partition(":")[0] for line in told] == [
        "choose one of topic, next_topic, quiet, speak, mark, or help",
        "that line is too long",
    ]


def test_help_lists_every_action() -> None:
    told: list[str] = []
    Typed(pytest.fail, told.append).take(b"help\n")
    assert told == help_lines()
    *actions, faults = told
    assert [line.partition(":")[0].rpartition(" ")[2] for line in actions] == list(INSTRUCTORS)
    assert faults == f"the faults: {', '.join(FAULTS)}"


def test_it_reads_until_nobody_types_any_more() -> None:
    source, into = os.pipe()
    asked: list[str] = []
    assert Typed(asked.append, pytest.fail).start(source)
    os.write(into, b"mark\n")
    os.close(into)
    for thread in threading.enumerate():
        if thread.name == "typed":
            assert thread.daemon
            thread.join(5.0)
    os.close(source)
    assert asked == ["mark"]


def test_where_there_is_no_standard_input_nobody_can_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    assert standard_input() is None
    assert not Typed(pytest.fail, pytest.fail).start()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no jobs in the background")
def test_a_program_in_the_background_is_not_stopped_by_reading_the_terminal() -> None:
    """POSIX, General Terminal Interface, 11.1.4: a background process that reads its terminal gets SIGTTIN."""
    import pty

    leader, follower = pty.openpty()
    code = (
        "import os, sys, fcntl, termios\n"
        "os.setsid(); fcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"
        "from coach.app.typed import standard_input\n"
        "front = standard_input() is not None\n"
        "child = os.fork()\n"
        "if child == 0:\n"
        "    os.setpgid(0, 0); os._exit(0 if standard_input() is None else 1)\n"
        "os._exit(0 if front and os.waitpid(child, 0)[1] == 0 else 1)\n"
    )
    import subprocess

    done = subprocess.run([sys.executable, "-c", code], stdin=follower, timeout=60, check=False)
    os.close(leader)
    os.close(follower)
    assert done.returncode == 0
