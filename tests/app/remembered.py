"""Memories for the tests of `cornerword memory`: small made laps round a circle, kept without an engine."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from coach.app.console import Console
from coach.app.keeping import keeping
from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.engine.learned import Learned
from coach.engine.scatter import Scatter
from coach.vocabulary.events import CornerMark, Lap, Run
from coach.vocabulary.sample import Sample

MORNING = 1_790_064_000.0
"""s since 1970: 2026-09-22 08:00 in UTC"""
DAY = 86_400.0
LENGTH, PLACES = 80.0, 81
MAP = Circuit("m1", LENGTH, (CornerMark(1, "left", 70.0, 75.0, 20.0, 60.0, (20.0, 40.0)),))


def pond_lap(
    seconds: float, number: int = 3, track: str | None = "Round Pond", car: str | None = "Pellow R"
) -> GridLap:
    """A lap round a circle of 80 m, at an even speed."""
    turn = np.linspace(0.0, 2.0 * np.pi, PLACES)
    channels = {
        "speed": np.round(np.full(PLACES, LENGTH / seconds), 4),
        "throttle": np.where(turn > 3.0, 1.0, 0.2),
        "brake": np.where(turn < 0.5, 0.4, 0.0),
        "gear": np.full(PLACES, 2.0),
        "x": np.round(12.7 * np.cos(turn), 4),
        "y": np.round(12.7 * np.sin(turn), 4),
    }
    time = np.round(np.linspace(0.0, seconds, PLACES), 6)
    return GridLap(number, LENGTH, time, np.full(PLACES, 7.9), channels, track, car)


@dataclass(frozen=True, slots=True)
class Ended:
    """A lap that ended; `time` None: not whole."""

    time: float | None
    why_not: tuple[str, ...] = ()


def keep(
    path: Path,
    laps: Iterable[Ended],
    began: float = MORNING,
    driver: str | None = "D. River",
    track: str | None = "Round Pond",
    car: str | None = "Pellow R",
) -> None:
    """A drive of these laps, kept as a live one is."""
    told = io.StringIO()
    with keeping(path, True, Console(told)) as kept:
        assert kept is not None, told.getvalue()
        t = 0.0
        kept.sample(Sample(t, track=track, car=car, driver=driver), began)
        kept.take(Run(t, 0, "0.1.0", "generic", track, car, None, "none"))
        for number, lap in enumerate(laps, 1):
            t += lap.time or 9.0
            kept.sample(Sample(t, track=track, car=car, driver=driver, lap=number + 1), began + t)
            kept.take(Lap(t, number, lap.time, None, lap.time is not None and not lap.why_not, lap.why_not, None, None))
            grid = None if lap.time is None else pond_lap(lap.time, number, track, car)
            scatter = Scatter()
            for value in (69.0, 70.5, 72.0, 70.0):
                scatter.add(1, "brake_point", value)
            kept.take(Learned(t, number, grid, MAP, scatter, scatter.medians(), 81.5))
    assert told.getvalue() == ""


def two_days(path: Path) -> Path:
    """Two sessions of one driver and one of another, in another car."""
    keep(path, [Ended(8.5, ("standing start",)), Ended(8.0), Ended(8.25), Ended(None, ("off_track",)), Ended(8.1)])
    keep(path, [Ended(8.2), Ended(7.9)], MORNING + DAY)
    keep(path, [Ended(8.4)], MORNING + 2 * DAY, "A. Brook", car="Pellow S")
    return path
