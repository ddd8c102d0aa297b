"""What the sound device really did: JSON lines in a file of its own, never part of the event log."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO

LARGEST = 4_000_000
"""bytes: some ten thousand cues. A file that has grown so far is begun anew at the next start."""

_encode = json.JSONEncoder(separators=(",", ":")).encode


class Diagnostics:
    """Appends to a file, or to nothing for None. What goes wrong here is told once and costs only this file."""

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
        written = path.stat().st_size if path.exists() else 0
        self._left = LARGEST - (written if written < LARGEST else 0)
        self._stream = path.open("a" if written < LARGEST else "w", encoding="utf-8", newline="\n")

    def _guarded(self, do: Callable[[], object]) -> None:
        try:
            do()
        except OSError as error:
            self._stream = None
            self._tell(f"voice: {self._path} cannot be written ({error.strerror or error}); going on without it")


def _put(stream: TextIO, line: str) -> None:
    stream.write(line + "\n")
    stream.flush()
