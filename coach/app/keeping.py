"""A drive is kept as it happens: events and samples go to the memory, which never holds up the work."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from operator import attrgetter
from pathlib import Path

import platformdirs

from coach.app.console import Console
from coach.engine.learned import Learned
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.review.results import Thing
from coach.store.memory import Memory
from coach.store.opening import open_beside, open_to_keep, told
from coach.store.reading import clock_time
from coach.store.recalled import Recalled
from coach.store.recalling import recall
from coach.store.slots import hold
from coach.store.writer import Writer
from coach.store.writing import WEATHER, Began, Came, Taught
from coach.vocabulary.errors import CornerwordError
from coach.vocabulary.events import Delta, Event, Moment, Run
from coach.vocabulary.sample import Sample

APART = 0.0075
"""s of the source's clock between two samples that are kept: 120 a second, more than a lap's grid of 1 m shows."""
STANDS, STANDING = 0.5, 1.0
"""m/s under which a car stands, and s between two samples that are kept of it: it may stand for hours."""
_PASSED_OVER = (Moment, Delta)
_labels = attrgetter("track", "car", "driver", "setup", "session_kind", *WEATHER)
"""What the collector reads of a sample: most samples are as the one before."""


def own_file() -> Path:
    """Where the user's memory is."""
    return platformdirs.user_data_path("cornerword", appauthor=False) / "memory.sqlite"


class Keeping:
    """A watcher (it wants what is never logged too), and the samples beside. Where the disk or the file fails, it says
    so once and the drive goes on unkept."""

    def __init__(self, path: Path, writer: Writer, beside: sqlite3.Connection) -> None:
        """`beside`: a connection to read by."""
        self.path = path
        self._writer = writer
        self._beside = beside
        self._collector = Collector(channels=False)
        self._sample: Sample | None = None
        """the last one, not given to the writer yet: a session that it begins comes before it"""
        self._received = 0.0
        self._begun: list[float] = []
        self._kept = float("-inf")
        self._labels: tuple[object, ...] = ()

    @property
    def failure(self) -> str | None:
        """Why nothing is kept any more, in one line."""
        return self._writer.failure

    def sample(self, sample: Sample, received: float) -> None:
        """Take in a sample, before its events; `received` s since 1970."""
        self._give()
        self._sample, self._received = sample, received
        labels = _labels(sample)
        if labels != self._labels:
            self._labels = labels
            self._collector.see(sample)

    def take(self, event: Event) -> None:
        """Take in an event, in order."""
        if isinstance(event, _PASSED_OVER):
            return
        self._collector.take(event)
        if isinstance(event, Learned):
            usual = [[corner, feature, value] for (corner, feature), value in event.usual.items()]
            self._writer.put(Taught(event, event.scatter.to_json(), usual))
        elif isinstance(event, Run):
            self._begun.append(self._received)
            self._writer.put(Began(event, self._received))
        else:
            self._writer.put(event)

    def recall(self, driver: str | None, car: str | None, track: str | None) -> Recalled | None:
        """What is kept of them, None for nothing. Quick (under 50 ms), and never raises."""
        try:
            with told(self.path):
                found = recall(self._beside, driver, car, track)
        except CornerwordError:  # the writer meets it too, and says so
            return None
        return None if found.is_empty else found

    def sessions(self) -> list[KeptSession]:
        """What this drive has come to so far, for the summary; with their numbers in the memory once these are known,
        which they all are when the drive has ended."""
        found = self._collector.sessions
        numbers: list[int | None] = [*self._writer.sessions]
        numbers += [None] * (len(found) - len(numbers))
        ended = [*self._begun[1:], self._received]
        for session, begun, end, number in zip(found, self._begun, ended, numbers, strict=False):
            session.begun, session.ended, session.id = clock_time(begun), clock_time(end), number
        return found

    def told_before(self, session: KeptSession) -> list[Thing]:
        """The things told after the session before this one, of the same driver, car and circuit; none where there is
        none, or it cannot be read. Once the drive has ended."""
        if session.id is None:
            return []
        with suppress(CornerwordError), Memory(self.path) as memory:
            before = memory.before(session.id)
            return [] if before is None else memory.things(before)
        return []

    def _give(self) -> None:
        """The sample before goes to the writer, if it is worth it."""
        sample = self._sample
        if sample is None:
            return
        self._sample = None
        apart = STANDING if sample.speed is not None and sample.speed < STANDS else APART
        if not 0.0 <= sample.t - self._kept < apart:
            self._kept = sample.t
            self._writer.put(Came(sample, self._received))

    def close(self) -> None:
        """Everything is written, and the session ended in good order."""
        self._give()
        with suppress(sqlite3.Error):  # it was only read
            self._beside.close()  # first: the last one to leave makes one file of it, and has to be able to write
        self._writer.close()


@contextmanager
def keeping(file: Path | None, keep: bool, console: Console) -> Iterator[Keeping | None]:
    """Open the memory (`file`, or the user's own) for a drive, and close it in good order; None where it is not to be
    kept, or cannot be, which one line says."""
    kept = _opened(own_file() if file is None else file, console) if keep else None
    if kept is None:
        yield None
        return
    with closing(kept):
        yield kept


def _opened(path: Path, console: Console) -> Keeping | None:
    with ExitStack() as undo:
        try:
            opened = open_to_keep(path)
            undo.callback(opened.memory.close)
            slot = hold(path)
            undo.callback(slot.free)
            beside = open_beside(path)
        except CornerwordError as error:
            console.say(f"{error}; the drive goes on unkept")
            return None
        undo.pop_all()
    for line in opened.notices:
        console.say(line)
    return Keeping(path, Writer(path, opened.memory, slot, console.say), beside)
