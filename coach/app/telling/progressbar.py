"""How far a long piece of work is: one line on a terminal, gone when it is over.

It is our own: a library would be one more package to install for one line, and our messages would have to go through
it to stand above the bar.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from types import TracebackType
from typing import Self, TextIO, TypeVar

from coach.app.console import Console

AFTER = 1.0
"""s of work before there is anything to see: what takes less needs no bar"""
EVERY = 0.1
"""s between two looks of it (choice): smooth to the eye, and no load for a terminal far away"""
EACH = 100
"""lines of a recording between two looks at how much of it was read"""
CELLS = 30
WIDTH = 79
"""columns at most; the last one of a terminal is left free, or the line would break"""
_CLEAR = "\r\x1b[K"
Item = TypeVar("Item")


class ProgressBar:
    """A context manager; `at` is told how far the work is. Draws only where standard error is a terminal, and never
    fails: a terminal that is gone is drawn on no more."""

    def __init__(self, what: str, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._what = what
        self._stream = sys.stderr if stream is None else stream
        self._clock = clock
        self._next = clock() + AFTER
        self._drawn = False
        self._on = _is_terminal(self._stream)

    def at(self, share: float) -> None:
        """`share` of the work, 0 to 1, is done."""
        if not self._on or self._clock() < self._next:
            return
        self._next = self._clock() + EVERY
        share = min(max(share, 0.0), 1.0)
        self._drawn = True
        line = f"[{'#' * int(share * CELLS):.<{CELLS}}] {int(share * 100):3d} %  {self._what}"
        self._write(_CLEAR + line[: self._width()])

    def over(self, items: Iterable[Item], number: int) -> Iterator[Item]:
        """The items, one share each."""
        for done, item in enumerate(items):
            self.at(done / max(number, 1))
            yield item

    def above(self, console: Console) -> Console:
        """The console, with the bar out of the way of what it says."""
        return _Above(console, self)

    def clear(self) -> None:
        """Take the line away until it is drawn again."""
        if self._drawn:
            self._drawn = False
            self._write(_CLEAR)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.clear()

    def _width(self) -> int:
        """As wide as the terminal is now: a line that breaks is not wiped whole."""
        try:
            columns = os.get_terminal_size(self._stream.fileno()).columns
        except (OSError, ValueError):
            return WIDTH
        return min(WIDTH, columns - 1) if columns > 1 else WIDTH

    def _write(self, text: str) -> None:
        if self._on:
            self._on = False
            with suppress(OSError, ValueError):
                self._stream.write(text)
                self._stream.flush()
                self._on = True


class _Above(Console):
    def __init__(self, console: Console, bar: ProgressBar) -> None:
        super().__init__()
        self._console, self._bar = console, bar

    def say(self, line: str) -> None:
        """Print one line."""
        self._bar.clear()
        self._console.say(line)


def _is_terminal(stream: TextIO | None) -> bool:
    try:
        return stream is not None and stream.isatty()
    except ValueError:  # closed
        return False
