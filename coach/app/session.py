"""A live session: what is done with the datagrams and samples that come: recording, passing on, coaching."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Protocol

from coach.app.console import Console
from coach.app.eventlog import EventLog
from coach.app.line import Line, Sink
from coach.app.recalling import Recalling
from coach.app.start import SessionStart
from coach.store.recalled import Recalled
from coach.vocabulary.actions import DRIVER
from coach.vocabulary.errors import WorkError
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.passon import PassOn
from feeds.recording import RecordingWriter
from feeds.sharing import Share


class Keeps(Sink, Protocol):
    """Something that keeps a drive: it has each sample before its events."""

    def sample(self, sample: Sample, received: float) -> None:
        """Take in a sample."""
        ...


class Session:
    """Coaches from `start` into `sinks`, and records; without sinks it only records.

    A disk that fails ends the recording (`failure` says why) and nothing else.
    """

    def __init__(
        self,
        start: SessionStart,
        sinks: list[Sink],
        recorder: RecordingWriter | None,
        console: Console,
        watchers: Sequence[Sink] = (),
        passing: PassOn | None = None,
        sharing: Share | None = None,
        keeping: Keeps | None = None,
        recalling: Recalling | None = None,
    ) -> None:
        """`watchers` hear what is not logged as well. `keeping` has every sample, and hears all; what it knows is asked
        for by `recalling`, None not at all."""
        self.failure: WorkError | None = None
        self.recorded = 0
        self._sinks = sinks
        self._logs = [sink for sink in sinks if isinstance(sink, EventLog)]
        self._recorder = recorder
        self._console = console
        self._passing = passing
        self._sharing = sharing
        self._keeping = keeping
        self._recalling = recalling
        hearing = [*watchers, *([] if keeping is None else [keeping]), *([] if recalling is None else [recalling])]
        self._line = Line(start.engine, start.planner, sinks, hearing) if sinks else None

    @property
    def over(self) -> bool:
        """Whether there is nothing left to do: it only records, and the disk has failed."""
        return self._line is None and self.failure is not None

    def keep(self, datagram: Datagram) -> None:
        """Write a datagram to the recording, and pass it on."""
        if self._passing is not None:
            self._passing.send(datagram.data)
        if self._sharing is not None:
            self._sharing.datagram(datagram.received, datagram.data)
        recorder = self._recorder
        if recorder is not None:
            self._recording(lambda: recorder.datagram(datagram.received, datagram.data))
            self.recorded += self.failure is None

    def keep_action(self, received: float, action: str, by: str = DRIVER) -> None:
        """Write to the recording what was pressed at `received` s, and pass it on."""
        if self._sharing is not None:
            self._sharing.action(received, action, by)
        recorder = self._recorder
        if recorder is not None:
            self._recording(lambda: recorder.action(received, action, by))

    def keep_recalled(self, received: float, recalled: Recalled) -> None:
        """Write to the recording what the memory knew at `received` s, and pass it on."""
        recorder, sharing = self._recorder, self._sharing
        if recorder is None and sharing is None:
            return
        plain = recalled.to_json()
        if sharing is not None:
            sharing.recalled(received, plain)
        if recorder is not None:
            self._recording(lambda: recorder.recalled(received, plain))

    def coach(self, sample: Sample, received: float) -> Recalled | None:
        """Take a sample through engine and planner. Returns what the memory knows where it was asked now: give it to
        `keep_recalled` and `recall` at one place between the datagrams."""
        if self._sharing is not None:
            self._sharing.has_begun = True
        if self._line is None:
            return None
        if self._keeping is not None:
            self._keeping.sample(sample, received)
        self._line.push(sample, received)
        return None if self._recalling is None else self._recalling.ask(sample)

    def recall(self, recalled: Recalled) -> None:
        """Take what the memory knew through engine and planner."""
        if self._line is not None:
            self._line.recall(recalled)

    def act(self, action: str, by: str = DRIVER) -> None:
        """Take what was pressed through engine and planner."""
        if self._line is not None:
            self._line.act(action, by)

    def tick(self, now: float, idle: bool) -> None:
        """Time has gone on to `now` (s, the receive clock); `idle`: all that came was worked through."""
        lost = self._line is not None and idle and self._line.silence(now)
        if lost and self._sharing is not None:
            self._sharing.silence(now)
        recorder = self._recorder
        if recorder is not None:
            self._recording(lambda: recorder.silence(now) if lost else recorder.tick(now))
        for log in self._logs:
            log.tick()
        if self._passing is not None:
            for line in self._passing.drops.lines(now):
                self._console.say(line)

    def finish(self, now: float) -> None:
        """The end in good order: what engine and planner still hold is said."""
        if self._line is not None:
            self._line.silence(now)
            self._line.finish()

    def close(self, now: float) -> None:
        """Close the recording, however the session ended, and tell those who follow."""
        if self._sharing is not None:
            self._sharing.end(now)
        recorder = self._recorder
        if recorder is not None:
            self._recording(lambda: recorder.close(now))

    def _recording(self, write: Callable[[], None]) -> None:
        try:
            write()
        except WorkError as error:
            self._recorder = None
            self.failure = error
            if self._sinks:
                self._console.say(f"{error}; the session goes on without it")


@contextmanager
def ended(session: Session, clock: Callable[[], float]) -> Iterator[Session]:
    """The session, finished where nothing went wrong, and closed in any case. One time for both: a replay and those who
    follow know that of the closing, and finish by it."""
    now = None
    try:
        yield session
        now = clock()
        session.finish(now)
    finally:
        session.close(clock() if now is None else now)
