"""What the car itself shows of its gears: engine speed per road speed, and the limit of its engine."""

from __future__ import annotations

from bisect import insort
from math import pi

from coach.vocabulary.sample import Sample

KEPT = 200
"""Readings a gear; then every new one replaces an old one in turn."""
APART = 0.1
"""s between two readings: nearer ones say nothing new."""
SETTLED = 0.4
"""s in a gear before the clutch and the wheels have caught up with it."""
LEAST_SPEED = 8.0
"""m/s: below it the clutch may slip."""
STOPPED = 1.0
"""rev/min: an engine that turns no faster stands, or the source fills the channel with zeros: no gear shows there."""
ENOUGH = 5
"""Readings before a gear's ratio is trusted; so many highest engine speeds, lest one wrong reading makes the limit."""
FULL_THROTTLE = 0.9
"""Throttle: above, the engine is asked for all it has."""
REVVED = 150
"""Readings at full throttle (15 s) before the highest of them is taken for the limit: on the way out of the pits the
driver shifts early, and a limit learned there would be too low."""


def engine_speed_in_gear(speed: float, radius: float, ratio: float) -> float:
    """rev/min: n = 60 v i / (2 pi r), for road speed v (m/s), rolling radius r (m), overall ratio i.

    Kinematics of a closed clutch without slip.

    >>> round(engine_speed_in_gear(51.6886, 0.33, 1.2 * 3.9))
    7000
    """
    return 60.0 * speed * ratio / (2.0 * pi * radius)


class _Readings:
    __slots__ = ("front", "next", "rear", "road")

    def __init__(self) -> None:
        self.front: list[float] = []
        self.rear: list[float] = []
        self.road: list[float] = []
        self.next = 0

    def put(self, front: float | None, rear: float | None, road: float) -> None:
        slot = self.next % KEPT
        self.next += 1
        for values, value in ((self.front, front), (self.rear, rear), (self.road, road)):
            if value is None:
                continue
            if len(values) < KEPT:
                values.append(value)
            else:
                values[slot] = value


class Gearing:
    """Learns, for each gear, rev/min per m/s: from the driven wheels where they are sent, else from the road speed.

    The driven axle is the one whose wheels keep the ratio best: it is geared to the engine, the other only rolls.
    """

    def __init__(self) -> None:
        self._gears: dict[int, _Readings] = {}
        self._gear: int | None = None
        self._since = 0.0
        self._last = 0.0
        self._highest: list[float] = []
        self._revved = 0
        self._sent_limit: float | None = None

    def watch(self, sample: Sample) -> None:
        """Takes one sample in."""
        gear, t, engine = sample.gear, sample.t, sample.engine_speed
        if sample.engine_speed_max is not None and sample.engine_speed_max > STOPPED:
            self._sent_limit = sample.engine_speed_max
        if gear != self._gear:
            self._gear, self._since = gear, t
            return
        if gear is None or gear < 1 or engine is None or engine <= STOPPED or sample.speed is None:
            return
        if t - self._since < SETTLED or 0.0 <= t - self._last < APART:
            return
        if sample.speed < LEAST_SPEED or (sample.clutch is not None and sample.clutch > 0.05):
            return
        self._last = t
        if sample.throttle is not None and sample.throttle > FULL_THROTTLE:
            self._revved += 1
            insort(self._highest, engine)
            del self._highest[:-ENOUGH]
        wheels = sample.wheel_speed
        front = rear = None
        if wheels is not None:
            front, rear = 0.5 * (wheels[0] + wheels[1]), 0.5 * (wheels[2] + wheels[3])
            front = engine / front if front > LEAST_SPEED else None
            rear = engine / rear if rear > LEAST_SPEED else None
        self._gears.setdefault(gear, _Readings()).put(front, rear, engine / sample.speed)

    @property
    def limit(self) -> float | None:
        """rev/min: the source's limit, else the highest seen time and again at full throttle in a settled gear."""
        if self._sent_limit is not None:
            return self._sent_limit
        return self._highest[0] if self._revved >= REVVED else None

    @property
    def limit_is_sent(self) -> bool:
        """Whether `limit` is the source's own and not learned."""
        return self._sent_limit is not None

    def ratio(self, gear: int) -> float | None:
        """rev/min per m/s of road speed without slip; None until seen often enough."""
        readings = self._gears.get(gear)
        if readings is None or len(readings.road) < ENOUGH:
            return None
        by_wheels: list[float] = getattr(readings, self.driven_axle or "road")
        return _median(by_wheels if len(by_wheels) >= ENOUGH else readings.road)

    @property
    def driven_axle(self) -> str | None:
        """front, rear or None where wheel speeds are not sent. All four driven: the one that keeps the ratio better."""
        best: tuple[float, str] | None = None
        for axle in ("rear", "front"):
            spreads = [
                (len(values), _relative_spread(values))
                for readings in self._gears.values()
                if len(values := getattr(readings, axle)) >= ENOUGH
            ]
            if not spreads:
                continue
            spread = sum(n * s for n, s in spreads) / sum(n for n, _ in spreads)
            if best is None or spread < best[0]:
                best = (spread, axle)
        return None if best is None else best[1]


def _median(values: list[float]) -> float:
    ranked = sorted(values)
    return ranked[len(ranked) // 2]


def _relative_spread(values: list[float]) -> float:
    middle = _median(values)
    return _median([abs(value - middle) for value in values]) / middle
