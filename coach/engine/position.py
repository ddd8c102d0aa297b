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
LONGEST_LAP = 100_000.0
"""m: nothing longer is believed."""
CLOSE = 0.3
"""s: two samples further apart are too far apart to learn a length from."""
LEAST_WAY = 0.001
"""m: the line lies at least this far behind the last place before it, or it would have been reached there."""
WRAPPED = 100.0
"""m: a distance that falls to under this from over `LEAST_LAP` has passed the line."""
AT_SPEED = 10.0
"""m/s: where no lap count says where the line is, it is laid where the car first drives this fast."""


@dataclass(slots=True)
class Fix:
    """A place on the lap, m. `length` m of the whole lap, where known.

    `short` m from the last place to the line, where the locator itself saw the line crossed since then.
    """

    distance: float
    length: float | None
    short: float | None = None


class ByDistance:
    """The source's own `lap_distance`; the length is its `track_length`, or learned where the distance wraps."""

    name = "lap_distance"

    def __init__(self, length: float | None = None) -> None:
        self._length = length
        self._learned = False
        self._distance: float | None = None
        self._speed: float | None = None
        self._pace = 0.0
        """m/s by the distance itself, for a source without speed"""
        self._t = 0.0

    def locate(self, sample: Sample) -> Fix | None:
        distance = sample.lap_distance
        if distance is None:
            return None
        if sample.track_length is not None and LEAST_LAP < sample.track_length <= LONGEST_LAP:
            self._length, self._learned = sample.track_length, False
        elif self._length is None:
            self._learn(sample, distance)
        elif self._learned and distance > self._length + WRAPPED:
            self._length = None  # what looked like the line was a jump
        if self._distance is not None and sample.t > self._t and distance > self._distance:
            self._pace = (distance - self._distance) / (sample.t - self._t)
        self._distance, self._speed, self._t = distance, sample.speed, sample.t
        length = self._length
        if length is not None and not 0.0 <= distance < length:
            distance %= length
        return Fix(distance, length)

    def _learn(self, sample: Sample, distance: float) -> None:
        """The distance fell: at the line the car drove at least the new distance in this step, in a jump it did not."""
        last, step = self._distance, sample.t - self._t
        if last is None or not LEAST_LAP <= last <= LONGEST_LAP or distance > WRAPPED or step > CLOSE:
            return
        speeds = [v for v in (self._speed, sample.speed) if v is not None]
        driven = step * sum(speeds) / len(speeds) if speeds else self._pace * step
        if driven >= distance - 1.0 and min(speeds, default=1.0) > 0.5 * max(speeds, default=1.0):
            self._length, self._learned = last + max(LEAST_WAY, driven - distance), True

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
    """The first laps of a circuit without distance: lays the line, then measures the way driven from it.

    Each lap has the length of its own way, told when the line is crossed; until then `Fix.length` is None.
    """

    name = "x, y"

    def __init__(self) -> None:
        self._line: StartLine | None = None
        self._place: tuple[float, float] | None = None
        self._lap: int | None = None
        self._driven = 0.0

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
            fast = sample.lap is None and sample.speed is not None and sample.speed >= AT_SPEED and not sample.in_pit
            if moved > 0.0 and (rises or fast):
                self._line = StartLine(last[0], last[1], dx, dy)
                self._driven = moved
                return Fix(moved, None)
            return None
        if self._driven > LEAST_LAP and self._line.crossed(*last, x, y):
            short, over = -self._line.ahead(*last), self._line.ahead(x, y)
            length, self._driven = self._driven + short, over
            return Fix(over, length if length <= LONGEST_LAP else None, short)
        self._driven += moved
        return Fix(self._driven, None)

    def jumped(self) -> None:
        """The car is somewhere else; the line stays where it was laid, and may be near."""
        self._place = None
        self._driven = LEAST_LAP


Locator = ByDistance | ByPath | Survey


def choose(sample: Sample, path: ClosedPath | None) -> Locator | None:
    """The best locator for what `sample` carries; None where it has neither a distance nor a position."""
    if sample.lap_distance is not None:
        return ByDistance()
    if sample.x is not None and sample.y is not None:
        return ByPath(path) if path is not None else Survey()
    return None
