"""What many pupils' laps say of the coaches: means with intervals, and who is best for how many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .drive import LapDriven

RESAMPLES = 4000
"""Resamples of the pupils for an interval."""
LAST = 3
"""Laps at the end of the coached ones that say who is best there."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Interval:
    """A mean and its 95 % interval, in s."""

    mean: float
    low: float
    high: float

    def __str__(self) -> str:
        return f"{self.mean:.2f} ({self.low:.2f} to {self.high:.2f})"

    @property
    def signed(self) -> str:
        """The same with signs: a difference."""
        return f"{self.mean:+.2f} ({self.low:+.2f} to {self.high:+.2f})"


@dataclass(frozen=True, slots=True)
class Season:
    """All laps of all pupils with one coach. `loss`, `disturbed` s and `cues`: pupils x laps; on the last `uncued` laps
    nothing is said."""

    loss: Floats
    disturbed: Floats
    cues: Floats
    uncued: int

    @classmethod
    def of(cls, driven: list[list[LapDriven]], uncued: int) -> Season:
        """From the laps of each pupil."""
        loss, disturbed, cues = (
            np.array([[float(getattr(lap, name)) for lap in laps] for laps in driven]) for name in _COLUMNS
        )
        return cls(loss, disturbed, cues, uncued)

    @property
    def laps(self) -> int:
        """Laps with the coach."""
        return int(self.loss.shape[1]) - self.uncued

    def on(self, lap: int) -> Floats:
        """s lost on this lap, by pupil."""
        return self.loss[:, lap - 1]

    @property
    def end(self) -> Floats:
        """s lost on the last laps with the coach, by pupil."""
        return np.asarray(self.loss[:, max(self.laps - LAST, 0) : self.laps].mean(axis=1))

    @property
    def kept(self) -> Floats:
        """s lost on the laps without a word, by pupil."""
        return np.asarray(self.loss[:, self.laps :].mean(axis=1))

    @property
    def cues_a_lap(self) -> float:
        """on the laps with the coach"""
        return float(self.cues[:, : self.laps].mean())

    @property
    def disturbed_a_lap(self) -> float:
        """s that cues in corners cost a lap"""
        return float(self.disturbed[:, : self.laps].mean())


_COLUMNS = ("loss", "disturbed", "cues")


def interval(values: Floats) -> Interval:
    """Of the mean, by resampling the pupils (percentile bootstrap, Efron 1979, `from memory`); the same each time."""
    dice = np.random.default_rng(1)
    means = values[dice.integers(0, len(values), (RESAMPLES, len(values)))].mean(axis=1)
    low, high = np.percentile(means, (2.5, 97.5))
    return Interval(float(values.mean()), float(low), float(high))


def best_for(values: Mapping[str, Floats]) -> dict[str, float]:
    """Share of the pupils that lose least with each; equals share a pupil."""
    names = list(values)
    table = np.array([values[name] for name in names])
    least = table == table.min(axis=0)
    shares = (least / least.sum(axis=0)).mean(axis=1)
    return {name: float(share) for name, share in zip(names, shares, strict=True)}
