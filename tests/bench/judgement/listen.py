"""Puts a drive through the app's line, with channels taken away or datagrams lost on the way."""

from __future__ import annotations

import gzip
import json
import random
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import SessionStart, fresh
from coach.vocabulary.events import Event, record
from feeds import registry

Row = dict[str, Any]

WITHOUT: dict[str, tuple[str, ...]] = {
    "edges": ("edge_left", "edge_right"),
    "wheels": ("wheel_speed",),
    "distance": ("lap_distance",),
    "clock": ("lap_time", "last_lap_time"),
}
"""Channels that a variant of the stream lacks."""
SWAPPED = 0.01
"""share of the datagrams that come after their follower, where some are lost"""


@dataclass(frozen=True, slots=True)
class Variant:
    """How the stream is spoilt: channels it lacks, per cent of datagrams lost."""

    without: tuple[str, ...] = ()
    loss: float = 0.0

    @property
    def plain(self) -> bool:
        """Whether nothing is spoilt."""
        return not self.without and not self.loss

    def __str__(self) -> str:
        parts = [f"without {name}" for name in self.without] + ([f"{self.loss:g} % lost"] if self.loss else [])
        return ", ".join(parts) or "all channels"

    def lines(self, path: Path) -> Iterator[bytes]:
        """The datagrams of a drive, spoilt; the same ones each time."""
        with gzip.open(path, "rb") as file:
            lines: Iterable[bytes] = file
            if self.without:
                lines = (self._stripped(line) for line in lines)
            yield from self._lossy(lines) if self.loss else lines

    def _stripped(self, line: bytes) -> bytes:
        row: Row = json.loads(line)
        for name in self.without:
            for key in WITHOUT[name]:
                row.pop(key)
        return json.dumps(row).encode()

    def _lossy(self, lines: Iterable[bytes]) -> Iterator[bytes]:
        dice = random.Random("loss")
        held: bytes | None = None
        for line in lines:
            if dice.random() < self.loss / 100.0:
                continue
            if held is None and dice.random() < SWAPPED:
                held = line
                continue
            yield line
            if held is not None:
                yield held
                held = None
        if held is not None:
            yield held


class _Log:
    """A sink that keeps what it hears as an event log has it, the running delta left out."""

    def __init__(self) -> None:
        self.events: list[dict[str, Any]] = []

    def take(self, event: Event) -> None:
        line = record(event)
        if line["type"] != "delta":
            self.events.append(json.loads(json.dumps(line)))


def listen(drive: Path, reference: Path, variant: Variant, keep: Callable[[bytes], None] | None = None) -> list[Row]:
    """The event log of a drive with that reference, both as `variant` has them. `keep` hears each datagram."""
    start = _start(reference, variant)
    feed, log = registry.create(start.feed), _Log()
    line = Line(start.engine, start.planner, [log])
    received = 0.0
    for data in variant.lines(drive):
        if keep is not None:
            keep(data)
        sample = feed.decode(data)
        received = max(received, sample.t)
        line.push(sample, received)
    line.finish()
    return log.events


@lru_cache(maxsize=32)
def _start(reference: Path, variant: Variant) -> SessionStart:
    if variant.plain:
        return fresh(Source(), str(reference), ())
    with tempfile.TemporaryDirectory() as folder:
        spoilt = Path(folder) / "reference.jsonl"
        spoilt.write_bytes(
            b"".join(line if line.endswith(b"\n") else line + b"\n" for line in variant.lines(reference))
        )
        return fresh(Source(), str(spoilt), ())
