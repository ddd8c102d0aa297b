"""Collects the events of a drive into sessions, live, from a replay or from the memory: one code for the three."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from coach.engine.learned import Learned, Measure
from coach.review.model import KeptLap, KeptSession
from coach.review.places import renumber, same_places
from coach.vocabulary.events import (
    Action,
    Advice,
    Corners,
    Cue,
    Detector,
    Event,
    Fault,
    Lap,
    Loss,
    Passed,
    Reference,
    Run,
    Stage,
    Stores,
    Stream,
    Topic,
)
from coach.vocabulary.sample import Sample
from coach.vocabulary.stages import PACE

Found = Fault | Cue | Passed
T = TypeVar("T", Fault, Cue, Passed)


class Collector:
    """A sink (as a watcher: it wants what is never logged too). A new `Run` begins another session.

    What happens in a lap is told while it runs or shortly after it has ended. It waits, as `loose`, until its lap's
    own event is there; what a lap that never ends has found stays loose.
    """

    def __init__(self, channels: bool = True) -> None:
        """`channels`: laps and reference keep theirs (about 0.3 MB each); without, a long drive stays small."""
        self._channels = channels
        self.sessions: list[KeptSession] = []
        self._since = 0
        """the first lap of this run: a source counts anew in each, so no earlier one is meant by a number"""
        self._settled = (0, 0, 0)
        """so many loose faults, cues and passes are of runs before this one"""
        self._moved: int | None = None
        """the lap in which the car was put somewhere else: maybe a new run"""
        self._fuel: float | None = None
        self._fuel_before: float | None = None
        """L, at the end of the lap before"""
        self._left: Stores | None = None
        self._stage = PACE
        self._sample: Sample | None = None
        self._takes: dict[type[Event], Callable[[KeptSession, Any], None]] = {
            Lap: self._lap,
            Loss: _loss,
            Learned: self._learned,
            Fault: self._found,
            Cue: self._found,
            Passed: self._found,
            Stores: self._stores,
            Stage: self._staged,
            Topic: _topic,
            Reference: _reference,
            Measure: self._measure,
            Corners: _corners,
            Detector: _detector,
            Stream: self._stream,
            Advice: lambda session, event: session.advice.append(event),
            Action: lambda session, event: session.actions.append(event),
        }

    def see(self, sample: Sample) -> None:
        """Take in a sample before its events: what no event says, who drives, with which setup and in what weather.

        Of each the last that was sent holds.
        """
        self._sample = sample
        if self.sessions and not _is_of_another(self.sessions[-1], sample):
            _label(self.sessions[-1], sample)

    def take(self, event: Event) -> None:
        """Take in one event; what belongs to no session yet is passed over. Never raises."""
        if isinstance(event, Run):
            self._run(event)
            return
        if not self.sessions:
            return
        session = self.sessions[-1]
        if not isinstance(event, (Reference, Fault)):
            self._look_whether_new(session, event)
        take = self._takes.get(type(event))
        if take is not None:
            take(session, event)

    def _run(self, event: Run) -> None:
        session = KeptSession(track=event.track, car=event.car, source=event.source, version=event.version)
        session.stage = self._stage
        if self._sample is not None:
            _label(session, self._sample)
        self.sessions.append(session)
        self._since, self._settled, self._moved = 0, (0, 0, 0), None
        self._fuel = self._fuel_before = self._left = None

    def _lap(self, session: KeptSession, event: Lap) -> None:
        if self._moved is not None and event.lap >= self._moved:
            self._moved = None
        fuel = None
        if self._fuel is not None and self._fuel_before is not None and self._fuel <= self._fuel_before:
            fuel = self._fuel_before - self._fuel
        self._fuel_before = self._fuel
        lap = KeptLap(
            number=event.lap,
            index=len(session.laps),
            t=event.t,
            time=event.time,
            clean=event.clean,
            why_not=tuple(event.why_not),
            delta=event.delta,
            reference_time=event.reference_time,
            stage=self._stage,
            fuel=fuel,
            stores=self._left,
        )
        faults, cues, passes = self._settled
        lap.faults += _taken(session.loose_faults, faults, event.lap)
        lap.cues += _taken(session.loose_cues, cues, event.lap)
        lap.passes += _taken(session.loose_passes, passes, event.lap)
        session.laps.append(lap)

    def _learned(self, session: KeptSession, event: Learned) -> None:
        lap = _lap_of(session, event.lap)
        if lap is not None and self._channels:
            lap.grid = event.grid
        if event.circuit is not None and session.length is None:
            session.length = event.circuit.length

    def _measure(self, session: KeptSession, event: Measure) -> None:
        if self._channels:
            session.reference = event.grid

    def _found(self, session: KeptSession, event: Found) -> None:
        lap = next((lap for lap in reversed(session.laps[self._since :]) if lap.number == event.lap), None)
        if isinstance(event, Fault):
            (session.loose_faults if lap is None else lap.faults).append(event)
        elif isinstance(event, Cue):
            (session.loose_cues if lap is None else lap.cues).append(event)
        else:
            (session.loose_passes if lap is None else lap.passes).append(event)

    def _stores(self, session: KeptSession, event: Stores) -> None:
        self._left = event
        if event.fuel is not None:
            self._fuel = event.fuel

    def _staged(self, session: KeptSession, event: Stage) -> None:
        self._stage = session.stage = event.stage

    def _stream(self, session: KeptSession, event: Stream) -> None:
        session.stream[event.what] += event.count
        if event.what == "rewind":
            self._begin_anew(session)
        elif event.what == "reset":
            self._moved = event.lap

    def _look_whether_new(self, session: KeptSession, event: Event) -> None:
        """A reset within a lap goes on counting; one to a new run begins at a lower number."""
        if self._moved is None:
            return
        of_the_last = isinstance(event, (Lap, Loss, Learned, Advice))  # told up to a quarter second behind its end
        if event.lap < self._moved - of_the_last:
            self._begin_anew(session)
        elif event.lap > self._moved:
            self._moved = None

    def _begin_anew(self, session: KeptSession) -> None:
        self._since = len(session.laps)
        self._settled = len(session.loose_faults), len(session.loose_cues), len(session.loose_passes)
        self._moved = self._fuel_before = None


def _taken(loose: list[T], settled: int, lap: int) -> list[T]:
    """What waits for the lap `lap`, taken out of `loose`.

    A count that a source corrects on the way leaves lower numbers behind, which are of the same lap.
    """
    mine = [found for found in loose[settled:] if found.lap <= lap]
    loose[settled:] = [found for found in loose[settled:] if found.lap > lap]
    return mine


def _lap_of(session: KeptSession, number: int) -> KeptLap | None:
    """The lap that ended last, where it has this number: its losses and channels come right behind it."""
    return session.laps[-1] if session.laps and session.laps[-1].number == number else None


def _loss(session: KeptSession, event: Loss) -> None:
    lap = _lap_of(session, event.lap)
    if lap is not None:
        lap.parts = tuple(event.parts)


def _topic(session: KeptSession, event: Topic) -> None:
    session.topic = event.fault


def _reference(session: KeptSession, event: Reference) -> None:
    session.reference_time, session.reference_origin, session.reference = event.time, event.origin, None


def _corners(session: KeptSession, event: Corners) -> None:
    renumber(session, same_places(session.corners, event.corners))
    session.map, session.corners = event.map, tuple(event.corners)
    if event.trace.length > 0.0:
        session.length = event.trace.length


def _detector(session: KeptSession, event: Detector) -> None:
    if event.on:
        session.off.pop(event.name, None)
    else:
        session.off[event.name] = event.lacks
        if event.name == "reference":  # it was of another circuit
            session.reference_time = session.reference_origin = session.reference = None


def _is_of_another(session: KeptSession, sample: Sample) -> bool:
    """Whether a `Run` is about to come: the sample names another driver, car or circuit."""
    pairs = ((session.track, sample.track), (session.car, sample.car), (session.driver, sample.driver))
    return any(old and new and old != new for old, new in pairs)


def _label(session: KeptSession, sample: Sample) -> None:
    session.track, session.car = session.track or sample.track, session.car or sample.car
    session.driver = sample.driver or session.driver
    session.setup = sample.setup or session.setup
    session.kind = sample.session_kind or session.kind
    for name in ("wetness", "track_temp", "air_temp"):
        value = getattr(sample, name)
        if value is not None:
            session.conditions[name] = value
