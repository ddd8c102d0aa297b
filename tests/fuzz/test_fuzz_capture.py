"""The capture reader: any file gives datagrams or one InputError; no frame makes it fail, hang or fill the memory."""

from __future__ import annotations

import math
import struct
import tempfile
from pathlib import Path

from hypothesis import example, given
from hypothesis import strategies as st

from coach.vocabulary.errors import InputError
from feeds.base import Datagram
from feeds.capture.packets import Unpacker
from feeds.recording import open_recording
from tests.feeds.captures import block, ethernet, interface, ipv4, ipv6, option, packet, pcap, section, stream, udp

SENT = udp(b'{"t":1}', 40_000, 26763)
BETWEEN = b"\x2b\x00" + bytes(6) + b"\x3c\x01" + bytes(14) + b"\x11\x00" + bytes(6)
"""IPv6's hop-by-hop, routing and destination headers."""
FRAMES = [
    ethernet(ipv4(SENT)),
    ethernet(ipv6(SENT), 0x86DD, struct.pack("!HH", 0x8100, 1)),
    ethernet(ipv4(udp(bytes(64), 40_000, 26763)[:40], number=7, more=True)),
    ethernet(ipv4(udp(bytes(64), 40_000, 26763)[40:], number=7, part=40)),
    ethernet(ipv6(BETWEEN + SENT, following=0), 0x86DD),
    ethernet(ipv6(struct.pack("!BBHI", 17, 0, 1, 9) + udp(bytes(64), 40_000, 26763)[:40], following=44), 0x86DD),
]
PCAP = pcap([(1000.0 + n, frame) for n, frame in enumerate(FRAMES)])
PCAPNG = (
    section()
    + interface(options=option(9, b"\x09") + option(14, bytes(8)) + option(0, b""))
    + interface(link=101)
    + b"".join(packet(10**12 + n, frame) for n, frame in enumerate(FRAMES))
    + packet(10**6, ipv4(SENT), number=1)
    + block(3, struct.pack("<I", len(FRAMES[0])) + FRAMES[0])
    + section(">")
    + interface(link=113, order=">")
    + packet(10**6, struct.pack("!HHH8sH", 4, 772, 6, bytes(8), 0x0800) + ipv4(SENT), order=">")
)
SEEDS = [PCAP, PCAPNG, pcap(stream([b"a", b"b"]), magic=(0xA1B23C4D, 10**9), order=">")]
LINKS = (0, 1, 12, 101, 108, 113, 228, 229, 276)


def check(data: bytes) -> None:
    """A file of these bytes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "fuzzed.pcap"
        path.write_bytes(data)
        try:
            recording = open_recording(path)
        except InputError as error:
            assert "\n" not in str(error)
            return
        items = list(recording)
        assert [item.received for item in recording] == [item.received for item in items]
        for item in items:
            assert math.isfinite(item.received)
            if isinstance(item, Datagram):
                assert item.sender.isprintable()
        for told in (recording.headless, recording.truncated):
            assert told is None or told.isprintable()


def check_frames(data: bytes) -> None:
    """Frames as any link: the first byte chooses it, the rest is cut up by lengths in it."""
    unpacker = Unpacker()
    place = 1
    while data and place < len(data):
        size = data[place]
        frame = data[place + 1 : place + 1 + size]
        found = unpacker.datagram(LINKS[data[0] % len(LINKS)], frame)
        if found is not None:
            assert 0 <= found.port < 65_536
            assert bool(found.sender) or found.why_not
        place += 1 + size
    assert unpacker.unfinished <= len(data)


TARGETS = {"capture": check, "frames": check_frames}


@given(st.binary(max_size=400))
@example(PCAP[:4])
@example(PCAP[:24])
@example(section()[:11])
@example(PCAPNG[:30] + b"\x08\x00\x00\x00" * 5)
def test_any_bytes(data: bytes) -> None:
    check(data)
    check(PCAP[:24] + data)
    check(section() + data)
    check_frames(data)


@given(st.sampled_from(SEEDS), st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=4))
def test_changed_bytes(seed: bytes, changes: list[tuple[int, int]]) -> None:
    content = bytearray(seed)
    for place, byte in changes:
        content[place % len(content)] = byte
    check(bytes(content))


@given(st.sampled_from(SEEDS), st.integers(0, 2000), st.integers(0, 2000), st.binary(max_size=20))
def test_parts_taken_out_or_put_in(seed: bytes, start: int, end: int, put: bytes) -> None:
    check(seed[:start] + put + seed[end:])


@given(st.sampled_from(FRAMES), st.lists(st.tuples(st.integers(0, 200), st.integers(0, 255)), max_size=4))
def test_changed_frames(frame: bytes, changes: list[tuple[int, int]]) -> None:
    changed = bytearray(frame)
    for place, byte in changes:
        changed[place % len(changed)] = byte
    check(pcap([(1.0, bytes(changed)), *stream([b"good"])]))
