"""Laps of constant acceleration, piece by piece: time and speed by place in closed form, and samples of them."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate

from coach.engine.engine import Engine
from coach.engine.ledger import Ledger
from coach.engine.start import EngineStart
from coach.engine.study import Studied, study
from coach.vocabulary.events import Event
from coach.vocabulary.sample import Sample

Place = Callable[[float], tuple[float, float]]
"""m along the lap -> x, y in m"""


class Motion:
    """A lap that begins at `speed` m/s and is driven in `legs` of (m, m/s^2), one behind the other."""

    def __init__(self, speed: float, legs: Sequence[tuple[float, float]]) -> None:
        self.accelerations = [a for _, a in legs]
        self.places = [0.0, *accumulate(length for length, _ in legs)]
        self.speeds = [speed]
        self.times = [0.0]
        for length, a in legs:
            before = self.speeds[-1]
            after = math.sqrt(before * before + 2.0 * a * length)
            self.speeds.append(after)
            self.times.append(self.times[-1] + 2.0 * length / (before + after))

    @property
    def length(self) -> float:
        """m"""
        return self.places[-1]

    @property
    def total(self) -> float:
        """s"""
        return self.times[-1]

    def leg(self, place: float) -> int:
        return min(bisect_right(self.places, place), len(self.places) - 1) - 1

    def speed(self, place: float) -> float:
        """m/s at `place` m."""
        i = self.leg(place)
        return math.sqrt(self.speeds[i] ** 2 + 2.0 * self.accelerations[i] * (place - self.places[i]))

    def time(self, place: float) -> float:
        """s at which `place` m is reached."""
        i = self.leg(place)
        return self.times[i] + 2.0 * (place - self.places[i]) / (self.speeds[i] + self.speed(place))

    def place(self, time: float) -> float:
        """m at `time` s."""
        i = min(bisect_right(self.times, time), len(self.times) - 1) - 1
        since = time - self.times[i]
        return self.places[i] + self.speeds[i] * since + 0.5 * self.accelerations[i] * since**2


def samples(motions: Sequence[Motion], rate: float, path: Place | None = None) -> Iterator[Sample]:
    """The laps `motions`, driven one after the other and sampled at `rate` Hz; the first is lap 0."""
    begins = [0.0, *accumulate(motion.total for motion in motions)]
    for count in range(math.ceil(begins[-1] * rate)):
        t = count / rate
        lap = bisect_right(begins, t) - 1
        motion = motions[lap]
        place = min(motion.place(t - begins[lap]), motion.length - 1e-9)
        pull = motion.accelerations[motion.leg(place)]
        yield Sample(
            t,
            lap=lap,
            lap_distance=place,
            track_length=motion.length,
            x=None if path is None else path(place)[0],
            y=None if path is None else path(place)[1],
            speed=motion.speed(place),
            throttle=1.0 if pull > 0.0 else 0.3 if pull == 0.0 else 0.0,
            brake=-pull / 15.0 if pull < 0.0 else 0.0,
        )


def reference_of(motion: Motion, rate: float, path: Place | None = None) -> Studied:
    """The lap as a reference, read from its samples by the engine itself."""
    return study(samples([motion, motion, motion], rate, path), "made")


def drive(motion: Motion, known: Studied, before: Motion, rate: float, path: Place | None = None) -> list[Event]:
    """The engine's events of lap 1, `motion`, behind a lead-in lap `before` and followed by it."""
    begin = EngineStart("0", "made", "none", known.reference, "made", known.circuit, known.scatter, known.usual)
    engine = Engine(begin)
    events = [e for sample in samples([before, motion, before], rate, path) for e in engine.push(sample)]
    return events + engine.finish()


def ledger_of(known: Studied) -> Ledger:
    """The ledger that the engine makes of what is known."""
    return Ledger(known.circuit, known.reference)
