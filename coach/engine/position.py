"""Where on the lap the car is: by the source's distance, by projection onto a known path, or by survey.

Each locator answers `locate(sample) -> Fix | None`. `Fix.distance` runs from 0 at the start line to the track's
length; `Fix.length` is None until it is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from coach.engine.path import ClosedPath, StartLine
from coach.vocabulary.sample import Sample

LEAST_LAP = 200.0
"""m: nothing shorter is taken for a lap while the length is not known."""
WRAPPED = 100.0
"""m: a distance that falls to under this from over `LEAST_LAP` has passed the line."""
AT_SPEED = 10.0
"""m/s: where no lap count says where the line is, it is laid where the car first drives this fast."""


@dataclass(slots=True)
class Fix:
    """A place on the lap, m. `length` m of the whole lap, where known."""

    distance: float
    length: float | None


class ByDistance:
    """The source's own `lap_distance`; the length is its `track_length`, or learned where the distance wraps."""

    name = "lap_distance"

    def __init__(self, length: float | None = None) -> None:
        self._length = length
        self._distance: float | None = None
        self._speed: float | None = None
        self._t = 0.0

    def locate(self, sample: Sample) -> Fix | None:
        distance = sample.lap_distance
        if distance is None:
            return None
        if sample.track_length is not None and sample.track_length > LEAST_LAP:
            self._length = sample.track_length
        elif self._length is None:
            self._learn(sample, distance)
        self._distance, self._speed, self._t = distance, sample.speed, sample.t
        length = self._length
        if length is not None and not 0.0 <= distance < length:
            distance %= length
        return Fix(distance, length)

    def _learn(self, sample: Sample, distance: float) -> None:
        last = self._distance
        if last is None or last < LEAST_LAP or distance > WRAPPED or distance > last:
            return
        speeds = [v for v in (self._speed, sample.speed) if v is not None]
        driven = (sample.t - self._t) * sum(speeds) / len(speeds) if speeds else distance
        self._length = last + max(0.0, driven - distance)

    def jumped(self) -> None:
        """The position made a jump."""
        self._distance = None


class ByPath:
    """Projection of `x`, `y` onto a path that is known already."""

    name = "x, y"

    def __init__(self, path: ClosedPath) -> None:
        self._path = path

    def locate(self, sample: Sample) -> Fix | None:
        if sample.x is None or sample.y is None:
            return None
        station = self._path.locate(sample.x, sample.y)
        return None if station is None else Fix(station, self._path.length)

    def jumped(self) -> None:
        self._path.forget()


class Survey:
    """The first lap of a circuit without distance: lays the line, then measures the way driven from it."""

    name = "x, y"

    def __init__(self) -> None:
        self._line: StartLine | None = None
        self._place: tuple[float, float] | None = None
        self._lap: int | None = None
        self._driven = 0.0
        self.length: float | None = None
        """m, known once the line was crossed again"""

    def locate(self, sample: Sample) -> Fix | None:
        x, y = sample.x, sample.y
        if x is None or y is None:
            return None
        last, self._place = self._place, (x, y)
        counted, self._lap = self._lap, sample.lap if sample.lap is not None else self._lap
        if last is None:
            return None
        dx, dy = x - last[0], y - last[1]
        moved = hypot(dx, dy)
        if self._line is None:
            rises = sample.lap is not None and counted is not None and sample.lap > counted
            fast = sample.lap is None and sample.speed is not None and sample.speed >= AT_SPEED
            if moved > 0.0 and (rises or fast):
                self._line = StartLine(last[0], last[1], dx, dy)
                self._driven = moved
                return Fix(moved, None)
            return None
        self._driven += moved
        if self._driven > LEAST_LAP and self._line.crossed(*last, x, y):
            over = self._line.ahead(x, y)
            if self.length is None:
                self.length = self._driven - over
            self._driven = over
        if self.length is not None and self._driven >= self.length:
            self._driven = self.length - 1e-3  # hold short of the line until it is really crossed
        return Fix(self._driven, self.length)

    def jumped(self) -> None:
        self._line = None if self.length is None else self._line
        self._place = None
        self._driven = 0.0


Locator = ByDistance | ByPath | Survey


def choose(sample: Sample, path: ClosedPath | None) -> Locator | None:
    """The best locator for what `sample` carries; None where it has neither a distance nor a position."""
    if sample.lap_distance is not None:
        return ByDistance()
    if sample.x is not None and sample.y is not None:
        return ByPath(path) if path is not None else Survey()
    return None
