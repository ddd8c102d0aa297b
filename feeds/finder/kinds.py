"""Splits a stream into kinds of packet: by length, and by a kind byte where one length holds several kinds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feeds.base import Datagram
from feeds.finder.fields import Bytes, Floats
from feeds.finder.proposal import KindOf

FEWEST = 60
"""Packets of a kind below which nothing is looked for in it (choice: a second at 60 Hz)."""
SMALLEST = 4
"""Bytes; a shorter packet holds no drive."""
HEAD = 64
"""Bytes at a packet's begin among which a kind byte is looked for (choice)."""
MOST_KINDS = 16
"""Values of a byte that may tell kinds (choice)."""
MOST_LOOKED = 12
"""Kinds in which channels are looked for: those with most bytes (choice)."""
CALMER = 0.5
"""Split by a kind byte the other bytes jump less than this share of before (choice: unlike kinds, interleaved, jump at
every packet)."""
FEWEST_CALMER, MOSTLY = 5, 0.5
"""Other bytes that must be calmer by it, and the share of the moving ones: a float's lower bytes go in patterns too."""
LOOKED_AT = 2000
"""Packets in which a kind byte is looked for"""
OFTEN = 0.8
"""A kind that closes a frame comes at least so often as the most frequent one"""
MOST_ROWS = 9000
"""Packets of a kind that are looked at; more are thinned evenly (choice: 150 s at 60 Hz)."""


@dataclass(frozen=True, slots=True)
class Record:
    """The packets of one kind: `received` s [n], `rows` [n, length]."""

    kind: KindOf
    received: Floats
    rows: Bytes


def records(packets: Sequence[Datagram]) -> list[Record]:
    """One record a kind, the one with most bytes first; thinned to MOST_ROWS."""
    by_length: dict[int, list[Datagram]] = defaultdict(list)
    for packet in packets:
        if len(packet.data) >= SMALLEST:
            by_length[len(packet.data)].append(packet)
    found = []
    for length, group in sorted(by_length.items()):
        rows = np.frombuffer(b"".join(packet.data for packet in group), dtype=np.uint8).reshape(len(group), length)
        received = np.array([packet.received for packet in group], dtype=np.float64)
        place = _kind_byte(rows)
        values = [None] if place is None else sorted(set(rows[:, place].tolist()))
        for value in values:
            marks = () if place is None or value is None else ((place, int(value)),)
            chosen = np.arange(len(rows)) if place is None else np.flatnonzero(rows[:, place] == value)
            if len(chosen) < FEWEST:
                continue
            name = f"p{length}" if value is None else f"p{length}_{value}"
            kind = KindOf(name, length, marks, len(chosen))
            chosen = chosen[:: -(-len(chosen) // MOST_ROWS)]
            found.append(Record(kind, received[chosen], rows[chosen]))
    return sorted(found, key=lambda record: -record.kind.count * record.kind.length)[:MOST_LOOKED]


def _kind_byte(rows: Bytes) -> int | None:
    """The place of the byte that tells the kinds in packets of one length; None where they are all of one kind."""
    if len(rows) < 2 * FEWEST:
        return None
    some = rows[:LOOKED_AT].astype(np.int16)
    whole = np.abs(np.diff(some, axis=0)).mean(axis=0)
    best, place = 0.0, None
    for at in range(min(HEAD, rows.shape[1])):
        values, counts = np.unique(rows[:, at], return_counts=True)
        if not 2 <= len(values) <= MOST_KINDS or counts.min() < FEWEST:
            continue
        parts = [some[some[:, at] == value] for value in values]
        jumps = sum(np.abs(np.diff(part, axis=0)).sum(axis=0) for part in parts if len(part) > 1)
        split = jumps / max(len(some) - len(parts), 1)
        moving = whole > 0.0
        moving[at] = False
        calmer = int(np.count_nonzero(split[moving] < CALMER * whole[moving]))
        share = calmer / max(int(np.count_nonzero(moving)), 1)
        if calmer >= FEWEST_CALMER and share >= MOSTLY and share > best:
            best, place = share, at
    return place


def closing(kinds: Sequence[Record]) -> int:
    """The place of the kind that comes last in a frame: behind it the next packet of another kind is longest away."""
    waits = []
    for record in kinds:
        others = np.sort(np.concatenate([other.received for other in kinds if other is not record] or [np.zeros(0)]))
        after = np.searchsorted(others, record.received, side="right")
        known = after < len(others)
        wait = others[after[known]] - record.received[known]
        rare = record.kind.count < OFTEN * max(other.kind.count for other in kinds)
        waits.append(-1.0 if rare or not len(wait) else float(np.median(wait)))
    return int(np.argmax(waits))
