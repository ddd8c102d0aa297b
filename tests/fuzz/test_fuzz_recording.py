"""The recording reader: any file gives items or one InputError; what was whole before the damage is kept."""

from __future__ import annotations

import gzip
import tempfile
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coach.vocabulary.errors import InputError
from feeds.base import Datagram
from feeds.recording import Item, RecordingWriter, open_recording
from feeds.recording.zipped import MEMBER_HEAD, Member


def made(seconds: int) -> bytes:
    """A recording of some seconds at 10 Hz."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.cwrec"
        with RecordingWriter(path, {"source": "fuzz"}) as writer:
            for index in range(seconds * 10):
                writer.datagram(index / 10, b'{"t":%.1f,"x":%d}' % (index / 10, index * 2654435761 % 2**32))
        return path.read_bytes()


WHOLE = made(6)
PLAIN = gzip.decompress(WHOLE)
LINES = b"".join(b'{"t":%d,"x":%d}\n' % (index, index * 2654435761 % 2**32) for index in range(60))
FOREIGN = gzip.compress(LINES)


def read(content: bytes) -> tuple[list[Item], str | None] | None:
    """What is in a file of this content and what is said of it; None where it is refused in one line."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "fuzzed"
        path.write_bytes(content)
        try:
            recording = open_recording(path)
        except InputError as error:
            assert "\n" not in str(error)
            return None
        items = list(recording)
        assert all(isinstance(item.received, float) for item in items)
        return items, recording.truncated


def check(data: bytes) -> None:
    """A file of these bytes; the same as another program's gzip, and as a member before ours."""
    read(data)
    read(gzip.compress(data, 1))
    member = Member()
    member.add(data)
    read(member.finish() + WHOLE)


SEEDS = [WHOLE, PLAIN, LINES, FOREIGN]


def expected(content: bytes) -> list[Item]:
    found = read(content)
    assert found is not None
    assert found[1] is None
    return found[0]


ALL = expected(WHOLE)


def whole_before(place: int) -> int:
    """How many items the members hold that end at or before `place`."""
    start = max(0, WHOLE.rfind(MEMBER_HEAD, 0, max(place, 1) + len(MEMBER_HEAD) - 1))
    return max(0, gzip.decompress(WHOLE[:start]).count(b"\n") - 1) if start else 0


def test_a_cut_at_every_byte_keeps_every_whole_member_and_says_so() -> None:
    for length in range(1, len(WHOLE)):
        found = read(WHOLE[:length])
        if found is None:
            assert length < len(WHOLE) // 4, "refused although the head is there"
            continue
        items, notice = found
        assert items == ALL[: len(items)]
        assert len(items) >= whole_before(length)
        assert notice is not None


@pytest.mark.parametrize("bit", [0x01, 0x80, 0xFF])
def test_a_change_at_every_third_byte_keeps_the_other_members(bit: int) -> None:
    for place in range(0, len(WHOLE), 3):
        content = bytearray(WHOLE)
        content[place] ^= bit
        found = read(bytes(content))
        if found is None:
            assert place < 2, "refused although it is gzip"
            continue
        items, notice = found
        assert items[: whole_before(place)] == ALL[: whole_before(place)]
        missing = len(ALL) - len(items)
        assert [item for item in ALL if item in items] == items, "a damaged line was taken for a good one"
        assert missing <= 12
        assert notice is not None or missing == 0


def test_a_cut_at_every_byte_of_another_programs_gzip_keeps_every_whole_line() -> None:
    counts = []
    for length in range(len(FOREIGN)):
        found = read(FOREIGN[:length])
        items = [] if found is None else found[0]
        assert [item.data for item in items if isinstance(item, Datagram)] == LINES.split(b"\n")[: len(items)]
        counts.append(len(items))
    assert counts == sorted(counts)
    assert counts[-1] == 60


@given(st.binary(max_size=3000))
@example(b"\x1f\x8b\x08")
@example(MEMBER_HEAD * 1000)
@example(b'{"t":1}\n' + b"\xff" * 1000)
@example(b'{"format":"cornerword recording","version":1}\n' + b"[" * 10_000 + b"\n")
def test_any_bytes(content: bytes) -> None:
    read(content)
    read(MEMBER_HEAD + content)
    read(gzip.compress(content, 1))


@given(st.lists(st.tuples(st.integers(0, len(PLAIN) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_changed_lines(changes: list[tuple[int, int]]) -> None:
    content = bytearray(PLAIN)
    for place, byte in changes:
        content[place] = byte
    read(bytes(content))


@given(st.integers(0, len(WHOLE)), st.integers(0, len(WHOLE)), st.binary(max_size=40))
def test_parts_taken_out_or_put_in(start: int, end: int, put: bytes) -> None:
    read(WHOLE[:start] + put + WHOLE[end:])
