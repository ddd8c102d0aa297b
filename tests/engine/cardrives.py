"""Drives of the built-in car, whose channels hang together as a car's do, with planted mistakes, and what is told.

Driven once and kept: they take a few seconds each.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from functools import cache
from typing import Any

from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.events import Event, Fault
from coach.vocabulary.faults import FAULTS, NET_SPOKEN
from coach.vocabulary.sample import Sample
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import Mistake
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from tests.engine.drives import begin, only

RATE = 60
"""Hz, unless a test is about the rate"""

MISTAKES = (
    Mistake("early_braking", 1, 2, 15.0),
    Mistake("narrow_exit", 1, 4, 3.0),
    Mistake("late_throttle", 1, 7, 0.6),
    Mistake("early_downshift", 2, 1, 900.0),
    Mistake("throttle_lift", 2, 3, 0.5),
    Mistake("narrow_entry", 2, 6, 3.0),
    Mistake("lock_up", 2, 8, 0.5),
)
"""One a corner, none beside another, each of another kind."""

Place = tuple[str, int, int | None]
"""Fault, lap, corner."""


def places(*faults: str) -> list[Place]:
    """Where these faults are planted, all where none is named."""
    return sorted((m.kind, m.lap, m.corner) for m in MISTAKES if not faults or m.kind in faults)


def all_but(*faults: str) -> list[Place]:
    """Where faults other than these are planted."""
    return [place for place in places() if place[0] not in faults]


def _drive(laps: int, rate: int, seed: int, mistakes: Iterable[Mistake] = ()) -> tuple[Sample, ...]:
    spec = DriveSpec(
        brack_mere(), CARS["Pellow R"], PERSONS["steady"], laps, rate, seed, mistakes=tuple(mistakes), run_out=8.0
    )
    made = tuple(_sample(row) for row in Drive(spec))
    gc.freeze()  # kept for the whole run: nothing to be collected, however often the collector looks
    return made


def _sample(row: dict[str, Any]) -> Sample:
    return Sample(**{key: _tuple(value) for key, value in row.items()})


def _tuple(value: Any) -> Any:
    return tuple(map(_tuple, value)) if isinstance(value, list) else value


@cache
def clean() -> tuple[Sample, ...]:
    """Two clean laps: what the reference is from."""
    return _drive(2, RATE, 100)


@cache
def planted() -> tuple[Sample, ...]:
    """Two laps with `MISTAKES`."""
    return _drive(2, RATE, 5, MISTAKES)


@cache
def fast() -> tuple[Sample, ...]:
    """One lap at 360 Hz with the mistakes of lap 1."""
    return _drive(1, 360, 5, [m for m in MISTAKES if m.lap == 1])


@cache
def reference(*lacking: str) -> EngineStart:
    """A start with the better of the two clean laps, without the channels `lacking`."""
    best = study(without(clean(), *lacking), "clean")
    return begin(reference=best.reference, origin="clean", circuit=best.circuit, scatter=best.scatter, usual=best.usual)


def without(stream: Iterable[Sample], *channels: str) -> list[Sample]:
    """The stream as a source without these channels sends it."""
    assert set(channels) <= {field.name for field in fields(Sample)}
    return [replace(s, **dict.fromkeys(channels)) for s in stream] if channels else list(stream)  # type: ignore[arg-type]


def changed(stream: Iterable[Sample], **change: Callable[[Any], Any]) -> list[Sample]:
    """The stream with each named channel passed through a function."""
    return [replace(s, **{name: of(getattr(s, name)) for name, of in change.items()}) for s in stream]


def told(events: Iterable[Event]) -> list[Place]:
    """The faults that may be spoken of: they cost time, or hurt whatever they cost."""
    return sorted(
        (fault.fault, fault.lap, fault.corner)
        for fault in only(events, Fault)
        if FAULTS[fault.fault].whatever or fault.net is None or fault.net >= NET_SPOKEN
    )
