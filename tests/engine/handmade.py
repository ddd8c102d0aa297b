"""Short pieces of driving made by hand, where every number is chosen: for the tests of pedals, gears and passes."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable

import numpy as np

from coach.engine.faults.base import CornerPass
from coach.engine.gearing import Gearing
from coach.engine.lap import GridLap
from coach.engine.ledger import Bounds
from coach.engine.losses import losses_of
from coach.engine.scatter import Scatter
from coach.engine.shown import Shown
from coach.engine.stretch import Stretch
from coach.engine.tape import CHANNELS, NAN
from coach.vocabulary.events import CornerMark
from coach.vocabulary.sample import Sample

Of = Callable[[float], float] | float
"""A channel as a function of time, or one value all the way."""


def stretch(seconds: float, rate: float = 60.0, speed: Of = 20.0, start: float = 0.0, **channels: Of) -> Stretch:
    """`seconds` s at `rate` Hz from `start` m on, at `speed` m/s; channels not named were not sent."""
    t = [i / rate for i in range(round(seconds * rate) + 1)]
    columns = {name: array("d", [NAN] * len(t)) for name in (*CHANNELS, "front", "rear")}
    for name, of in {"speed": speed, **channels}.items():
        columns[name] = array("d", [of(at) if callable(of) else of for at in t])
    d, v = array("d", [start]), columns["speed"]
    for i in range(1, len(t)):
        pace = [x for x in (v[i - 1], v[i]) if x == x]
        d.append(d[-1] + (sum(pace) / len(pace) if pace else 20.0) / rate)
    return Stretch(array("d", t), d, columns)


def bounds(braking: float, entry: float, apex: float, exit_: float, end: float, linked: bool = False) -> Bounds:
    mark = CornerMark(1, "left", braking, entry, apex, exit_, (apex,), linked)
    return Bounds(mark, braking, braking, braking, entry, apex, exit_, end)


def corner_pass(
    own: Stretch,
    reference: Stretch | None,
    where: Bounds,
    gearing: Gearing | None = None,
    scatter: Scatter | None = None,
    by_marks: bool = True,
    by_gears: bool = True,
    usual: dict[tuple[int, str], float] | None = None,
    shown: Shown | None = None,
) -> CornerPass:
    """`gearing`: what the car has shown of its gears, where no whole `shown` is given."""
    if shown is None:
        shown = Shown()
        if gearing is not None:
            shown.gearing = gearing
    return CornerPass(
        lap=3,
        bounds=where,
        own=own,
        reference=reference,
        by_marks=by_marks,
        by_gears=by_gears,
        shown=shown,
        scatter=scatter or Scatter(),
        usual=usual or {},
        target=reference,
        losses=None if reference is None else losses_of(own, reference, where),
    )


def geared(ratios: dict[int, float], limit: float | None = None) -> Gearing:
    """What a car that was driven in each gear has shown: `ratios` rev/min for each m/s."""
    gearing = Gearing()
    gearing_drive(gearing, ratios, limit)
    return gearing


def gearing_drive(gearing: Gearing, ratios: dict[int, float], limit: float | None, begins: float = 0.0) -> float:
    """Drives 4 s in each gear, all wheels rolling; returns the time at the end."""
    t = begins
    for gear, ratio in ratios.items():
        for i in range(200):
            speed, t = 15.0 + 0.05 * i, t + 0.02
            gearing.watch(
                Sample(
                    t,
                    gear=gear,
                    speed=speed,
                    engine_speed=ratio * speed,
                    engine_speed_max=limit,
                    throttle=0.6,
                    wheel_speed=(speed, speed, speed, speed),
                )
            )
    return t


def grid_lap(length: float, total: float, **channels: Iterable[float]) -> GridLap:
    """A lap at constant speed on a 1 m grid with the channels given on the grid."""
    count = round(length) + 1
    columns = {name: np.asarray(list(values), dtype=np.float64) for name, values in channels.items()}
    return GridLap(1, length, np.linspace(0.0, total, count), np.zeros(count), columns)
