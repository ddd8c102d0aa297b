"""Gzip in members: one a second when written; whatever is whole when read."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

MAGIC = b"\x1f\x8b"

MEMBER_HEAD = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"
"""RFC 1952 section 2.3: deflate, no flags, no time (so the same input gives the same bytes), unknown system."""

_LEVEL = 4
_CHUNK = 4096
"""Bytes unzipped at once: deflate grows them to 4.2 MB at the most, so that no file can fill the memory."""

_HELD = 16 * 1024 * 1024
_MOST_HOLES = 100


class Member:
    """One gzip member in the making; the work of compressing is spread over the calls of `add`."""

    def __init__(self) -> None:
        self.size = 0
        """bytes added so far"""
        self._deflate = zlib.compressobj(_LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
        self._parts = [MEMBER_HEAD]
        self._check = 0

    def add(self, text: bytes) -> None:
        """Append to what the member will hold."""
        self._parts.append(self._deflate.compress(text))
        self._check = zlib.crc32(text, self._check)
        self.size += len(text)

    def finish(self) -> bytes:
        """The whole member."""
        tail = self._check.to_bytes(4, "little") + (self.size & 0xFFFFFFFF).to_bytes(4, "little")
        return b"".join((*self._parts, self._deflate.flush(), tail))


@dataclass(frozen=True, slots=True)
class Hole:
    """Bytes that could not be unzipped. What follows starts with a new line; nothing follows a `cut`."""

    cut: bool


def unzipped(file: BinaryIO) -> Iterator[bytes | Hole]:
    """The text of a gzip file in pieces, with a Hole wherever something is missing.

    A member of ours is held back until its check sum is found right, so that no damaged second is taken for a good
    one; behind damage the next one is sought by its head. Members of other programs may be as long as the file: they
    are given out as they come, up to the damage. A member without an end is given out as far as it goes.
    """
    place: int | None = 0
    holes = 0
    while place is not None:
        file.seek(place)
        head = file.read(len(MEMBER_HEAD))
        if not head:
            return
        if not head.strip(b"\0"):  # the padding that some tools leave, or a part of the disk that was never written
            place = _find(file, MEMBER_HEAD, place)
            if place is not None:
                holes += 1
                yield Hole(cut=False)
            continue
        member = _Inflated(file, place)
        is_ours = head == MEMBER_HEAD
        held: list[bytes] = []
        size = 0
        for piece in member:
            held.append(piece)
            size += len(piece)
            if not is_ours or size > _HELD:
                yield from held
                held.clear()
        if member.is_whole:
            yield from held
            place = member.end
            continue
        place = _find(file, MEMBER_HEAD, place + 1)
        if member.is_cut and place is None:
            yield from held
        holes += 1
        if holes >= _MOST_HOLES:
            place = None
        yield Hole(cut=member.is_cut and place is None)


class _Inflated:
    """The pieces of the member that begins at `place`; afterwards, how it ended."""

    def __init__(self, file: BinaryIO, place: int) -> None:
        self.is_whole = False
        self.is_cut = False
        self.end = place
        self._file = file

    def __iter__(self) -> Iterator[bytes]:
        self._file.seek(self.end)
        inflate = zlib.decompressobj(zlib.MAX_WBITS | 16)
        while not inflate.eof:
            chunk = self._file.read(_CHUNK)
            if not chunk:
                self.is_cut = True
                return
            before = inflate.copy()
            try:
                piece = inflate.decompress(chunk)
            except zlib.error:
                yield from _up_to_the_damage(before, chunk)
                return
            if piece:
                yield piece
        self.is_whole = True
        self.end = self._file.tell() - len(inflate.unused_data)


def _up_to_the_damage(inflate: zlib._Decompress, chunk: bytes) -> Iterator[bytes]:
    """What a failed call had already unzipped: the same again, byte by byte."""
    for index in range(len(chunk)):
        try:
            piece = inflate.decompress(chunk[index : index + 1])
        except zlib.error:
            return
        if piece:
            yield piece


def _find(file: BinaryIO, what: bytes, place: int) -> int | None:
    """Where `what` next begins at or after `place`."""
    file.seek(place)
    window = b""
    while chunk := file.read(_CHUNK):
        window += chunk
        index = window.find(what)
        if index >= 0:
            return file.tell() - len(window) + index
        window = window[-(len(what) - 1) :]
    return None
