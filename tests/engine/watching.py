"""Samples for what is followed one by one: made by hand with every number chosen, and driven by the built-in car."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import cache

from coach.engine.faults.base import Finding, Watch
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import CARS

Of = Callable[[float], object] | object
"""A channel as a function of time, or one value all the way."""
Told = tuple[float, Finding]
"""When a finding was told, s, and the finding."""

PLANTED = (
    *("lock_up:1:1:0.5", "lock_up:1:3:0.35", "wheelspin:1:8:0.2", "wheelspin:1:12:0.2"),
    *("off_track:1:6:1.0", "off_track:1:10:0.7"),
)
"""On one lap of the built-in circuit: KIND:LAP:CORNER:SIZE."""


def stream(seconds: float, rate: float = 60.0, speed: Of = 25.0, start: float = 100.0, **channels: Of) -> list[Sample]:
    """`seconds` s at `rate` Hz from `start` m on; channels not named were not sent."""
    out: list[Sample] = []
    driven = start
    for i in range(round(seconds * rate) + 1):
        t = i / rate
        values = {name: of(t) if callable(of) else of for name, of in {"speed": speed, **channels}.items()}
        out.append(Sample(t, lap_distance=driven, **values))  # type: ignore[arg-type]
        driven += values["speed"] / rate  # type: ignore[operator]
    return out


def follow(watch: Watch, samples: Iterable[Sample], shown: Shown | None = None) -> list[Told]:
    """What `watch` tells of the samples, at their `lap_distance`."""
    shown = Shown() if shown is None else shown
    out: list[Told] = []
    for sample in samples:
        assert sample.lap_distance is not None
        out += [(sample.t, finding) for finding in watch.watch(sample, sample.lap_distance, shown)]
    return out


@cache
def built_in(car: str, person: str, *mistakes: str) -> tuple[Sample, ...]:
    """One lap of the built-in car, as its datagrams are read."""
    planted = [read_mistake(text) for text in mistakes]
    spec = DriveSpec(brack_mere(), CARS[car], PERSONS[person], 1, 40, 3, mistakes=planted, run_out=2.0)
    rows = [json.loads(encode(row)) for row in Drive(spec)]
    return tuple(Sample(**{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}) for row in rows)


def corner_ahead(distance: float) -> int:
    """The bend of the built-in circuit that is not over at `distance` m: the one that is braked for."""
    return next(c.number for c in brack_mere().corners if c.ends > distance)


def corner_begun(distance: float) -> int:
    """The last bend of the built-in circuit that began before `distance` m."""
    return [c.number for c in brack_mere().corners if c.begins < distance][-1]
