"""What the sound device really did: JSON lines in a file of its own, never part of the event log."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO

from coach.vocabulary.errors import InputError

LARGEST = 4_000_000
"""bytes: some ten thousand cues. A file that has grown so far is begun anew at the next start."""

_OWN = b'{"what":"open"'
"""How a file of ours begins: each session begins with this line."""

_encode = json.JSONEncoder(separators=(",", ":")).encode


class Diagnostics:
    """Appends to a file, or to nothing for None. What goes wrong here is told once and costs only this file.

    Raises InputError for a file that holds something else: it may be dear to someone.
    """

    def __init__(self, path: Path | None, tell: Callable[[str], None]) -> None:
        self._path, self._tell = path, tell
        self._stream: TextIO | None = None
        self._left = LARGEST
        if path is not None:
            self._guarded(lambda: self._open(path))

    def write(self, **plain: Any) -> None:
        """One line; times rounded to a microsecond."""
        stream = self._stream
        if stream is None or self._left <= 0:
            return
        line = _encode({key: round(value, 6) if isinstance(value, float) else value for key, value in plain.items()})
        self._left -= len(line) + 1
        if self._left <= 0:
            line = _encode({"what": "full"})
        self._guarded(lambda: _put(stream, line))

    def close(self) -> None:
        """Close the file."""
        stream, self._stream = self._stream, None
        if stream is not None:
            self._guarded(stream.close)

    def _open(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_file() and not _is_ours(path):
            raise InputError(f"sound log: {path} is there already and is no sound log: name another file")
        written = path.stat().st_size if path.exists() else 0
        self._left = LARGEST - (written if written < LARGEST else 0)
        self._stream = path.open("a" if written < LARGEST else "w", encoding="utf-8", newline="\n")

    def _guarded(self, do: Callable[[], object]) -> None:
        try:
            do()
        except OSError as error:
            stream, self._stream = self._stream, None
            if stream is not None:
                with contextlib.suppress(OSError):  # what waits cannot be written either
                    stream.close()
            self._tell(f"voice: {self._path} cannot be written ({error.strerror or error}); going on without it")


def _is_ours(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(_OWN)) in (b"", _OWN)


def _put(stream: TextIO, line: str) -> None:
    stream.write(line + "\n")
    stream.flush()
