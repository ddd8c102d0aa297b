"""A frame of a capture to the UDP datagram in it: link head, IP, UDP.

Check sums are not looked at: on the computer that sends, a capture sees them before the network card has made them.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from ipaddress import ip_address

NULL, ETHERNET, BSD_RAW, OPENBSD_RAW, RAW, LOOP, COOKED, IPV4, IPV6, COOKED_2 = (
    0,
    1,
    12,
    14,
    101,
    108,
    113,
    228,
    229,
    276,
)
"""Link types, from memory: those of loopback, a network card, Linux's `any` interface, and of IP without any head."""

_HEADS = {NULL: 4, LOOP: 4, BSD_RAW: 0, OPENBSD_RAW: 0, RAW: 0, IPV4: 0, IPV6: 0}
"""Bytes before the IP packet of links whose head says nothing more than which IP it is: the packet says that too."""
_PROTOCOLS = {ETHERNET: 12, COOKED: 14, COOKED_2: 0}
"""Where the type of what is inside stands in the heads of the others."""
_BEHIND = {ETHERNET: 14, COOKED: 16, COOKED_2: 20}
_VLAN = (0x8100, 0x88A8, 0x9100)
"""Types of a tag of four bytes, the real type at its end (IEEE 802.1Q; the last from memory)."""
_IP = (0x0800, 0x86DD)

_UDP = 17
_HOP_BY_HOP, _ROUTING, _FRAGMENT, _AUTHENTICATION, _DESTINATION = 0, 43, 44, 51, 60
"""Headers that may stand between IPv6 and UDP (RFC 8200 section 4; RFC 4302)."""

REASSEMBLY = 60.0
"""s in which all fragments of a packet come (RFC 8200 section 4.5; RFC 1122 section 3.3.2 has 60 to 120 s for IPv4):
behind it the same number is another packet's."""

MOST_WAITING = 64
"""Packets of which some fragments have come; the oldest is given up for a new one (choice)."""

CUT = "cut short by the capture"
DAMAGED = "its head makes no sense"
FRAGMENTS = "fragments of it are missing"


@dataclass(slots=True)
class Udp:
    """One datagram; `why_not` says why its `data` is not all there, and is "" where it is. Ports 0 where unknown."""

    sender: str
    source_port: int
    port: int
    data: bytes
    why_not: str = ""


@dataclass(slots=True)
class _Fragments:
    """Those that have come of one packet: by the place of their bytes, with whether more follow; `begun` s."""

    begun: float
    parts: dict[int, tuple[bytes, bool]] = field(default_factory=dict)


class Unpacker:
    """Gives the datagram in each frame. It keeps fragments until their packet is whole."""

    def __init__(self) -> None:
        self._waiting: dict[tuple[bytes, bytes, int], _Fragments] = {}
        self._now = 0.0
        self._names: dict[tuple[bytes, int], str] = {}
        self.given_up = 0
        """packets that never became whole"""

    @property
    def unfinished(self) -> int:
        """Packets whose fragments are not all there, up to now."""
        return self.given_up + len(self._waiting)

    def datagram(self, link: int, data: bytes, received: float = 0.0) -> Udp | None:
        """None for what is no UDP, or only a fragment of it; `received` s."""
        self._now = received
        place = _ip_at(link, data)
        if place is None or place >= len(data):
            return None
        version = data[place] >> 4
        if version == 4:
            return self._of_ipv4(data, place)
        return self._of_ipv6(data, place) if version == 6 else None

    def _of_ipv4(self, data: bytes, place: int) -> Udp | None:
        """RFC 791 section 3.1."""
        if place + 20 > len(data):
            return None
        if data[place + 9] != _UDP:
            return None
        head = (data[place] & 15) * 4
        total, number, parts = struct.unpack_from("!HHH", data, place + 2)
        source, target = data[place + 12 : place + 16], data[place + 16 : place + 20]
        end = place + total if total else len(data)  # 0: the card was to cut a long packet up itself
        if head < 20 or end - place < head:
            return Udp("", 0, 0, b"", DAMAGED)
        inside = data[place + head : end]
        is_cut = end > len(data)
        if parts & 0x3FFF:
            return self._fragment((source, target, number), parts & 0x1FFF, bool(parts & 0x2000), inside, is_cut)
        return self._udp(source, inside, is_cut)

    def _of_ipv6(self, data: bytes, place: int) -> Udp | None:
        """RFC 8200 section 3."""
        if place + 40 > len(data):
            return None
        size, following = struct.unpack_from("!HB", data, place + 4)
        source, target = data[place + 8 : place + 24], data[place + 24 : place + 40]
        place += 40
        end = place + size
        is_cut = end > len(data)
        while following != _UDP:
            if place + 8 > min(end, len(data)):
                return None
            if following == _FRAGMENT:
                inner, parts, number = struct.unpack_from("!BxHI", data, place)
                if inner != _UDP:
                    return None
                key = (source, target, number)
                return self._fragment(key, parts >> 3, bool(parts & 1), data[place + 8 : end], is_cut)
            if following in (_HOP_BY_HOP, _ROUTING, _DESTINATION):
                step = (data[place + 1] + 1) * 8
            elif following == _AUTHENTICATION:
                step = (data[place + 1] + 2) * 4
            else:
                return None
            following = data[place]
            place += step
        return self._udp(source, data[place:end], is_cut)

    def _udp(self, source: bytes, data: bytes, is_cut: bool) -> Udp:
        """RFC 768."""
        if len(data) < 8:
            return Udp("", 0, 0, b"", CUT if is_cut else DAMAGED)
        source_port, port, length = struct.unpack_from("!HHH", data)
        sender = self._name(source, source_port)
        if length < 8 or (length > len(data) and not is_cut):
            return Udp(sender, source_port, port, b"", DAMAGED)
        return Udp(sender, source_port, port, data[8:length], CUT if length > len(data) else "")

    def _fragment(self, key: tuple[bytes, bytes, int], unit: int, more: bool, data: bytes, is_cut: bool) -> Udp | None:
        """One part, at 8 times `unit` bytes; the datagram where that makes the packet whole."""
        if is_cut:
            return None  # its packet stays unfinished, and is counted so
        waiting = self._waiting
        if key in waiting and not 0.0 <= self._now - waiting[key].begun <= REASSEMBLY:
            del waiting[key]
            self.given_up += 1
        if key not in waiting and len(waiting) >= MOST_WAITING:
            del waiting[next(iter(waiting))]
            self.given_up += 1
        parts = waiting.setdefault(key, _Fragments(self._now)).parts
        parts[unit * 8] = (data, more)
        whole = bytearray()
        while (part := parts.get(len(whole))) is not None and part[0]:
            whole += part[0]
            if not part[1]:
                del waiting[key]
                return self._udp(key[0], bytes(whole), is_cut=False)
        return None

    def _name(self, source: bytes, port: int) -> str:
        name = self._names.get((source, port))
        if name is None:
            if len(self._names) >= 1024:
                self._names.clear()
            address = str(ip_address(source))
            name = self._names[source, port] = f"[{address}]:{port}" if len(source) == 16 else f"{address}:{port}"
        return name


def is_known(link: int) -> bool:
    """Whether frames of this link type can be unpacked."""
    return link in _HEADS or link in _PROTOCOLS


def _ip_at(link: int, data: bytes) -> int | None:
    """Where the IP packet begins in a frame; None for a frame with something else in it."""
    place = _HEADS.get(link)
    if place is not None:
        return place
    if link not in _PROTOCOLS:
        return None
    at, behind = _PROTOCOLS[link], _BEHIND[link]
    while behind <= len(data):
        kind = data[at] << 8 | data[at + 1]
        if kind in _IP:
            return behind
        if kind not in _VLAN:
            return None
        at, behind = behind + 2, behind + 4
    return None
