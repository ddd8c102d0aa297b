"""Pieces of text into lines, in bounded memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from feeds.recording.zipped import Hole

LINE_LIMIT = 16 * 1024 * 1024
"""Bytes: a longer line is a Hole. A head with its reference lap is under 1 MB, a datagram's line under 0.4 MB."""


def lines_of(pieces: Iterable[bytes | Hole]) -> Iterator[bytes | Hole]:
    """The lines without their ends, blank ones left out; after a cut the part of a line that was left is dropped."""
    parts: list[bytes] = []
    size = 0
    for piece in pieces:
        if isinstance(piece, Hole):
            parts, size = [], 0
            yield piece
            continue
        *ended, rest = piece.split(b"\n")
        for text in ended:
            parts.append(text)
            if size <= LINE_LIMIT and (line := b"".join(parts).strip()):
                yield line
            parts, size = [], 0
        if rest:
            is_first_excess = size <= LINE_LIMIT < size + len(rest)
            size += len(rest)
            if size <= LINE_LIMIT:
                parts.append(rest)
            elif is_first_excess:
                parts = []
                yield Hole(cut=False)
    if size <= LINE_LIMIT and (line := b"".join(parts).strip()):
        yield line
