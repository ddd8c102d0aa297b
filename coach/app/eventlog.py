"""The event log: JSON Lines, one event a line."""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from time import monotonic
from typing import TextIO

from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Event, record

FLUSH = 0.5
"""s after which a written line is handed to the system: a kill loses no more."""

BUFFER = 1 << 20
"""bytes: more than is written between two flushes, so that what a kill leaves, and what another program reads
meanwhile, ends with a whole line."""

_OWN = b'{"type":"run"'
"""How an event log of ours begins: such a file may be written anew, for it can be made again."""

_encode = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode


class EventLog:
    """A sink that writes events to a file, or to standard output for `-`.

    What goes wrong here costs the log, never the session: it is told once by `say`, `gone` is set, and `failure` says
    why, unless it is only that the reader of standard output has left.
    """

    def __init__(self, target: str, say: Callable[[str], None]) -> None:
        self.target = "standard output" if target == "-" else target
        self.gone = False
        self.failure: str | None = None
        self._say = say
        self._own = target != "-"
        self._stream: TextIO = _open(Path(target)) if self._own else _standard_output()
        self._flushed = monotonic()

    def take(self, event: Event) -> None:
        """Write one event."""
        if self.gone:
            return
        try:
            self._stream.write(_encode(record(event)) + "\n")
        except (OSError, ValueError) as error:
            self._give_up(error)

    def tick(self) -> None:
        """Hand what was written to the system now and then; call it often."""
        now = monotonic()
        if now - self._flushed >= FLUSH and not self.gone:
            self._flushed = now
            try:
                self._stream.flush()
            except OSError as error:
                self._give_up(error)

    def close(self) -> None:
        """Flush, and close what was opened here."""
        try:
            if not self.gone:
                self._stream.flush()
            if self._own:
                self._stream.close()
        except OSError as error:
            self._give_up(error)

    def _give_up(self, error: Exception) -> None:
        if self.gone:
            return
        self.gone = True
        if self._own:
            with contextlib.suppress(OSError):  # what waits cannot be written either
                self._stream.close()
        if not self._own and isinstance(error, BrokenPipeError):
            silence_stdout()  # the reader has seen enough, as `head` does: no news to anyone
            return
        self.failure = f"event log: writing to {self.target} failed ({_reason(error)})"
        self._say(self.failure)


def silence_stdout() -> None:
    """Point a standard output whose reader has gone at nothing, or Python complains of it again as it ends."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, sys.stdout.fileno())
    except (OSError, ValueError):
        return  # no real file stands behind it: nothing will be flushed to it
    finally:
        os.close(nowhere)


def _is_ours(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(_OWN)) in (b"", _OWN)


def _standard_output() -> TextIO:
    if sys.stdout is None:
        raise InputError("--events -: standard output is closed: name a file")
    return sys.stdout


def _open(path: Path) -> TextIO:
    try:
        if path.is_file() and not _is_ours(path):
            raise InputError(f"--events: {path} is there already and is no event log: name another file")
        return path.open("w", encoding="utf-8", newline="\n", buffering=BUFFER)
    except OSError as error:
        message = f"--events: cannot write {path} ({_reason(error)}): name a file in a folder that can be written"
        raise InputError(message) from error


def _reason(error: Exception) -> str:
    return error.strerror if isinstance(error, OSError) and error.strerror else str(error)
