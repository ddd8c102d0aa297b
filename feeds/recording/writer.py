"""Write a recording while it happens."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any

from coach.vocabulary.actions import DRIVER
from coach.vocabulary.errors import InputError, WorkError
from feeds.paths import on_one_line
from feeds.recording.lines import action_line, datagram_line, end_line, head_line, recalled_line, silence_line
from feeds.recording.zipped import Member

FLUSH_EVERY = 0.9
"""s of receive time in a gzip member: with the wait for the next datagram or tick, a kill loses less than a second."""

_LARGEST_MEMBER = 4 * 1024 * 1024


class RecordingWriter:
    """Appends to a new `*.cwrec` file; reads no clock, so that the same calls give the same bytes.

    When the disk fails, the call that notices raises WorkError, once; what was written stays readable, `is_open` turns
    false, and further calls do nothing, so that the session goes on without its recording.
    """

    def __init__(self, path: str | Path, head: Mapping[str, Any]) -> None:
        """Create the file and write its head. InputError where the file exists already or cannot be made."""
        self.path = Path(path)
        name, folder = on_one_line(self.path), on_one_line(self.path.parent)
        top = head_line(head)
        self._size = 0
        self._member = Member()
        self._since = self._last = 0.0
        try:
            self._file = open(self.path, "xb", buffering=0)  # noqa: SIM115 - it is closed by close()
        except FileExistsError:
            raise InputError(f"{name} exists already: choose another name, or move it away") from None
        except FileNotFoundError:
            raise InputError(f"cannot record to {name}: there is no folder {folder}, make it") from None
        except (OSError, ValueError) as error:
            raise InputError(f"cannot record to {name}, {_reason(error)}: choose another place") from None
        self._member.add(top)
        self._flush()

    @property
    def is_open(self) -> bool:
        """Whether it still records."""
        return not self._file.closed

    def datagram(self, received: float, data: bytes) -> None:
        """Record a datagram as it came; `received` s."""
        if self.is_open:
            self._put(received, datagram_line(received, data))

    def action(self, received: float, action: str, by: str = DRIVER) -> None:
        """Record what the driver or an instructor pressed."""
        if self.is_open:
            self._put(received, action_line(received, action, by))

    def recalled(self, received: float, recalled: Mapping[str, Any]) -> None:
        """Record what the memory knew, at its place between the datagrams."""
        if self.is_open:
            self._put(received, recalled_line(received, recalled))

    def silence(self, received: float) -> None:
        """Record that the stream was called lost at `received` s, so that a replay calls it so at the same place."""
        if self.is_open:
            self._put(received, silence_line(received))

    def tick(self, now: float) -> None:
        """Call now and then while nothing comes, so that what waits gets to the disk; `now` on the same clock."""
        if self.is_open and self._member.size and not 0.0 <= now - self._since < FLUSH_EVERY:
            self._flush()

    def close(self, received: float | None = None) -> None:
        """Write the end (at the last receive time if none is given) and close; may be called again."""
        if self.is_open:
            self._member.add(end_line(self._last if received is None else received))
            self._flush()
            self._file.close()

    def __enter__(self) -> RecordingWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.close()
        elif self.is_open:  # no good order: what there is, and no end line
            with contextlib.suppress(WorkError):
                self._flush()
            self._file.close()

    def _put(self, received: float, line: bytes) -> None:
        self.tick(received)
        if not self._member.size:
            self._since = received
        self._last = received
        self._member.add(line)
        if self._member.size >= _LARGEST_MEMBER:
            self._flush()

    def _flush(self) -> None:
        """Write the member that waits, whole or not at all."""
        rest = memoryview(self._member.finish())
        self._member = Member()
        end = self._size + len(rest)
        try:
            while rest:
                rest = rest[self._file.write(rest) or 0 :]
        except OSError as error:
            with contextlib.suppress(OSError):  # the reader copes with half a member too
                os.ftruncate(self._file.fileno(), self._size)
            self._file.close()
            raise WorkError(
                f"the recording {on_one_line(self.path)} stops here, {_reason(error)}: "
                "make room on the disk before the next one"
            ) from None
        self._size = end


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
