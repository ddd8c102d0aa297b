"""Datagrams in, samples out: what cannot be read is counted and told, never fatal."""

from __future__ import annotations

from collections.abc import Callable

from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.base import Counts, Datagram, Feed


class Intake:
    """Decodes with one feed. `samples` counts those that came through."""

    def __init__(self, feed: Feed, say: Callable[[str], None]) -> None:
        self.feed = feed
        self.dropped = Counts("datagram dropped")
        self.samples = 0
        self._say = say

    def read(self, datagram: Datagram) -> Sample | None:
        """The sample in a datagram, or None where there is none to read."""
        try:
            sample = self.feed.decode(datagram.data)
        except FormatError as error:
            self.dropped.add(error.cause, str(error))
            return None
        self.samples += 1
        return sample

    def tell(self, now: float) -> None:
        """Say what is due of the drops at `now` (s, a clock that does not go back)."""
        for counts in (self.dropped, self.feed.left_out):
            for line in counts.lines(now):
                self._say(line)
