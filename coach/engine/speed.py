"""Road speed for a source that does not send it."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from coach.vocabulary.sample import Sample

LEAST_STEP, LONGEST_STEP = 0.005, 0.3
"""s between two places that a speed is read from: nearer ones are rounding, further ones hide what lies between."""


class Speedometer:
    """Gives each sample a speed: the sent one, else from the body-frame velocity, else from the way driven."""

    def __init__(self) -> None:
        self._t: float | None = None
        self._place: tuple[float, float] | None = None
        self._distance: float | None = None
        self._speed: float | None = None

    def fill(self, sample: Sample) -> Sample:
        """The sample itself where it has a speed, else a copy with one, if it can be told."""
        if sample.speed is not None:
            return sample
        if sample.vx is not None:
            return replace(sample, speed=hypot(sample.vx, sample.vy if sample.vy is not None else 0.0))
        self._read(sample)
        return sample if self._speed is None else replace(sample, speed=self._speed)

    def _read(self, sample: Sample) -> None:
        place = (sample.x, sample.y) if sample.x is not None and sample.y is not None else None
        step = None if self._t is None else sample.t - self._t
        if step is not None and 0.0 <= step < LEAST_STEP:
            return
        last, before = self._place, self._distance
        self._t, self._place, self._distance = sample.t, place, sample.lap_distance
        if step is None or not LEAST_STEP <= step <= LONGEST_STEP:
            self._speed = None
        elif place is not None and last is not None:
            self._speed = hypot(place[0] - last[0], place[1] - last[1]) / step
        elif before is None or sample.lap_distance is None:
            self._speed = None
        elif sample.lap_distance >= before:  # over the line the last speed stands
            self._speed = (sample.lap_distance - before) / step
