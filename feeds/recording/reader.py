"""Read a recording, or plain JSON lines of datagrams, back as what came and when."""

from __future__ import annotations

import json
import re
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from coach.vocabulary.errors import CornerwordError, FormatError, InputError, WorkError
from feeds.base import Datagram
from feeds.channels import LARGEST
from feeds.paths import on_one_line
from feeds.recording.lines import FORMAT, VERSION, EndLine, Item, item_of
from feeds.recording.split import LINE_LIMIT, lines_of
from feeds.recording.zipped import MAGIC, Hole, unzipped

_CHUNK = 64 * 1024
_LOOKED_AT = 100
_BOM = b"\xef\xbb\xbf"
_LEADING_T = re.compile(rb'\{\s*"t"\s*:\s*(-?\d{1,11}(?:\.\d{1,15})?)\s*[,}]')


class Recording:
    """What was recorded; iterate over it as often as wanted, without delays.

    Items are Datagram, ActionLine and EndLine in the order of the file. `received` of a datagram from plain JSON lines
    is its `t`, or that of the line before where it has none.
    """

    def __init__(self, path: Path, head: dict[str, Any] | None, is_recording: bool) -> None:
        self.path = path
        self.head = head
        """what was written at the top; None for plain JSON lines, and where the top of the file is damaged"""
        self.headless: str | None = None
        """one line that says what is lost, where the lines are a recording's but the top of the file is damaged"""
        if is_recording and head is None:
            self.headless = (
                f"the head of {on_one_line(path)} is lost, with it the reference, focus and feed it was recorded with; "
                "replaying the datagrams alone"
            )
        self.truncated: str | None = None
        """after iterating: one line that says what is missing, where the file is cut short, damaged or not closed"""
        self._is_recording = is_recording

    def __iter__(self) -> Iterator[Item]:
        self.truncated = None
        state = _Progress()
        try:
            with self.path.open("rb") as file:
                lines = lines_of(_pieces(file))
                yield from state.watch(_items(lines, state) if self._is_recording else _datagrams(lines, state))
        except OSError as error:
            raise _unreadable(self.path, error) from None
        self.truncated = state.notice(self.path, self._is_recording)


def open_recording(path: str | Path) -> Recording:
    """Open a `.cwrec`, `.jsonl` or `.jsonl.gz` file, told apart by what is in it.

    InputError where there is no such file or none that may be read, FormatError where it holds something else, a newer
    version, or not one whole line.
    """
    path = Path(path)
    _check(path)
    is_cut = False
    expected = "expected a .cwrec, or JSON lines (.jsonl, .jsonl.gz) with one datagram and its `t` a line"
    try:
        with path.open("rb") as file:
            for number, line in enumerate(lines_of(_beginning(_pieces(file)))):
                is_cut = number == 0 and isinstance(line, Hole) and line.cut
                found = None if isinstance(line, Hole) else _object(line)
                if found is not None and found.get("format") == FORMAT:
                    return Recording(path, _checked_head(path, found), is_recording=True)
                if found is not None and _time_of(found) is not None:
                    return Recording(path, None, is_recording=False)
                if found is not None and "received" in found:
                    return Recording(path, None, is_recording=True)
                if number >= _LOOKED_AT:
                    break
    except OSError as error:
        raise _unreadable(path, error) from None
    name = on_one_line(path)
    if is_cut:
        raise FormatError(f"{name} is cut short, before its first line ends: give another recording", "cut short")
    raise FormatError(f"{name} is not a recording: {expected}", "not a recording")


@dataclass(slots=True)
class _Progress:
    """How far reading got, and what was missing."""

    datagrams: int = 0
    first: float | None = None
    last: float = 0.0
    places: int = 0
    is_cut: bool = False
    has_end: bool = False

    def watch(self, items: Iterator[Item]) -> Iterator[Item]:
        for item in items:
            if self.first is None:
                self.first = item.received
            self.last = item.received
            if type(item) is Datagram:
                self.datagrams += 1
            elif type(item) is EndLine:
                self.has_end = True
            yield item

    def skip(self, hole: Hole) -> None:
        if hole.cut:
            self.is_cut = True
        else:
            self.places += 1

    def notice(self, path: Path, is_recording: bool) -> str | None:
        wrong = []
        if self.places:
            wrong.append(f"is damaged in {self.places} place{'s' if self.places > 1 else ''}, left out")
        if self.is_cut:
            wrong.append("is cut short")
        elif is_recording and not self.has_end:
            wrong.append("was not closed in good order")
        if not wrong:
            return None
        span = 0.0 if self.first is None else self.last - self.first
        return f"{on_one_line(path)} {' and '.join(wrong)}: {self.datagrams} datagrams over {span:.1f} s were read"


def _check(path: Path) -> None:
    name = on_one_line(path)
    try:
        found = path.stat()
    except FileNotFoundError:
        raise InputError(f"there is no file {name}: check the name") from None
    except PermissionError as error:
        raise _unreadable(path, error) from None
    except (OSError, ValueError) as error:
        raise InputError(f"cannot read {name}, {getattr(error, 'strerror', None) or error}: check the name") from None
    if stat.S_ISDIR(found.st_mode):
        raise InputError(f"{name} is a folder: give the recording in it")
    if not stat.S_ISREG(found.st_mode):
        raise InputError(f"{name} is no ordinary file: give a recording")
    if not found.st_size:
        raise FormatError(f"{name} is empty: give another recording", "not a recording")


def _unreadable(path: Path, error: OSError) -> CornerwordError:
    name = on_one_line(path)
    if isinstance(error, PermissionError):
        return InputError(f"{name} cannot be read: {error.strerror}; give a file that you may read")
    return WorkError(f"reading {name} failed, {error.strerror}: check the disk")


def _checked_head(path: Path, head: dict[str, Any]) -> dict[str, Any]:
    name, version = on_one_line(path), head.get("version")
    if type(version) is not int or version < 1:
        raise FormatError(f"{name} is not a recording: its head names no version", "not a recording")
    if version > VERSION:
        raise FormatError(
            f"{name} is a recording of version {version}, and this program reads up to {VERSION}: update it",
            "a newer version",
        )
    return head


def _pieces(file: BinaryIO) -> Iterator[bytes | Hole]:
    beginning = file.read(len(_BOM))
    if beginning.startswith(MAGIC):
        yield from unzipped(file)
        return
    yield beginning.removeprefix(_BOM)
    while piece := file.read(_CHUNK):
        yield piece


def _beginning(pieces: Iterable[bytes | Hole]) -> Iterator[bytes | Hole]:
    """Enough to hold the longest head."""
    left = LINE_LIMIT
    for piece in pieces:
        yield piece
        left -= 0 if isinstance(piece, Hole) else len(piece)
        if left <= 0:
            return


def _items(lines: Iterable[bytes | Hole], state: _Progress) -> Iterator[Item]:
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


def _datagrams(lines: Iterable[bytes | Hole], state: _Progress) -> Iterator[Item]:
    received = 0.0
    for line in lines:
        if isinstance(line, Hole):
            state.skip(line)
            continue
        leading = _LEADING_T.match(line)
        if leading is not None:
            received = float(leading[1])
        else:
            found = _object(line)
            time = None if found is None else _time_of(found)
            received = received if time is None else time
        yield Datagram(received, line)


def _object(line: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(str(line, "utf-8"))
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _time_of(found: dict[str, Any]) -> float | None:
    value: Any = found.get("t")
    if type(value) not in (float, int) or not -LARGEST <= value <= LARGEST:
        return None
    return float(value)
