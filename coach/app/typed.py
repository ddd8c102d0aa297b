"""What is typed in the terminal while something else goes on: read in a thread of its own that nothing waits for.

It reads by the system's own call: a thread that is held in a read of Python's standard input, whose lock it has then,
would keep the program from ending.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from queue import SimpleQueue

LONGEST = 200
"""characters of a line that are kept; nothing here asks for more."""
_PIECE = 4096


def typed() -> SimpleQueue[str] | None:
    """The lines that are typed from now on, as they come; None where there is no terminal to type in."""
    source, lines = terminal(), SimpleQueue[str]()
    if source is None:
        return None
    rest = b""

    def take(data: bytes) -> None:
        nonlocal rest
        *whole, rest = (rest + data).split(b"\n")
        rest = rest[:LONGEST]
        for line in whole:
            lines.put(line[:LONGEST].decode(errors="replace").strip())

    read(source, take)
    return lines


def read(source: int, take: Callable[[bytes], None]) -> None:
    """Have `take` called, in that thread, with all that comes from the file descriptor, in any pieces."""

    def run() -> None:
        with suppress(OSError):  # the terminal was closed: nobody types there any more
            while data := os.read(source, _PIECE):
                take(data)

    threading.Thread(target=run, name="typed", daemon=True).start()


def terminal() -> int | None:
    """The file descriptor of standard input, where it is a terminal that may be read; None else."""
    source = standard_input()
    return source if source is not None and os.isatty(source) else None


def standard_input() -> int | None:
    """Its file descriptor; None where there is none, or where reading would stop a program in the background."""
    try:
        source = sys.stdin.fileno()
    except (AttributeError, OSError, ValueError):  # no standard input, or one that is closed
        return None
    return None if _stops_who_reads(source) else source


def _stops_who_reads(source: int) -> bool:
    """Whether it is the program's own terminal and another has it (POSIX, General Terminal Interface, 11.1.4)."""
    if sys.platform == "win32" or not os.isatty(source):
        return False
    try:
        return os.tcgetpgrp(source) != os.getpgrp()
    except OSError:  # not its own terminal
        return False
