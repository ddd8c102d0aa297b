"""Open a file by what is in it."""

from __future__ import annotations

import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from coach.vocabulary.errors import FormatError, InputError
from feeds.capture import is_capture
from feeds.paths import on_one_line
from feeds.recording.captured import CapturedRecording
from feeds.recording.lines import FORMAT, VERSION
from feeds.recording.reader import Recording, object_in, pieces_of, time_in, unreadable
from feeds.recording.split import LINE_LIMIT, lines_of
from feeds.recording.zipped import Hole

_LOOKED_AT = 100


def open_recording(path: str | Path, port: int | None = None) -> Recording:
    """Open a `.cwrec`, `.jsonl`, `.jsonl.gz`, `.pcap` or `.pcapng` file, told apart by what is in it.

    `port`: of a capture, where the datagrams went that are meant; None is the busiest. InputError where there is no
    such file or none that may be read, FormatError where it holds something else, a newer version, or not one whole
    line.
    """
    path = Path(path)
    _check(path)
    if _begins_as_capture(path):
        return CapturedRecording(path, port)
    is_cut = False
    expected = (
        "expected a .cwrec, JSON lines (.jsonl, .jsonl.gz) with one datagram and its `t` a line, or a packet capture "
        "(.pcap, .pcapng)"
    )
    try:
        with path.open("rb") as file:
            for number, line in enumerate(lines_of(_beginning(pieces_of(file)))):
                is_cut = number == 0 and isinstance(line, Hole) and line.cut
                found = None if isinstance(line, Hole) else object_in(line)
                if found is not None and found.get("format") == FORMAT:
                    return Recording(path, _checked_head(path, found), is_recording=True)
                if found is not None and time_in(found) is not None:
                    return Recording(path, None, is_recording=False)
                if found is not None and "received" in found:
                    return Recording(path, None, is_recording=True)
                if number >= _LOOKED_AT:
                    break
    except OSError as error:
        raise unreadable(path, error) from None
    name = on_one_line(path)
    if is_cut:
        raise FormatError(f"{name} is cut short, before its first line ends: give another recording", "cut short")
    raise FormatError(f"{name} is not a recording: {expected}", "not a recording")


def _check(path: Path) -> None:
    name = on_one_line(path)
    try:
        found = path.stat()
    except FileNotFoundError:
        raise InputError(f"there is no file {name}: check the name") from None
    except PermissionError as error:
        raise unreadable(path, error) from None
    except (OSError, ValueError) as error:
        raise InputError(f"cannot read {name}, {getattr(error, 'strerror', None) or error}: check the name") from None
    if stat.S_ISDIR(found.st_mode):
        raise InputError(f"{name} is a folder: give the recording in it")
    if not stat.S_ISREG(found.st_mode):
        raise InputError(f"{name} is no ordinary file: give a recording")
    if not found.st_size:
        raise FormatError(f"{name} is empty: give another recording", "not a recording")


def _begins_as_capture(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return is_capture(file.read(4))
    except OSError as error:
        raise unreadable(path, error) from None


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


def _beginning(pieces: Iterable[bytes | Hole]) -> Iterator[bytes | Hole]:
    """Enough to hold the longest head."""
    left = LINE_LIMIT
    for piece in pieces:
        yield piece
        left -= 0 if isinstance(piece, Hole) else len(piece)
        if left <= 0:
            return
