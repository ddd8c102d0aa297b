"""Packet captures made by hand from the formats' descriptions, for the tests of the reader.

pcap: draft-ietf-opsawg-pcap, sections 4 and 5. pcapng: draft-ietf-opsawg-pcapng, sections 3 and 4. IPv4: RFC 791,
section 3.1. IPv6: RFC 8200, sections 3 and 4. UDP: RFC 768. Nothing of the project is used here.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from ipaddress import IPv4Address, IPv6Address

US, NS = (0xA1B2C3D4, 10**6), (0xA1B23C4D, 10**9)
"""Magic number and units in a second."""
HERE, THERE = "192.0.2.7", "192.0.2.9"
"""Addresses for documentation: RFC 5737."""
HERE_6, THERE_6 = "2001:db8::7", "2001:db8::9"
"""The same: RFC 3849."""


def udp(data: bytes, source: int, port: int) -> bytes:
    """Source port, destination port, length with the head, check sum (0: none)."""
    return struct.pack("!HHHH", source, port, 8 + len(data), 0) + data


def ipv4(
    inside: bytes,
    source: str = HERE,
    target: str = THERE,
    protocol: int = 17,
    options: bytes = b"",
    number: int = 0,
    part: int = 0,
    more: bool = False,
) -> bytes:
    """`part`: the fragment's offset in bytes."""
    words = 5 + len(options) // 4
    flags = (0x2000 if more else 0) | part // 8
    head = struct.pack("!BBHHHBBH", 0x40 | words, 0, words * 4 + len(inside), number, flags, 64, protocol, 0)
    return head + IPv4Address(source).packed + IPv4Address(target).packed + options + inside


def ipv6(inside: bytes, following: int = 17, source: str = HERE_6, target: str = THERE_6) -> bytes:
    head = struct.pack("!IHBB", 6 << 28, len(inside), following, 64)
    return head + IPv6Address(source).packed + IPv6Address(target).packed + inside


def ethernet(inside: bytes, kind: int = 0x0800, tags: bytes = b"") -> bytes:
    """Two addresses of six bytes, tags, type."""
    return bytes(range(12)) + tags + struct.pack("!H", kind) + inside


def pcap(
    frames: Sequence[tuple[float, bytes]],
    link: int = 1,
    magic: tuple[int, int] = US,
    order: str = "<",
    snap: int = 262_144,
) -> bytes:
    number, units = magic
    parts = [struct.pack(order + "IHHiIII", number, 2, 4, 0, 0, snap, link)]
    for time, frame in frames:
        seconds, part = divmod(round(time * units), units)
        kept = frame[:snap]
        parts.append(struct.pack(order + "IIII", seconds, part, len(kept), len(frame)) + kept)
    return b"".join(parts)


def block(kind: int, body: bytes, order: str = "<") -> bytes:
    """Type, total length, body padded to 32 bits, total length."""
    body += b"\0" * (-len(body) % 4)
    total = struct.pack(order + "I", 12 + len(body))
    return struct.pack(order + "I", kind) + total + body + total


def section(order: str = "<") -> bytes:
    return block(0x0A0D0D0A, struct.pack(order + "IHHq", 0x1A2B3C4D, 1, 0, -1), order)


def option(code: int, value: bytes, order: str = "<") -> bytes:
    return struct.pack(order + "HH", code, len(value)) + value + b"\0" * (-len(value) % 4)


def interface(link: int = 1, snap: int = 0, options: bytes = b"", order: str = "<") -> bytes:
    return block(1, struct.pack(order + "HHI", link, 0, snap) + options, order)


def packet(stamp: int, frame: bytes, number: int = 0, length: int | None = None, order: str = "<") -> bytes:
    """An enhanced packet block; `stamp` in the interface's units."""
    whole = len(frame) if length is None else length
    head = struct.pack(order + "IIIII", number, stamp >> 32, stamp & 0xFFFFFFFF, len(frame), whole)
    return block(6, head + frame, order)


def stream(
    payloads: Sequence[bytes], begins: float = 1000.0, rate: float = 50.0, port: int = 26763
) -> list[tuple[float, bytes]]:
    """Ethernet frames of one source at `rate` a second."""
    return [(begins + n / rate, ethernet(ipv4(udp(data, 40_000, port)))) for n, data in enumerate(payloads)]
