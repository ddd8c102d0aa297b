"""What of a capture's traffic is the stream that is meant: one port, and one computer that sends to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import BinaryIO

from feeds.base import Datagram
from feeds.capture.frames import Broken, frames
from feeds.capture.packets import FRAGMENTS, Unpacker, is_known
from feeds.counts import Counts

SYSTEM_PORTS = 1024
"""Ports below it are of well-known services (RFC 6335 section 6), to which and from which no telemetry goes."""

MOST_HOSTS = 64
"""Sending addresses that are told apart at one port (choice)."""

OTHER = "another computer sent it"


@dataclass(slots=True)
class Traffic:
    """What a capture holds: bytes by destination port and sending address, and frames of link types unknown here."""

    hosts: dict[int, dict[str, int]] = field(default_factory=dict)
    counts: dict[int, int] = field(default_factory=dict)
    """datagrams by port"""
    likely: dict[int, int] = field(default_factory=dict)
    """bytes by port, without what comes from or goes to a well-known service"""
    links: dict[int, int] = field(default_factory=dict)
    frames: int = 0

    def busiest(self) -> int | None:
        """The port with most bytes that is of no well-known service."""
        return max(self.likely, key=self.likely.__getitem__, default=None)

    def host(self, port: int) -> str:
        """The address that sent most bytes to one of the ports."""
        return max(self.hosts[port], key=self.hosts[port].__getitem__)


@dataclass(slots=True)
class Captured:
    """How the reading of a capture went: what was left out, and how the file ended."""

    drops: Counts = field(default_factory=lambda: Counts("datagram left out"))
    broken: Broken | None = None


def survey(file: BinaryIO) -> Traffic:
    """Read a capture through for who sends how much where."""
    traffic = Traffic()
    unpacker = Unpacker()
    for frame in frames(file):
        if isinstance(frame, Broken):
            break
        traffic.frames += 1
        if not is_known(frame.link):
            traffic.links[frame.link] = traffic.links.get(frame.link, 0) + 1
            continue
        found = unpacker.datagram(frame.link, frame.data, frame.received)
        if found is None or not found.sender:
            continue
        size, port = len(found.data), found.port
        traffic.counts[port] = traffic.counts.get(port, 0) + 1
        hosts = traffic.hosts.setdefault(port, {})
        host = _host(found.sender)
        if host in hosts or len(hosts) < MOST_HOSTS:
            hosts[host] = hosts.get(host, 0) + size
        if size and port >= SYSTEM_PORTS and found.source_port >= SYSTEM_PORTS:
            traffic.likely[port] = traffic.likely.get(port, 0) + size
    return traffic


def captured(file: BinaryIO, port: int, host: str, state: Captured) -> Iterator[Datagram]:
    """The datagrams that `host` sent to `port`, in the order of the file; `state` is kept up meanwhile."""
    unpacker = Unpacker()
    for frame in frames(file):
        if isinstance(frame, Broken):
            state.broken = frame
            break
        found = unpacker.datagram(frame.link, frame.data, frame.received)
        if found is None or (found.port != port and found.sender):
            continue
        if found.sender and _host(found.sender) != host:
            state.drops.add(OTHER, found.sender)
        elif found.why_not:
            state.drops.add(found.why_not)
        else:
            yield Datagram(frame.received, found.data, found.sender)
    for _ in range(unpacker.unfinished):
        state.drops.add(FRAGMENTS)


def _host(sender: str) -> str:
    return sender.rpartition(":")[0]
