"""The day is not the fault: how much grip there is today beside the reference's day, and whether the tyres are warm."""

from __future__ import annotations

from collections import deque
from copy import copy
from dataclasses import dataclass
from math import ceil, exp, floor

import numpy as np

from coach.engine.grip import BEND, Forces, GripShown, forces, stretches
from coach.engine.lap import Floats, GridLap
from coach.engine.tape import Tape
from coach.vocabulary.sample import Sample

POORER = 0.05
"""of the reference's grip: with less than the rest of it the day is another one (design)."""
CLEARLY = 0.1
"""of the reference's grip: so much less is no careful lap, and one lap is enough to tell (choice)."""
LAPS = 2
"""Laps that count, of which each bend's better pass: who is careful in one lap need not be in the other."""
BEST = 0.75
"""The quantile of the bends that is taken: a day takes grip everywhere, a driver leaves it here and there (choice)."""
AT_LIMIT = 0.8
"""of the reference's own limit: a bend that asked less of it, flat out as a rule, does not tell how much there is."""
ENOUGH = 3
"""Bends at the limit that make a day."""

LOOK = 0.5
"""s between two looks at the tyres: they change slowly."""
SETTLES = 10.0
"""s, time constant: a tread flashes hotter in each corner."""
STINT, STEADY = 3, 3.0
"""Laps in a row whose means lie within so many K: these tyres get no warmer, however warm others were (choice)."""
COLD = 15.0
"""K under what the tyres have when warm. A tyre for the road or the track changes its friction by some per cent over
that much (choice)."""


@dataclass(slots=True, frozen=True)
class Bend:
    """A bend that the reference took at its limit: from `begins` to `ends`, parts of the way round, pulling `most`
    m/s^2 at `place` m, where it had `speed` m/s."""

    begins: float
    ends: float
    most: float
    place: float
    speed: float


class Day:
    """Holds the grip of the last laps against that of the reference, bend by bend."""

    def __init__(self, reference: GridLap) -> None:
        self._bends: list[Bend] = []
        self._laps: deque[Floats] = deque(maxlen=LAPS)
        seen = forces(reference)
        if seen is not None:
            self._bends = _at_limit(reference, seen)

    def anew(self) -> Day:
        """The same reference's, before any lap: it is read once, however many sessions are held against it."""
        other = copy(self)
        other._laps = deque(maxlen=LAPS)
        return other

    def add(self, lap: GridLap) -> None:
        """One more whole lap on the road, driven on warm tyres."""
        seen = forces(lap)
        if seen is not None and len(self._bends) >= ENOUGH:
            last = len(seen.across) - 1
            shown = [
                float(seen.across[floor(bend.begins * last) : ceil(bend.ends * last) + 1].max()) / bend.most
                for bend in self._bends
            ]
            self._laps.append(np.array(shown))

    def grip(self) -> float | None:
        """Today's grip as a share of the reference's; None as long as it cannot be told."""
        if not self._laps:
            return None
        grip = float(np.quantile(np.max(self._laps, axis=0), BEST))
        return grip if len(self._laps) == LAPS or grip < 1.0 - CLEARLY else None

    def plainly_less(self, tape: Tape, progress: float) -> bool:
        """Whether the running lap of `tape`, at `progress` m, is so slow in its bends so far that its day is poorer.

        On the same line grip goes with the square of the speed. Nobody leaves a tenth of it in each of three bends.
        """
        speeds = [(tape.value_at("speed", bend.place), bend.speed) for bend in self._bends if bend.place < progress]
        shares = [(own / there) ** 2 for own, there in speeds if own is not None]
        return len(shares) >= ENOUGH and float(np.quantile(shares, BEST, method="higher")) < 1.0 - CLEARLY

    def poorer(self) -> float | None:
        """`grip`, where it is so much less that the reference is of another day; else None."""
        grip = self.grip()
        return grip if grip is not None and grip < 1.0 - POORER else None


def _at_limit(lap: GridLap, seen: Forces) -> list[Bend]:
    shown = GripShown()
    shown.take(seen)
    envelope = shown.envelope()
    if envelope is None:
        return []
    limit = np.interp(seen.speed, np.arange(len(envelope.lateral)), envelope.lateral)
    bent = np.abs(seen.curvature) > BEND
    last = len(bent) - 1
    bends = []
    for a, b in stretches(bent):
        most = a + int(seen.across[a:b].argmax())
        if seen.across[most] >= AT_LIMIT * limit[most]:
            place, speed = float(most * lap.step), float(seen.speed[most])
            bends.append(Bend(a / last, (b - 1) / last, float(seen.across[most]), place, speed))
    return bends


class Warmth:
    """Follows the tyres' mean temperature. A source that does not send it has no cold tyres."""

    def __init__(self, warm: float | None = None) -> None:
        """`warm` degC: what they had in the reference lap, where known."""
        self.warm = warm
        """degC of warm tyres: the reference's, or the warmest lap of this session, until they settle at another"""
        self._laps: deque[float] = deque(maxlen=STINT)
        self._now: float | None = None
        self._t = 0.0
        self._sum, self._count = 0.0, 0

    def watch(self, sample: Sample) -> None:
        """Takes one sample in."""
        treads = sample.tyre_temp
        if treads is None or (self._now is not None and 0.0 <= sample.t - self._t < LOOK):
            return
        mean = sum(sum(tread) for tread in treads) / 12.0
        step, self._t = sample.t - self._t, sample.t
        if self._now is None or step < 0.0:
            self._now = mean
        else:
            self._now += (1.0 - exp(-step / SETTLES)) * (mean - self._now)
        self._sum += mean
        self._count += 1

    def lap(self) -> float | None:
        """A lap ended: its mean temperature (degC), None where it was not sent."""
        mean = self._sum / self._count if self._count else None
        self._sum, self._count = 0.0, 0
        if mean is None:
            return None
        laps = self._laps
        laps.append(mean)
        settled = len(laps) == STINT and max(laps) - min(laps) <= STEADY
        if self.warm is None or mean > self.warm or settled:
            self.warm = max(laps) if settled else mean
        return mean

    @property
    def cold(self) -> bool:
        """Whether they are so much colder now that only the physical tests may speak."""
        return self._now is not None and self.warm is not None and self._now < self.warm - COLD
