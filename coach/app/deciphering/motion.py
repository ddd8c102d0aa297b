"""Which bytes of unknown packets move: seen from the bytes alone, against how they were while all stood still.

Pure: bytes and receive times in, counts out. A value that a person moves runs through many values of some byte that
had few at rest. A key or button has two values; a number that trembles about zero changes
in all its bytes at rest: both show as values that a byte never had, and that it leaves again. A counter never does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from feeds.base import Datagram

WINDOW = 0.5
"""s of packets that are looked at together: a press of a pedal takes one or two (choice)."""
RUNS = 4
"""values of a byte in a window, beyond the most that it had at rest in one, that show it running (choice)."""
SLOW = 3
"""packets in a window for each value that is asked for, where they are too few for `RUNS` (choice)."""
FEW = 24
"""values that a byte had at rest, up to which a new one means something: noise has more in a few seconds (choice)."""
AGAIN = 4
"""times that each value has to have come at rest, in the mean, for all of them to be known (choice)."""
RESTLESS = 0.9
"""share of packets that a byte changes with at rest, from which it cannot run any more than it does: the low bytes of
a clock or a noisy number (choice)."""
AWAY = 0.2
"""share of a window's packets with values that a byte never had at rest, from which it is away from rest: a button that
is pressed for a tenth of a second (choice)."""
STEADY = 8
"""windows one after another in which a byte runs that show that nobody moves it: something warms up (choice)."""
MOST = 16
"""kinds of packet that are followed: beyond, it is text of any length and no packet of fixed places (choice)."""
LOOKED = 2048
"""bytes of a packet that are followed: more than one frame of a network holds."""
PACKETS = 256
"""packets of a kind in a window that are looked at; more are as many of the same."""
TELLING = 0.5
"""share to which the bytes' changes have to fall where packets are sorted by their kind (choice)."""
KINDS = range(2, 9)
"""values that a byte has that says which kind a packet is (choice; more would be a counter)."""
SAMPLED = 600
"""packets of a length from which its kinds are told: some seconds."""

Key = tuple[int, int]
"""A kind of packet: its length, and the byte that says which kind, -1 where all of that length are one."""
Table = NDArray[np.uint8]
"""Packets of one kind, a row each."""
Mask = NDArray[np.bool_]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Kinds:
    """Of each length the place of the byte that tells its kinds apart, where there are several."""

    places: dict[int, int] = field(default_factory=dict)

    @classmethod
    def of(cls, packets: Iterable[Datagram]) -> Kinds:
        """What some seconds of packets show."""
        by_length: dict[int, list[bytes]] = {}
        for packet in packets:
            if packet.data and (len(packet.data) in by_length or len(by_length) < MOST):
                by_length.setdefault(len(packet.data), []).append(packet.data[:LOOKED])
        found = ((length, _telling(_table(some[-SAMPLED:]))) for length, some in by_length.items())
        return cls({length: place for length, place in found if place is not None})

    def key(self, data: bytes) -> Key:
        """Which kind a packet is."""
        place = self.places.get(len(data))
        return len(data), -1 if place is None else data[place]


@dataclass(frozen=True, slots=True)
class Activity:
    """One window that ended at `until` (s). `packets` came in it; so many bytes `run`, so many `come` back to rest, so
    many are `away` from it that were not when it was last marked."""

    until: float
    packets: int
    run: int
    come: int
    away: int


class _Kind:
    """One kind of packet: its bytes at rest, and in the window that ended last."""

    def __init__(self, width: int) -> None:
        self.rows: list[bytes] = []
        self.values: Numbers = np.zeros(width, np.int64)  # the most in a window at rest; 0 before there was one
        self.known: Mask | None = None  # [256, bytes]: the values at rest
        self.seen = 0  # packets that these are from
        self.restless: Mask = np.zeros(width, bool)
        self.away: Mask = np.zeros(width, bool)
        self.marked: Mask = np.zeros(width, bool)
        self.ran: Numbers = np.zeros(width, np.int64)  # windows in which it ran without a break
        self.recent: list[tuple[Numbers, Table]] = []

    def close(self, absorbs: bool) -> tuple[int, int, int]:
        """The window is over: how many bytes ran, came back, and are away."""
        rows, self.rows = self.rows, []
        if not rows:
            return 0, 0, int((self.away & ~self.marked).sum())
        table = _table(rows)
        ordered = np.sort(table, axis=0)
        values = (ordered[1:] != ordered[:-1]).sum(axis=0) + 1
        self.recent = [*self.recent[-2 * STEADY :], (values, table)]
        if self.known is None:
            return int((values > RUNS).sum()), 0, 0
        enough = min(RUNS, max(2, len(rows) // SLOW))
        run: Mask = (values >= np.maximum(self.values, 1) + enough) & ~self.restless
        few = self.known.sum(axis=0) <= min(FEW, self.seen // AGAIN)
        unknown = (~np.take_along_axis(self.known, table.astype(np.intp), axis=0)).mean(axis=0)
        away: Mask = few & (unknown >= AWAY)
        come = self.away & ~away
        self.away = away
        self.ran = np.where(run, self.ran + 1, 0)
        if absorbs:
            self.values = np.where(self.ran >= STEADY, np.maximum(self.values, values), self.values)
        return int(run.sum()), int(come.sum()), int((away & ~self.marked).sum())

    def rest(self, windows: int) -> None:
        for values, table in self.recent[-windows:]:
            self.values = np.maximum(self.values, values)
            if self.known is None:
                self.known = np.zeros((256, table.shape[1]), bool)
            self.known[table, np.arange(table.shape[1])] = True
            self.seen += len(table)
            if len(table) > RUNS:
                self.restless |= (table[1:] != table[:-1]).mean(axis=0) >= RESTLESS
        self.away = np.zeros(self.away.size, bool)


class Motion:
    """Follows packets window by window. Before the first `rest` every byte that does something counts."""

    def __init__(self, kinds: Kinds, begins: float) -> None:
        self._kinds = kinds
        self._until = begins + WINDOW
        self._of: dict[Key, _Kind] = {}
        self.absorbs = True
        """whether what runs steadily is taken as being so at rest"""

    def take(self, packet: Datagram) -> list[Activity]:
        """A packet came; returns the windows that ended before it."""
        ended = self.tick(packet.received)
        key = self._kinds.key(packet.data)
        kind = self._of.get(key)
        if kind is None:
            if not packet.data or len(self._of) >= MOST:
                return ended
            kind = self._of[key] = _Kind(min(len(packet.data), LOOKED))
        if len(kind.rows) < PACKETS:
            kind.rows.append(packet.data[:LOOKED])
        return ended

    def tick(self, now: float) -> list[Activity]:
        """It is `now` (s, as the receive times); returns the windows that have ended."""
        ended = []
        while now >= self._until:
            ended.append(self._close())
            if not ended[-1].packets and now - self._until > WINDOW:  # nothing came for long: one empty window does
                self._until = now
            self._until += WINDOW
        return ended

    def rest(self, windows: int) -> None:
        """Take the last so many windows as how the bytes are at rest, beside how they were before."""
        for kind in self._of.values():
            kind.rest(windows)

    def mark(self) -> None:
        """What is away from rest now counts as being there already."""
        for kind in self._of.values():
            kind.marked = kind.away.copy()

    def _close(self) -> Activity:
        packets = sum(len(kind.rows) for kind in self._of.values())
        run = come = away = 0
        for kind in self._of.values():
            ran, came, gone = kind.close(self.absorbs)
            run, come, away = run + ran, come + came, away + gone
        return Activity(self._until, packets, run, come, away)


def _table(packets: Sequence[bytes]) -> Table:
    return np.frombuffer(b"".join(packets), np.uint8).reshape(len(packets), -1)


def _telling(table: Table) -> int | None:
    """The column that sorts the rows into kinds, in which the bytes change less; None where no column does."""
    if len(table) < 2 * min(KINDS):
        return None
    best, place = TELLING * _changes([table]), None
    for column in range(table.shape[1]):
        values = np.unique(table[:, column])
        if values.size not in KINDS:
            continue
        changes = _changes([table[table[:, column] == value] for value in values])
        if changes < best:
            best, place = changes, column
    return place


def _changes(parts: Sequence[Table]) -> float:
    """Bytes that change from one row to the next, in the mean over all rows."""
    steps = sum(max(len(part) - 1, 0) for part in parts)
    changed = sum(int((part[1:] != part[:-1]).sum()) for part in parts)
    return changed / steps if steps else 0.0
