"""Drives of the invented circuit as samples, and what the engine makes of them: shared by the engine's tests."""

from __future__ import annotations

import gc
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cache
from typing import Any, TypeVar

from coach.engine.engine import Engine
from coach.engine.learned import Learned, Measure
from coach.engine.start import EngineStart
from coach.engine.study import study
from coach.vocabulary.events import Event, Lap, Moment, Stream, record
from coach.vocabulary.sample import Sample
from tests.make_stream import Circuit, Drive, Row, make_drive, test_loop, without

E = TypeVar("E", bound=Event)

OWN_TIMES = ("lap_time", "last_lap_time")


@cache
def loop() -> Circuit:
    return test_loop()


@cache
def drive(laps: int = 3, rate: float = 50.0, **more: float) -> Drive:
    """A drive on `loop()`; equal arguments give the same object, so leave its rows as they are."""
    return make_drive(loop(), laps, rate, **more)  # type: ignore[arg-type]


def samples(rows: Iterable[Row]) -> list[Sample]:
    """The rows as they come out of JSON: their numbers and lists are those of JSON already."""
    return [Sample(**{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}) for row in rows]


@cache
def told(laps: int = 3, rate: float = 50.0, *lacking: str, **more: float) -> tuple[Sample, ...]:
    """The samples of `drive(laps, rate, **more)` without the channels `lacking`."""
    made = tuple(samples(without(drive(laps, rate, **more).rows, *lacking)))
    gc.freeze()  # kept for the whole run: nothing to be collected, however often the collector looks
    return made


def begin(**more: object) -> EngineStart:
    return EngineStart(version="0", source="test", phrases="test", **more)  # type: ignore[arg-type]


@cache
def learned() -> EngineStart:
    """A start with a reference: the best lap of a plain drive, and its map."""
    best = study(told(2), "plain")
    return begin(reference=best.reference, origin="plain", circuit=best.circuit, scatter=best.scatter)


def recorded(events: Iterable[Event]) -> list[dict[str, Any]]:
    """What the event log says of them."""
    return [record(event) for event in events if event.logged]


def run(stream: Iterable[Sample], start: EngineStart | None = None) -> list[Event]:
    """All events but the moments, the engine's last words included."""
    return run_through(stream, start)[0]


def run_through(stream: Iterable[Sample], start: EngineStart | None = None) -> tuple[list[Event], Engine]:
    engine = Engine(begin() if start is None else start)
    events = [event for sample in stream for event in engine.push(sample)]
    events += engine.finish()
    return [event for event in events if not isinstance(event, Moment)], engine


def only(events: Iterable[Event], kind: type[E]) -> list[E]:
    return [event for event in events if isinstance(event, kind)]


def streams(events: Iterable[Event], *what: str) -> list[Stream]:
    """The stream events, of one `what` where given."""
    return [event for event in only(events, Stream) if not what or event.what in what]


def laps(events: Iterable[Event]) -> dict[int, Lap]:
    """The lap events by number; no number twice."""
    found = only(events, Lap)
    assert len({lap.lap for lap in found}) == len(found), [lap.lap for lap in found]
    return {lap.lap: lap for lap in found}


def changed(stream: Sequence[Sample], where: Callable[[Sample], bool], **channels: object) -> list[Sample]:
    """The stream with some channels set in the samples that `where` chooses."""
    return [replace(s, **channels) if where(s) else s for s in stream]  # type: ignore[arg-type]


def moved(stream: Iterable[Sample], aside: Callable[[float], float]) -> list[Sample]:
    """The car `aside(progress)` m further left, progress in laps (lap 2 begins at 2.0): x, y and the edges."""
    out = []
    for s in stream:
        assert s.lap is not None and s.lap_distance is not None and s.track_length is not None
        assert s.x is not None and s.y is not None and s.yaw is not None
        assert s.edge_left is not None and s.edge_right is not None
        off = aside(s.lap + s.lap_distance / s.track_length)
        out.append(
            replace(
                s,
                x=s.x - off * math.sin(s.yaw),
                y=s.y + off * math.cos(s.yaw),
                edge_left=s.edge_left - off,
                edge_right=s.edge_right + off,
            )
        )
    return out


def at(stream: Sequence[Sample], lap: int, distance: float) -> int:
    """Index of the first sample of `lap` at or beyond `distance` m."""
    return next(i for i, s in enumerate(stream) if s.lap == lap and (s.lap_distance or 0.0) >= distance)


def shifted(stream: Iterable[Sample], seconds: float, laps: int = 0) -> list[Sample]:
    """The stream with its clock moved on, and its lap count too."""
    return [replace(s, t=round(s.t + seconds, 4), lap=None if s.lap is None else s.lap + laps) for s in stream]


def then(first: Sequence[Sample], second: Sequence[Sample], laps: int = 0, silence: float = 0.04) -> list[Sample]:
    """`second` joined to the end of `first`, `silence` s after it."""
    return [*first, *shifted(second, first[-1].t + silence - second[0].t, laps)]


def plain(event: Event) -> Any:
    """The event as plain values, with the laps that some which are never logged carry."""
    if isinstance(event, Learned):
        return [event.lap, None if event.grid is None else event.grid.to_json(), event.scatter.to_json()]
    return [event.lap, event.origin, event.grid.to_json()] if isinstance(event, Measure) else record(event)
