"""The engine: samples in, events out. No clock, no I/O, no global state; the same samples give the same events."""

from __future__ import annotations

from coach.engine.known import Known
from coach.engine.references import Prepared
from coach.engine.session import Session
from coach.engine.start import EngineStart
from coach.vocabulary.events import Action, Event, Stream
from coach.vocabulary.sample import Sample


class Engine:
    """Holds the session that runs, and begins another when track, car or driver change."""

    def __init__(self, start: EngineStart) -> None:
        self._start = start
        self._prepared = Prepared.of(start)
        self.session: Session | None = None

    def push(self, sample: Sample) -> list[Event]:
        """Takes one sample in, returns what it showed, in order of time. Never raises on any finite sample."""
        session = self.session
        if session is None:
            session = self.session = Session(self._start, self._prepared, sample)
            return session.opening() + session.push(sample)
        if session.changed(sample):
            events = session.finish()
            events.append(Stream(sample.t, sample.lap if sample.lap is not None else 0, "source", None, sample.t))
            session = self.session = Session(self._start, self._prepared, sample)
            return events + session.opening() + session.push(sample)
        return session.push(sample)

    def act(self, action: Action) -> list[Event]:
        """The driver pressed something: what follows from it."""
        return [] if self.session is None else self.session.act(action)

    def recall(self, known: Known) -> list[Event]:
        """What the memory knows of the session that runs: what follows from it. Another session begins without it."""
        return [] if self.session is None else self.session.recall(known)

    def finish(self) -> list[Event]:
        """The stream ended: the events still held back."""
        return [] if self.session is None else self.session.finish()
