"""Datagrams in, samples out: what cannot be read is counted and told, never fatal."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from coach.app.console import plain
from coach.store.recalled import Recalled
from coach.vocabulary.errors import FormatError
from coach.vocabulary.sample import Sample
from feeds.base import Counts, Datagram, Feed
from feeds.paths import on_one_line
from feeds.registry import LAYOUT

SHOWN = 200
"""characters of what was wrong that are shown."""


class Intake:
    """Decodes with one feed. `samples` counts those that came through, `unfinished` the good datagrams whose values
    wait for another."""

    def __init__(self, feed: Feed, say: Callable[[str], None]) -> None:
        self.feed = feed
        self.dropped = Counts("datagram dropped")
        self.unread = Counts("what was remembered is left out")
        self.samples = self.unfinished = 0
        self._say = say

    def read(self, datagram: Datagram) -> Sample | None:
        """The sample in a datagram, or None where there is none to read."""
        try:
            sample = self.feed.decode(datagram.data, datagram.received)
        except FormatError as error:
            self.dropped.add(error.cause, str(error))
            return None
        self.samples += sample is not None
        self.unfinished += sample is None
        return sample

    def recalled(self, data: dict[str, Any]) -> Recalled | None:
        """What a memory knew, from a recording or a drive that is followed; None where it cannot be read."""
        try:
            return Recalled.from_json(data)
        except FormatError as error:
            self.unread.add("it cannot be read", plain(str(error), SHOWN))
            return None

    def tell(self, now: float) -> None:
        """Say what is due of the drops at `now` (s, a clock that does not go back)."""
        for counts in (self.dropped, self.unread, self.feed.left_out):
            for line in counts.lines(now):
                self._say(line)


def nothing_read(file: Path, feed: str, intake: Intake) -> str:
    """Why no sample came out of a file that was read as `feed`."""
    causes = ", ".join(f"{number} {cause}" for cause, number in intake.dropped.by_cause().items())
    if causes:
        what = f"none of its datagrams could be read ({causes})"
    else:
        what = "no packet in it completes a sample" if intake.unfinished else "it holds no datagram"
    mend = f'give a recording of the feed "{feed}", or say with --layout what its packets are made of'
    if feed == LAYOUT:
        mend = "correct the layout, or give another with --layout"
    return f"{on_one_line(file)}: {what}: {mend}"
