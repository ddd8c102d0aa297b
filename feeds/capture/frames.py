"""The frames in a capture file, one after the other, in bounded memory."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

PCAP_MAGICS = {
    b"\xd4\xc3\xb2\xa1": ("<", 1e-6),
    b"\xa1\xb2\xc3\xd4": (">", 1e-6),
    b"\x4d\x3c\xb2\xa1": ("<", 1e-9),
    b"\xa1\xb2\x3c\x4d": (">", 1e-9),
}
"""First four bytes of a pcap file: byte order, and s in a unit of its times' fraction (draft-ietf-opsawg-pcap, 4)."""

SECTION = b"\x0a\x0d\x0d\x0a"
"""First four bytes of a pcapng file, the same in either byte order (draft-ietf-opsawg-pcapng, 4.1)."""

LONGEST = 4 * 1024 * 1024
"""Bytes: a longer record or block is damage. A frame that holds a datagram is under 66,000 (choice)."""

_BYTE_ORDERS = {b"\x4d\x3c\x2b\x1a": "<", b"\x1a\x2b\x3c\x4d": ">"}
_INTERFACE, _OLD_PACKET, _SIMPLE_PACKET, _PACKET = 1, 2, 3, 6
_RESOLUTION, _OFFSET = 9, 14  # options of an interface: if_tsresol, if_tsoffset


@dataclass(slots=True)
class Frame:
    """`received` s since 1970; `link` the type of its head; `data` as much as was captured of its `length` bytes."""

    received: float
    link: int
    data: bytes
    length: int


@dataclass(slots=True)
class Broken:
    """The file ends here, inside a record (`cut`), or what follows makes no sense and is left out."""

    cut: bool


def is_capture(beginning: bytes) -> bool:
    """Whether a file with these first four bytes is a capture."""
    return beginning in PCAP_MAGICS or beginning == SECTION


def frames(file: BinaryIO) -> Iterator[Frame | Broken]:
    """Every frame, from the beginning of the file; Broken, if it comes, is the last."""
    file.seek(0)
    magic = file.read(4)
    if magic in PCAP_MAGICS:
        yield from _pcap(file, *PCAP_MAGICS[magic])
    else:
        file.seek(0)
        yield from _pcapng(file)


def _pcap(file: BinaryIO, order: str, fraction: float) -> Iterator[Frame | Broken]:
    rest = file.read(20)
    if len(rest) < 20:
        yield Broken(cut=True)
        return
    link = struct.unpack(order + "I", rest[16:])[0] & 0xFFFF  # above it: length of the frame check sequence
    head = struct.Struct(order + "IIII")
    while record := file.read(16):
        if len(record) < 16:
            yield Broken(cut=True)
            return
        seconds, part, size, length = head.unpack(record)
        if size > LONGEST:
            yield Broken(cut=False)
            return
        data = file.read(size)
        if len(data) < size:
            yield Broken(cut=True)
            return
        yield Frame(seconds + part * fraction, link, data, length)


@dataclass(slots=True)
class _Interface:
    """`unit` s of a timestamp, `offset` s to add; `snap` the most bytes of a frame that it keeps, 0 for all."""

    link: int
    snap: int
    unit: float = 1e-6
    offset: int = 0


def _pcapng(file: BinaryIO) -> Iterator[Frame | Broken]:
    """Blocks: type, total length, body padded to 32 bits, total length again."""
    order = ""
    interfaces: list[_Interface] = []
    last = 0.0
    while head := file.read(8):
        begins_section = head[:4] == SECTION
        if begins_section:
            head += file.read(4)
            order = _BYTE_ORDERS.get(head[8:12], "")
            interfaces = []
        if len(head) < (12 if begins_section else 8):
            yield Broken(cut=True)
            return
        if not order:
            yield Broken(cut=False)
            return
        kind, total = struct.unpack(order + "II", head[:8])
        left = total - len(head)
        if total % 4 or left < 4 or total > LONGEST:
            yield Broken(cut=False)
            return
        body = file.read(left)
        if len(body) < left:
            yield Broken(cut=True)
            return
        if body[-4:] != head[4:8]:
            yield Broken(cut=False)
            return
        body = body[:-4]
        if kind == _INTERFACE and not begins_section:
            if (found := _interface(order, body)) is None:
                yield Broken(cut=False)
                return
            interfaces.append(found)
        elif not begins_section and (frame := _frame(kind, order, body, interfaces, last)) is not None:
            last = frame.received
            yield frame


def _interface(order: str, body: bytes) -> _Interface | None:
    if len(body) < 8:
        return None
    link, snap = struct.unpack_from(order + "HxxI", body)
    interface = _Interface(link, snap)
    place = 8
    while place + 4 <= len(body):
        code, size = struct.unpack_from(order + "HH", body, place)
        value = body[place + 4 : place + 4 + size]
        if code == 0:
            break
        if code == _RESOLUTION and len(value) == 1:
            power = value[0] & 0x7F
            interface.unit = 2.0**-power if value[0] & 0x80 else 10.0**-power
        elif code == _OFFSET and len(value) == 8:
            interface.offset = struct.unpack(order + "q", value)[0]
        place += 4 + (size + 3) // 4 * 4
    return interface


def _frame(kind: int, order: str, body: bytes, interfaces: list[_Interface], last: float) -> Frame | None:
    """The frame in a block's body; None for a block without one, or one that does not fit its own length."""
    if kind == _SIMPLE_PACKET and len(body) >= 4 and interfaces:
        length = struct.unpack_from(order + "I", body)[0]
        size = min(length, interfaces[0].snap or length)
        return Frame(last, interfaces[0].link, body[4 : 4 + size], length)  # it has no time of its own
    if kind not in (_PACKET, _OLD_PACKET) or len(body) < 20:
        return None
    number, high, low, size, length = struct.unpack_from(order + ("I" if kind == _PACKET else "Hxx") + "IIII", body)
    if number >= len(interfaces) or 20 + size > len(body):
        return None
    interface = interfaces[number]
    stamp = ((high << 32) | low) * interface.unit + interface.offset
    return Frame(stamp, interface.link, body[20 : 20 + size], length)
