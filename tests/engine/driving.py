"""Made drives pushed through the real engine, with the truth beside them: for the tests of corners and faults."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import cache

from coach.engine.engine import Engine
from coach.engine.lap import GridLap
from coach.engine.start import EngineStart
from coach.engine.study import Studied, study
from coach.vocabulary.events import Event, Fault, Lap
from coach.vocabulary.sample import Sample
from tests.make_stream import Arc, Circuit, Drive, Mistake, Row, Straight, make_drive

RATE = 50.0
"""Hz, unless a test is about the rate"""

RIGHT, LEFT_OF_PAIR, RIGHT_OF_PAIR, HAIRPIN, KINK, FAST_LEFT, ESSE_RIGHT, LAST = range(1, 9)
"""The arcs of `loop()` in the order driven."""


@cache
def loop() -> Circuit:
    """The invented circuit of these tests, 2.4 km, narrow, so that its kink stays a bend on the driver's line.

    A fast right, a left-right pair, a hairpin, a kink that is taken flat, a fast left, a right and a last right.
    """
    turn = math.radians
    return Circuit(
        [
            *(Straight(260.0, fit=True), Arc(55.0, turn(-95)), Straight(230.0, fit=True)),
            *(Arc(38.0, turn(70)), Straight(12.0), Arc(38.0, turn(-70)), Straight(260.0)),
            *(Arc(18.0, turn(-150), 14.0), Straight(170.0), Arc(240.0, turn(30), 30.0), Straight(140.0)),
            *(Arc(70.0, turn(50)), Straight(120.0), Arc(60.0, turn(-80)), Straight(200.0)),
            *(Arc(40.0, turn(-115)), Straight(240.0)),
        ],
        width=8.0,
        name="loop-k",
    )


@cache
def lap_of(
    *mistakes: Mistake,
    rate: float = RATE,
    seed: int = 7,
    scatter: float = 0.0,
    wander: float = 0.0,
    laps: int = 1,
) -> Drive:
    """A flying drive of `laps` laps on `loop()`; lap 1 is the first whole one. Clean but for `mistakes`.

    Made once and kept: tests read it and do not change it.
    """
    return make_drive(loop(), laps, rate, mistakes, seed, scatter, wander, standing=False)


@cache
def practice() -> Drive:
    """Three laps of a driver with a usual scatter: what the reference and the driver's own band come from."""
    return lap_of(seed=3, scatter=0.008, wander=0.2, laps=3)


@cache
def studied() -> Studied:
    """The best lap of `practice()`, its map and scatter."""
    return study(samples(practice().rows), "practice")


def samples(rows: Iterable[Row]) -> Iterator[Sample]:
    """The rows as a feed hands them over."""
    for row in rows:
        known = {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}
        yield Sample(**known)


def start(known: Studied | None = None) -> EngineStart:
    """What an engine starts from: nothing, or a run that was studied."""
    if known is None:
        return EngineStart("0", "made", "none")
    return EngineStart("0", "made", "none", known.reference, "practice", known.circuit, known.scatter, known.usual)


def play(rows: Iterable[Row], known: Studied | None = None) -> list[Event]:
    """All events of an engine that is pushed `rows`."""
    return push(samples(rows), start(known))


def push(stream: Iterable[Sample], begin: EngineStart) -> list[Event]:
    """All events of an engine that is pushed `stream`."""
    engine = Engine(begin)
    events = [event for sample in stream for event in engine.push(sample)]
    return events + engine.finish()


def faults(events: Iterable[Event]) -> list[Fault]:
    return [event for event in events if isinstance(event, Fault)]


def laps(events: Iterable[Event]) -> list[Lap]:
    return [event for event in events if isinstance(event, Lap)]


def surveyed(rows: Iterable[Row]) -> GridLap:
    """The best clean lap in `rows`, resampled."""
    return study(samples(rows), "made").reference


def moved_line(rows: Iterable[Row], by: float, length: float) -> list[Row]:
    """The same drive on a circuit whose start line lies `by` m further on, without the source's own lap times."""
    moved = []
    for row in rows:
        row = {key: value for key, value in row.items() if key not in ("lap_time", "last_lap_time")}
        row["lap"] -= int(row["lap_distance"] < by)
        row["lap_distance"] = float((row["lap_distance"] - by) % length)
        moved.append(row)
    return moved


@cache
def lap_from(line: float) -> GridLap:
    """The best lap of `practice()` with the start line `line` m further on."""
    return surveyed(moved_line(practice().rows, line, loop().length))


def corner_of(known: Studied, arc: int, line: float = 0.0) -> int:
    """The map's number of arc `arc` of `loop()`; `line` m is where the start line was moved to."""
    middle = next(c.middle for c in loop().corners if c.number == arc) - line
    length = known.circuit.length

    def away(apex: float) -> float:
        gap = abs(apex - middle) % length
        return min(gap, length - gap)

    mark = min(known.circuit.marks, key=lambda m: away(m.apex))
    assert away(mark.apex) < 40.0, f"no corner on the map near {middle:.0f} m"
    return mark.corner
