"""Layout files and packets for the tests, packed by hand with `struct`."""

from __future__ import annotations

import struct

from coach.vocabulary.sample import Sample
from feeds.layout import Layout, LayoutFeed, layout_from_text

T = 8
"""bytes before the channels of `one`: a double with the time."""


def one(channels: str, length: int = 64, top: str = "", packet: str = "") -> Layout:
    """A layout of one kind of packet, whose first 8 bytes are `t`, a little-endian double."""
    return layout_from_text(
        f"""
        layout = 1
        {top}
        [[packet]]
        name = "all"
        length = {length}
        {packet}
        [packet.channels]
        t = {{ offset = 0, type = "f64", byte_order = "little" }}
        {channels}
        """.encode()
    )


def packet(*fields: tuple[int, str, object], length: int = 64, t: float = 1.5) -> bytes:
    """A packet of `one`: of each field the offset, its format as `struct` writes it, and its raw value."""
    data = bytearray(length)
    for offset, code, value in ((0, "<d", t), *fields):
        struct.pack_into(code, data, offset, *(value if isinstance(value, tuple) else (value,)))
    return bytes(data)


def decoded(layout: Layout, *packets: bytes) -> Sample:
    """The sample of the last packet; nothing may be left out."""
    feed = LayoutFeed(layout)
    sample = None
    for data in packets:
        sample = feed.decode(data)
    assert isinstance(sample, Sample)
    assert feed.left_out.by_cause() == {}
    return sample
