"""Writes what happens in a drive, item by item, inside a transaction of its caller's."""

from __future__ import annotations

import copy
import sqlite3
from dataclasses import dataclass, field
from time import time
from typing import Any

from coach.engine.learned import Learned, Measure
from coach.planner.state import Practised
from coach.store.ending import end_session, join_pieces
from coach.store.merging import merged
from coach.store.naming import label
from coach.store.packing import pack_grid
from coach.store.pieces import pack_samples
from coach.store.plain import body, text_of
from coach.vocabulary.events import Delta, Event, Lap, Passed, Reference, Run, Stage, Stores, Stream, Topic
from coach.vocabulary.sample import Sample
from coach.vocabulary.stages import PACE

LATE = 0.3
"""s: a lap's end is told up to 0.25 s after the line (`engine.lapreport`), by when the next lap has begun; samples that
near to it stay."""
MANY = 1_200
"""pieces of one lap that become one before its end: five minutes of them, or the end of a long drive takes long."""
LEFT = -1
"""for the place of a lap: it was left, and never ended."""
WEATHER = ("wetness", "track_temp", "air_temp")
"""Channels of a sample that are kept once a session."""


@dataclass(slots=True)
class Came:
    """A sample, and when it came (s since 1970)."""

    sample: Sample
    received: float


@dataclass(frozen=True, slots=True)
class Began:
    """A session has begun, with a sample that came at `received` (s since 1970) and follows."""

    run: Run
    received: float


@dataclass(frozen=True, slots=True)
class Taught:
    """What a lap left behind, with its scatter and habits as they were then: both change while this waits."""

    learned: Learned
    scatter: list[Any]
    usual: list[Any]


Item = Came | Began | Taught | Event


@dataclass(slots=True)
class Labels:
    """What is known of the running session from its samples."""

    begun: float
    ended: float
    track: str | None
    car: str | None
    driver: str | None = None
    setup: str | None = None
    kind: str | None = None
    weather: dict[str, float] = field(default_factory=dict)

    @property
    def key(self) -> tuple[str, str, str]:
        """Of `known`: driver, car, track."""
        return self.driver or "", self.car or "", self.track or ""

    def see(self, came: Came) -> None:
        """Of each the last that was sent; of track and car the first, since another one is another session."""
        sample = came.sample
        self.ended = came.received
        self.track, self.car = self.track or label(sample.track), self.car or label(sample.car)
        self.driver = label(sample.driver) or self.driver
        self.setup, self.kind = label(sample.setup) or self.setup, label(sample.session_kind) or self.kind
        for name in WEATHER:
            value = getattr(sample, name)
            if value is not None:
                self.weather[name] = value


@dataclass(slots=True)
class State:
    """Where the writing is. `events` and `laps`: so many of the session so far."""

    session: int | None = None
    labels: Labels | None = None
    events: int = 0
    laps: int = 0
    pieces: int = 0
    """since some were last joined"""
    lap: int | None = None
    """the lap that ended last, by its number in the memory"""
    stage: Stage | None = None
    stores: Stores | None = None
    """the last that is not kept yet"""
    reference: int | None = None
    """the number of the last event that set one"""
    begun: list[int] = field(default_factory=list)
    """the sessions of this drive"""


class SessionWriter:
    """One drive's. Where a transaction fails, its caller puts `state` back as it was (`saved`) and may try again."""

    def __init__(self, memory: sqlite3.Connection, slot: int) -> None:
        self._memory = memory
        self._slot = slot
        self._samples: list[Sample] = []
        self.state = State()

    def saved(self) -> State:
        """What `state` is to be after a rollback."""
        return copy.deepcopy(self.state)

    def write(self, items: list[Item]) -> None:
        """Write them all. May raise sqlite3.Error."""
        self._samples.clear()
        for item in items:
            if isinstance(item, Came):
                if self.state.labels is not None:
                    self.state.labels.see(item)
                    self._samples.append(item.sample)
            elif isinstance(item, Began):
                self._run(item.run, item.received)
            elif isinstance(item, Taught):
                self._taught(item)
            else:
                self._event(item)
        self._flush()
        self._label()

    def end(self) -> None:
        """The drive is over: its session ends in good order."""
        if self.state.session is not None:
            end_session(self._memory, self.state.session, whole=True)
            self.state.session = self.state.labels = None

    def _event(self, event: Event) -> None:
        state = self.state
        if isinstance(event, Stage):
            state.stage = event
            self._keep(event)
        elif isinstance(event, Practised):
            if state.laps:  # else what was known before may not have been recalled yet, and is worth more
                self._know(planner=text_of(event.state))
        elif isinstance(event, Stores):
            first = state.stores is None
            state.stores = event
            if first:
                self._keep(event)
        elif isinstance(event, Lap):
            self._lap(event)
        elif isinstance(event, Measure):
            self._measure(event)
        elif isinstance(event, Stream) and event.what == "rewind":
            self._keep(event)
            self._leave_lap()
        elif (event.logged or isinstance(event, (Passed, Topic))) and not isinstance(event, Delta):
            self._keep(event)

    def _keep(self, event: Event) -> None:
        state = self.state
        if state.session is not None:
            self._memory.execute("INSERT INTO event VALUES (?, ?, ?)", (state.session, state.events, body(event)))
            if isinstance(event, Reference):
                state.reference = state.events
            state.events += 1

    def _run(self, event: Run, now: float) -> None:
        self._flush()
        self._label()
        self.end()
        state = self.state
        labels = Labels(now, now, label(event.track), label(event.car))
        stage = PACE if state.stage is None else state.stage.stage
        added = self._memory.execute(
            "INSERT INTO session (begun, ended, slot, track, car, source, version, stage) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (now, now, self._slot, labels.track, labels.car, event.source, event.version, stage),
        )
        state.session, state.labels, state.lap = added.lastrowid, labels, None
        state.events = state.laps = 0
        state.stores = state.reference = None
        state.begun.append(int(added.lastrowid or 0))
        self._keep(event)
        if state.stage is not None:
            self._keep(state.stage)

    def _lap(self, event: Lap) -> None:
        state = self.state
        if state.session is None:
            return
        if state.stores is not None:
            self._keep(state.stores)
        self._keep(event)
        added = self._memory.execute(
            "INSERT INTO lap (session, place, number, time, clean, why_not) VALUES (?, ?, ?, ?, ?, ?)",
            (state.session, state.laps, event.lap, event.time, int(event.clean), text_of(list(event.why_not))),
        )
        state.lap, state.laps = added.lastrowid, state.laps + 1

    def _measure(self, event: Measure) -> None:
        """The channels of a reference; of a lap of this session, which has its own, only which lap it is."""
        state = self.state
        if state.session is None or state.reference is None:
            return
        grid = pack_grid(event.grid)
        (lap,) = self._memory.execute(
            "SELECT min(lap.id) FROM lap JOIN channels ON channels.lap = lap.id "
            "WHERE session = ? AND number = ? AND grid = ?",
            (state.session, event.grid.number, grid),
        ).fetchone()
        self._memory.execute(
            "INSERT OR REPLACE INTO reference VALUES (?, ?, ?, ?)",
            (state.session, state.reference, lap, grid if lap is None else None),
        )

    def _leave_lap(self) -> None:
        """The source's clock begins anew: the samples so far are of a lap that never ends."""
        self._flush()
        if self.state.session is not None:
            join_pieces(self._memory, self.state.session, LEFT)

    def _taught(self, taught: Taught) -> None:
        state, learned = self.state, taught.learned
        if state.session is None or state.labels is None or state.lap is None:
            return
        self._flush()
        if learned.grid is None:
            join_pieces(self._memory, state.session, state.laps - 1)
        else:
            self._memory.execute("INSERT OR REPLACE INTO channels VALUES (?, ?)", (state.lap, pack_grid(learned.grid)))
            self._memory.execute(
                "DELETE FROM piece WHERE session = ? AND place IS NULL AND ends < ?", (state.session, learned.t - LATE)
            )
        now, circuit = state.labels.ended, learned.circuit
        if circuit is not None:
            self._memory.execute(
                "INSERT INTO circuit VALUES (?, ?, ?, ?) ON CONFLICT (track, map) DO UPDATE SET body = excluded.body, "
                "changed = excluded.changed WHERE excluded.changed >= circuit.changed OR circuit.changed > ?",
                (state.labels.track or "", circuit.name, text_of(circuit.to_json()), now, _tomorrow()),
            )
        scatter, usual = self._memory.execute(
            "SELECT scatter, usual FROM known WHERE driver = ? AND car = ? AND track = ?", state.labels.key
        ).fetchone() or (None, None)
        self._know(scatter=merged(scatter, taught.scatter), usual=merged(usual, taught.usual))
        if learned.warm is not None:
            self._know(warm=learned.warm)

    def _know(self, **values: str | float) -> None:
        """Of the session's driver, car and circuit; `values` by the column's name. The stage goes with it. An old
        recording that is taken in later changes nothing; what a wrong clock has dated beyond tomorrow counts as old."""
        labels, stage = self.state.labels, self.state.stage
        if labels is None:
            return
        if stage is not None:
            values["stage"] = stage.stage
        columns = ", ".join(values)
        marks = ", ".join("?" * len(values))
        news = ", ".join(f"{name} = excluded.{name}" for name in (*values, "changed"))
        self._memory.execute(
            f"INSERT INTO known (driver, car, track, changed, {columns}) VALUES (?, ?, ?, ?, {marks}) "
            f"ON CONFLICT (driver, car, track) DO UPDATE SET {news} "
            "WHERE excluded.changed >= known.changed OR known.changed > ?",
            (*labels.key, labels.ended, *values.values(), _tomorrow()),
        )

    def _flush(self) -> None:
        """Samples that wait become a piece."""
        samples, session = self._samples, self.state.session
        if samples and session is not None:
            times = [sample.t for sample in samples]
            self._memory.execute(
                "INSERT INTO piece (session, begins, ends, samples, columns) VALUES (?, ?, ?, ?, ?)",
                (session, min(times), max(times), len(samples), pack_samples(samples)),
            )
            self.state.pieces += 1
            if self.state.pieces >= MANY:  # a car that goes for a long drive ends no lap
                join_pieces(self._memory, session, None)
                self.state.pieces = 0
        samples.clear()

    def _label(self) -> None:
        """The session's row as its samples say."""
        state, labels = self.state, self.state.labels
        if state.session is None or labels is None:
            return
        stage = PACE if state.stage is None else state.stage.stage
        self._memory.execute(
            "UPDATE session SET ended = ?, track = ?, car = ?, driver = ?, setup = coalesce(?, setup), kind = ?, "
            "stage = ?, conditions = ? WHERE id = ?",
            (
                *(labels.ended, labels.track, labels.car, labels.driver, labels.setup, labels.kind, stage),
                *(text_of(labels.weather), state.session),
            ),
        )


def _tomorrow() -> float:
    """s since 1970: no sample has come later than that."""
    return time() + 86_400.0
