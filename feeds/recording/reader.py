"""Read a recording, or plain JSON lines of datagrams, back as what came and when."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, BinaryIO

from coach.vocabulary.errors import CornerwordError, FormatError, InputError, WorkError
from feeds.base import Datagram
from feeds.channels import LARGEST
from feeds.paths import on_one_line
from feeds.recording.lines import EndLine, Item, item_of
from feeds.recording.split import lines_of
from feeds.recording.zipped import MAGIC, Hole, unzipped

_CHUNK = 64 * 1024
_MOST_PLACES = 100
_BOM = b"\xef\xbb\xbf"
_LEADING_T = re.compile(rb'\{\s*"t"\s*:\s*(-?\d{1,11}(?:\.\d{1,15})?)\s*[,}]')


@dataclass(frozen=True, slots=True)
class Damage:
    """A place where something is missing: behind the line of `after` and before that of `before`, s received; None at
    the file's beginning and its end. `cut`: the file ends there."""

    after: float | None
    before: float | None
    cut: bool


class Recording:
    """What was recorded; iterate over it as often as wanted, without delays.

    Items are Datagram, ActionLine, RecalledLine, SilenceLine and EndLine in the order of the file. `received` of a
    datagram from plain JSON lines is its `t`, or that of the line before where it has none.
    """

    def __init__(self, path: Path, head: dict[str, Any] | None, is_recording: bool) -> None:
        self.path = path
        self.head = head
        """what was written at the top; None for a file that has no head, and where the top of it is damaged"""
        self.headless: str | None = None
        """one line that says what is lost, where the lines are a recording's but the top of the file is damaged, and
        what is read of a capture"""
        if is_recording and head is None:
            self.headless = (
                f"the head of {on_one_line(path)} is lost, with it the reference, focus and feed it was recorded with; "
                "replaying the datagrams alone"
            )
        self.is_recording = is_recording
        """whether its lines are a recording's, which ends with a line that says so"""
        self.truncated: str | None = None
        """after iterating: one line that says what is missing, where the file is cut short, damaged or not closed"""
        self.damage: list[Damage] = []
        """after iterating: the first places where something is missing"""
        self.left_out: dict[str, int] = {}
        """after iterating: datagrams of a capture that were not there to be read, by cause"""
        self.is_closed = True
        """after iterating: whether a recording was closed in good order; True for files that say nothing of it"""
        self._reading: BinaryIO | None = None

    @property
    def share(self) -> float:
        """While iterating: how much of the file has been read, 0 to 1; else 0."""
        file = self._reading
        if file is None or file.closed:
            return 0.0
        return file.tell() / max(os.fstat(file.fileno()).st_size, 1)

    def __iter__(self) -> Iterator[Item]:
        state = Progress()
        try:
            with self.path.open("rb") as file:
                self._reading = file
                lines = lines_of(pieces_of(file))
                yield from state.watch(_items(lines, state) if self.is_recording else _datagrams(lines, state))
        except OSError as error:
            raise unreadable(self.path, error) from None
        self._note(state)

    def _note(self, state: Progress) -> None:
        self.damage, self.left_out = state.damage, state.left_out
        self.is_closed = state.has_end or not self.is_recording
        self.truncated = state.notice(self.path, self.is_recording)


@dataclass(slots=True)
class Progress:
    """How far one reading got, and what was missing."""

    datagrams: int = 0
    first: float | None = None
    last: float = 0.0
    places: int = 0
    is_cut: bool = False
    has_end: bool = False
    damage: list[Damage] = field(default_factory=list)
    waiting: int = 0
    """places at the end of `damage` of which it is not known yet what comes behind them"""

    left_out: dict[str, int] = field(default_factory=dict)

    def watch(self, items: Iterator[Item]) -> Iterator[Item]:
        """Hand the items on and keep count of them."""
        for item in items:
            if self.first is None:
                self.first = item.received
            if self.waiting:
                self._close(item.received)
            self.last = item.received
            if type(item) is Datagram:
                self.datagrams += 1
            elif type(item) is EndLine:
                self.has_end = True
            yield item

    def skip(self, hole: Hole) -> None:
        """Something is missing here."""
        if hole.cut:
            self.is_cut = True
        else:
            self.places += 1
        if len(self.damage) < _MOST_PLACES:
            self.damage.append(Damage(None if self.first is None else self.last, None, hole.cut))
            self.waiting += 1

    def _close(self, before: float) -> None:
        for number in range(len(self.damage) - self.waiting, len(self.damage)):
            self.damage[number] = replace(self.damage[number], before=before)
        self.waiting = 0

    def notice(self, path: Path, is_recording: bool) -> str | None:
        """One line that says what was missing, None where nothing was."""
        wrong = []
        if self.places:
            wrong.append(f"is damaged in {self.places} place{'s' if self.places > 1 else ''}, left out")
        if self.is_cut:
            wrong.append("is cut short")
        elif is_recording and not self.has_end:
            wrong.append("was not closed in good order")
        if self.left_out:
            causes = ", ".join(f"{number} {cause}" for cause, number in self.left_out.items())
            wrong.append(f"has datagrams that were left out ({causes})")
        if not wrong:
            return None
        span = 0.0 if self.first is None else self.last - self.first
        return f"{on_one_line(path)} {' and '.join(wrong)}: {self.datagrams} datagrams over {span:.1f} s were read"


def unreadable(path: Path, error: OSError) -> CornerwordError:
    """What a person is told where the system refused to read."""
    name = on_one_line(path)
    if isinstance(error, PermissionError):
        return InputError(f"{name} cannot be read: {error.strerror}; give a file that you may read")
    return WorkError(f"reading {name} failed, {error.strerror}: check the disk")


def pieces_of(file: BinaryIO) -> Iterator[bytes | Hole]:
    """The text of a file, unzipped where it is gzip, with a Hole wherever something is missing."""
    beginning = file.read(len(_BOM))
    if beginning.startswith((MAGIC, b"\0")):  # no text begins with a zero; a recording does whose top was never written
        yield from unzipped(file)
        return
    yield beginning.removeprefix(_BOM)
    while piece := file.read(_CHUNK):
        yield piece


def _items(lines: Iterable[bytes | Hole], state: Progress) -> Iterator[Item]:
    for line in lines:
        if isinstance(line, Hole):
            state.skip(line)
            continue
        try:
            item = item_of(line)
        except FormatError:
            state.skip(Hole(cut=False))
            continue
        if item is not None:
            yield item


def _datagrams(lines: Iterable[bytes | Hole], state: Progress) -> Iterator[Item]:
    received = 0.0
    for line in lines:
        if isinstance(line, Hole):
            state.skip(line)
            continue
        leading = _LEADING_T.match(line)
        if leading is not None:
            received = float(leading[1])
        else:
            found = object_in(line)
            time = None if found is None else time_in(found)
            received = received if time is None else time
        yield Datagram(received, line)


def object_in(line: bytes) -> dict[str, Any] | None:
    """The JSON object in a line, None where there is none."""
    try:
        found = json.loads(str(line, "utf-8"))
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def time_in(found: dict[str, Any]) -> float | None:
    """The `t` of a generic datagram, s; None where it has none that is a time."""
    value: Any = found.get("t")
    if type(value) not in (float, int) or not -LARGEST <= value <= LARGEST:
        return None
    return float(value)
