"""Several kinds of packet in one stream: what each sent last, kept by the source's time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feeds.layout.unpack import Pool

NEW_RUN = 1.0
"""s by which `t` goes back at a new run: the contract's."""
NAMED_WITHIN = 5.0
"""s of the source's time that a stream waits at its beginning for the kinds that name track, car and driver (choice:
they are sent once in some seconds): a session is begun, and a reference refused, by its names."""


class Kept:
    """What one kind of packet sent last, and what it sent before that: a newer time may have come too early."""

    def __init__(self, width: int, hold: float) -> None:
        self._absent: Pool = (None,) * width
        self._hold = hold
        self._newest: tuple[float, Pool] | None = None
        self._before: tuple[float, Pool] | None = None

    def put(self, t: float, pool: Pool) -> None:
        """Keep values of the time `t` (s)."""
        if self._newest is None or t == self._newest[0]:
            self._newest = (t, pool)
        elif t > self._newest[0]:
            self._before, self._newest = self._newest, (t, pool)
        elif self._before is None or t >= self._before[0]:
            self._before = (t, pool)

    def at(self, t: float) -> Pool:
        """The values that hold at `t`: of that time, or the last before it if they are not too old."""
        newest = self._newest
        if newest is not None and newest[0] > t:
            newest = self._before
        if newest is None or not 0.0 <= t - newest[0] <= self._hold:
            return self._absent
        return newest[1]

    def forget(self) -> None:
        """Nothing is kept."""
        self._newest = self._before = None


class Naming:
    """Whether a stream that begins still waits for the kinds of packet that name track, car and driver."""

    def __init__(self, kinds: Iterable[int]) -> None:
        self._awaited = set(kinds)
        self._since: float | None = None

    def came(self, kind: int) -> None:
        """A packet of this kind came."""
        self._awaited.discard(kind)

    def waits(self, t: float) -> bool:
        """Whether the sample of `t` (s) comes too soon."""
        if not self._awaited:
            return False
        if self._since is None or t < self._since:
            self._since = t
        if t - self._since >= NAMED_WITHIN:
            self._awaited.clear()
        return bool(self._awaited)


class Frames:
    """The time of the stream, and what its kinds of packet but the closing one have sent."""

    def __init__(self, kept: Sequence[Kept]) -> None:
        self._kept = kept
        self.latest: float | None = None
        """s: the greatest `t` of this run so far"""

    def saw(self, t: float) -> None:
        """A packet of the time `t` came; far enough back it is a new run, and nothing of the old one holds."""
        if self.latest is None or t > self.latest:
            self.latest = t
        elif t <= self.latest - NEW_RUN:
            for kept in self._kept:
                kept.forget()
            self.latest = t
