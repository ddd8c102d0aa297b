"""The line: samples in, events out in order of time. Live, replay and tests go through this one piece of code."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from coach.engine.engine import Engine
from coach.engine.start import EngineStart
from coach.planner.planner import Planner
from coach.planner.start import PlannerStart
from coach.store.recalled import Labels, Recalled
from coach.vocabulary.actions import DRIVER
from coach.vocabulary.events import Action, Event, Moment, Reference, Stream
from coach.vocabulary.sample import Sample

LOST = 2.0
"""s of receive time without a sample after which the stream is called lost."""
_DIGITS = 6
"""A recording keeps receive times to the microsecond; live they are compared as it will read them."""


class Sink(Protocol):
    """Something that takes in events; it catches what goes wrong inside it, counts it and tells once."""

    def take(self, event: Event) -> None:
        """Take in one event."""
        ...


class Line:
    """Engine and planner wired together, and the sinks that hear them.

    Receive times are used for one thing: the stream was silent for more than `LOST`. That is said at the last sample's
    `t`, so that it reads the same whether it was noticed by the clock (`silence`) or by the next datagram (`push`).
    """

    def __init__(
        self, engine: EngineStart, planner: PlannerStart, sinks: Sequence[Sink], watchers: Sequence[Sink] = ()
    ) -> None:
        """`watchers` hear what is not logged as well: the moments, one a sample."""
        self._engine = Engine(engine)
        self._planner = Planner(planner)
        self._sinks = sinks
        self._watchers = watchers
        self._received: float | None = None
        self._t = 0.0
        self._lap = 0
        self._distance: float | None = None
        self._lost = False
        self._waiting: Recalled | None = None
        """what was recalled before the first sample"""

    def push(self, sample: Sample, received: float) -> None:
        """Take in one sample that came at `received` (s, wall clock)."""
        self.silence(received)
        if self._lost:
            self._lost = False
            self._hear([Stream(self._t, self._lap, "back", self._t, sample.t)])
        self._received = round(received, _DIGITS)
        self._t = sample.t
        self._hear(self._engine.push(sample))
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            self.recall(waiting)

    def silence(self, now: float) -> bool:
        """No sample has come until `now` (s, as the receive times); returns whether that makes the stream lost."""
        if self._received is None or self._lost or round(now, _DIGITS) - self._received <= LOST:
            return False
        self._lost = True
        self._hear([Stream(self._t, self._lap, "lost", self._t, None)])
        return True

    def act(self, action: str, by: str = DRIVER) -> None:
        """The driver or an instructor pressed something."""
        pressed = Action(self._t, self._lap, action, self._distance, by)
        self._hear([pressed])
        self._hear(self._engine.act(pressed))

    def recall(self, recalled: Recalled) -> None:
        """What the memory knows of the session that runs; before the first sample it waits for that. Of another session
        nothing is taken in: it may have ended before the memory's answer came."""
        if self._received is None:
            self._waiting = recalled
            return
        if not self._is_driven(recalled.of):
            return
        if recalled.known is not None:
            self._hear(self._engine.recall(recalled.known))
        self._give(self._planner.recall(recalled.planner, recalled.stage))

    def _is_driven(self, labels: Labels) -> bool:
        """Whether that may be the driver, car and circuit of the session that runs."""
        session = self._engine.session
        return session is not None and session.may_be(*labels)

    def finish(self) -> None:
        """The stream has ended: what engine and planner still hold is said."""
        self._hear(self._engine.finish())
        self._give(self._planner.finish())

    def _hear(self, events: list[Event]) -> None:
        for event in events:
            self._give([event])
            self._give(self._planner.push(event))

    def _give(self, events: list[Event]) -> None:
        for event in events:
            if not isinstance(event, Reference):  # its lap is the reference's own
                self._lap = event.lap
            if isinstance(event, Moment):
                self._distance = event.distance
            if event.logged:
                for sink in self._sinks:
                    sink.take(event)
            for watcher in self._watchers:
                watcher.take(event)
