"""Who sends to a port, and what: the packets of the first seconds, by sender. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.app.console import plain
from coach.app.telling.numbers import counted
from feeds.base import Datagram

MOST = 64 * 1024 * 1024
"""bytes of packets that are held to be looked at: more than any simulator sends in some seconds (choice)."""
BESIDE = 200
"""bytes that a packet takes beside its data, about."""
NAMED = 3
"""senders, and lengths of one sender's packets, that are named; of more, how many more."""


class Senders:
    """Packets as they come from whoever sends; `began` s, when the first came."""

    def __init__(self) -> None:
        self.packets = 0
        self.began = 0.0
        self._held = 0
        self._of: dict[str, list[Datagram]] = {}

    def take(self, packet: Datagram) -> None:
        """One came."""
        if not self.packets:
            self.began = packet.received
        self.packets += 1
        self._held += len(packet.data) + BESIDE
        if self._held <= MOST:
            self._of.setdefault(packet.sender, []).append(packet)

    @property
    def busiest(self) -> str:
        """Who sent the most packets; at least one has come."""
        return max(self._of, key=lambda sender: len(self._of[sender]))

    def of(self, sender: str) -> list[Datagram]:
        """What one of them sent."""
        return self._of[sender]

    def lines(self) -> Iterator[str]:
        """What comes, for a person: the busiest sender first."""
        busiest = self.busiest
        yield f"packets come from {busiest}: {described(self._of[busiest])}"
        others = sorted((sender for sender in self._of if sender != busiest), key=lambda one: -len(self._of[one]))
        for sender in others[:NAMED]:
            yield f"{sender} sends too, {described(self._of[sender])}: left out, stop it if that is not meant"
        if len(others) > NAMED:
            yield f"and {counted(len(others) - NAMED, 'more sender')}, left out"


def described(packets: Sequence[Datagram]) -> str:
    """`324 bytes, 60 a second; 96 bytes, 10 a second`; text is said to be text."""
    times: dict[int, list[float]] = {}
    for packet in packets:
        times.setdefault(len(packet.data), []).append(packet.received)
    ordered = sorted(times.items(), key=lambda item: (-len(item[1]), item[0]))
    parts = [f"{counted(length, 'byte')}, {_rate(some)}" for length, some in ordered[:NAMED]]
    if len(ordered) > NAMED:
        parts.append(f"and {counted(len(ordered) - NAMED, 'more length')}")
    text = _text(packets[0].data) if packets else None
    return "; ".join(parts) + (f'; they are text and begin "{text}"' if text is not None else "")


def _rate(times: Sequence[float]) -> str:
    span = times[-1] - times[0]
    if span <= 0.0:
        return "once" if len(times) == 1 else f"{len(times)} at once"
    rate = (len(times) - 1) / span
    return f"{rate:,.0f} a second" if rate >= 2.0 else f"one each {1.0 / rate:.1f} s"


def _text(data: bytes) -> str | None:
    """How a packet begins that is text and nothing else."""
    try:
        text = data.decode()
    except UnicodeDecodeError:
        return None
    shown = "".join(text.split())
    return plain(text.strip(), 24) if shown and shown.isprintable() else None
