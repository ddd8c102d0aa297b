"""What the car has shown of its pull: acceleration at full throttle by road speed, in each gear.

Pull is read from the speed's own change over about 0.3 s, so that it is over the ground whatever `ax` holds. A slope
adds its part of gravity: where height is sent, g dz/ds is put back (Newton); where it is not, only readings from the
same piece of road are held against one another. Left out are the draught of a car ahead, wheelspin, bends, the pits,
and the first moments in a gear. Nothing is known beyond the speeds that were driven in a gear.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import deque
from dataclasses import dataclass
from math import isfinite, sqrt
from statistics import median

from coach.engine.held import BRAKING
from coach.vocabulary.sample import Sample

FULL = 0.95
"""Throttle: above, the engine is asked for all it has (contract, section 5)."""
PRESSED = 0.05
"""Clutch: above is pressed."""
SETTLED = 0.4
"""s in a gear before clutch and wheels have caught up with it, as for the ratios in `gearing.py`."""
LEAST_SPEED = 8.0
"""m/s: below it the clutch may slip."""
CELL = 0.1
"""s of samples that are meant together; a reading spans three of them."""
BREAK = 0.3
"""s without a sample: what comes next does not join on."""
STRAIGHT = 2.5
"""m/s^2 across: the tyres' drag from so little turning is about ay x slip angle, 0.03 m/s^2 (choice)."""
SPINNING = 0.08
"""Slip of the driven wheels from which the tyres and not the engine may limit (a tyre drives hardest near 0.1 to
0.15, checks 3.9; a sent wheel speed may be 3 or 4 % out by its radius)."""
DRAUGHT = 2.0
"""s behind a car: nearer, its draught may help (choice)."""
PLAUSIBLE, STEEPEST = 30.0, 0.3
"""m/s^2, and m of height a metre: more is no road car on a road but a source that was moved."""
BAND = 2.0
"""m/s of road speed that count as one."""
KEPT, KEPT_A_SPELL = 16, 4
"""Readings that each band keeps, and how many of them one spell of full throttle may give: a speed that is held for
long, as by a limiter in the pits, is no more than one spell."""
UNREAD = 1.0
"""s: a gear that has just been taken is not read for `SETTLED`, the first reading is the middle of three cells, and a
point that of a band; a curve reaches as much below its slowest point."""
GAP_ABOVE, GAP_BETWEEN = 2.5, 5.0
"""m/s by which a curve reaches beyond its fastest point (a gear about to be left is not read for 0.2 s, and a
point is the middle of a band), and between two points."""
SLOPE_OVER = 3.0
"""m/s at least between the points that tell how a curve goes on beyond its ends."""
TOPS = 5
"""The highest speeds, and engine speeds, at which each gear was left that are kept."""
NEAR = 150.0
"""m to each side that are the same piece of road (choice)."""
LEAST_ERROR = 0.03
"""m/s^2, standard error of a point at least: fuel, wind and temperature move it by so much in a stint (choice)."""
GRAVITY = 9.81
"""m/s^2"""
RECENT = 300
"""Cells that are kept in order of time: 30 s."""
SEEN = 5
"""Cells of the hardest cornering: the least of these five is what has been shown, lest a kerb's shock counts."""


@dataclass(slots=True)
class Cell:
    """About 0.1 s of driving, meant.

    `gear` is 0 where none was settled all the time, `full` whether throttle was full all the time, `alone` whether no
    car was close ahead; `spell` counts the spells of full throttle in one gear. `across` m/s^2 (absolute) and `slip` of
    the faster axle are None where not sent. `pull` m/s^2, over the three cells that end here and with the slope put
    back, is None where it says nothing of the engine.
    """

    t: float
    speed: float
    height: float | None
    place: float | None
    across: float | None
    slip: float | None
    gear: int
    full: bool
    alone: bool
    spell: int
    pull: float | None = None
    at: float = 0.0
    """m/s that `pull` belongs to"""


@dataclass(frozen=True, slots=True)
class Curve:
    """Pull by road speed: `speed` m/s rising, `pull` m/s^2, `error` its standard error, `spells` that it was read in,
    all of one length."""

    speed: tuple[float, ...]
    pull: tuple[float, ...]
    error: tuple[float, ...]
    spells: tuple[int, ...]

    def at(self, speed: float) -> tuple[float, float] | None:
        """Pull and its standard error at `speed`; None where it was not shown."""
        known = self.speed
        if not known or speed > known[-1] + GAP_ABOVE:
            return None
        if speed <= known[0]:
            return self._below(known[0] - speed)
        if speed >= known[-1]:
            return self.pull[-1] - self._fall(len(known) - 1) * (speed - known[-1]), self.error[-1]
        i = bisect_left(known, speed)
        low, high = known[i - 1], known[i]
        if high - low > GAP_BETWEEN:
            return None
        part = (speed - low) / (high - low)
        return (
            self.pull[i - 1] + part * (self.pull[i] - self.pull[i - 1]),
            max(self.error[i - 1], self.error[i]),
        )

    def _below(self, short: float) -> tuple[float, float] | None:
        """`short` m/s below the slowest point: the curve goes on as it begins, if it falls."""
        if short > max(GAP_ABOVE, UNREAD * self.pull[0]):
            return None
        return self.pull[0] + self._fall(0) * short, self.error[0]

    def _fall(self, end: int) -> float:
        """m/s^2 that the pull falls for each m/s at the point `end`, the first or the last; 0 where it rises."""
        apart = [(abs(v - self.speed[end]), i) for i, v in enumerate(self.speed)]
        near = min((pair for pair in apart if pair[0] >= SLOPE_OVER), default=None)
        if near is None:
            return 0.0
        i = near[1]
        return max(0.0, (self.pull[end] - self.pull[i]) / (self.speed[i] - self.speed[end]))


Reading = tuple[int, float, float, float | None]
"""spell, speed, pull, place"""


class Pull:
    """Learns from every sample. One a session."""

    def __init__(self) -> None:
        self.recent: deque[Cell] = deque(maxlen=RECENT)
        self._bands: dict[int, dict[int, deque[Reading]]] = {}
        self._tops: dict[int, list[float]] = {}
        self._turns: dict[int, list[float]] = {}
        self._hardest: list[float] = []
        self._spell = 0
        self._gear: int | None = None
        self._gear_since = 0.0
        self._t: float | None = None
        self._reached: float | None = None
        """m/s up to which the running spell of full throttle came in its gear; None: there is none"""
        self._turned: float | None = None
        """rev/min then"""
        self._n = self._z_n = self._a_n = 0
        self._start = self._t_sum = self._v_sum = self._z_sum = self._a_sum = 0.0
        self._slip: float | None = None
        self._place: float | None = None
        self._full = self._settled = self._alone = True

    def watch(self, sample: Sample) -> None:
        """Takes one sample in."""
        t, speed = sample.t, sample.speed
        last, self._t = self._t, t
        if speed is None or (last is not None and not 0.0 <= t - last <= BREAK):
            self._break(t)
            if speed is None:
                return
        if not self._n:
            self._start = t
        elif t - self._start >= CELL - 1e-6:
            self._close()
            self._start = t
        gear, throttle = sample.gear, sample.throttle
        if gear != self._gear:
            self._ends()
            self._gear, self._gear_since = gear, t
        settled = t - self._gear_since >= SETTLED and (sample.clutch is None or sample.clutch <= PRESSED)
        full = (
            throttle is not None
            and throttle >= FULL
            and (sample.brake is None or sample.brake <= BRAKING)
            and not sample.in_pit
            and speed > LEAST_SPEED
        )
        self._n += 1
        self._t_sum += t - self._start
        self._v_sum += speed
        self._place = sample.lap_distance
        if not settled:
            self._settled = False
        if sample.z is not None:
            self._z_sum += sample.z
            self._z_n += 1
        across = sample.ay
        if across is None and sample.yaw_rate is not None:
            across = sample.yaw_rate * speed
        if across is not None:
            self._a_sum += across
            self._a_n += 1
        if not full:
            self._full = False
            self._ends()
            return
        if settled:
            self._reached, self._turned = speed, sample.engine_speed
        wheels = sample.wheel_speed
        if wheels is not None:
            slip = 0.5 * max(wheels[0] + wheels[1], wheels[2] + wheels[3]) / speed - 1.0
            self._slip = slip if self._slip is None or slip > self._slip else self._slip
        if sample.gap_ahead is not None and 0.0 < sample.gap_ahead < DRAUGHT:
            self._alone = False

    @property
    def hardest(self) -> float | None:
        """m/s^2: the hardest cornering shown; None before anything was."""
        return self._hardest[0] if len(self._hardest) == SEEN else None

    def top(self, gear: int) -> float | None:
        """m/s up to which `gear` was driven at full throttle more than once: the second highest of all times."""
        return _second(self._tops.get(gear, []))

    def turns(self, gear: int) -> float | None:
        """rev/min up to which `gear` was driven so, by the second highest of all times, too."""
        return _second(self._turns.get(gear, []))

    def curve(self, gear: int, place: float | None, least: int = 2) -> Curve:
        """The pull shown in `gear`; `least` readings make a point. `place` m: where it is wanted for, which counts
        where the slope is not known."""
        bands = self._bands.get(gear, {})
        points = []
        for band in sorted(bands):
            readings = [r for r in bands[band] if self._counts(r, place)]
            if len(readings) < least:
                continue
            pulls = [r[2] for r in readings]
            middle = median(pulls)
            spread = 1.4826 * median([abs(pull - middle) for pull in pulls])
            error = max(LEAST_ERROR, 1.2533 * spread / sqrt(len(pulls)))
            points.append((median([r[1] for r in readings]), middle, error, len({r[0] for r in readings})))
        columns = list(zip(*points, strict=True)) if points else [(), (), (), ()]
        return Curve(*columns)

    def _counts(self, reading: Reading, place: float | None) -> bool:
        at = reading[3]
        return at is None or (place is not None and abs(at - place) <= NEAR)

    def _ends(self) -> None:
        """A spell of full throttle in one gear is over."""
        if self._reached is None:
            return
        self._spell += 1
        if self._gear is not None and self._gear > 0:
            _keep(self._tops.setdefault(self._gear, []), self._reached)
            if self._turned is not None:
                _keep(self._turns.setdefault(self._gear, []), self._turned)
        self._reached = None

    def _break(self, t: float) -> None:
        """What comes now does not join on."""
        self._ends()
        self._clear()
        self._gear, self._gear_since = None, t
        self.recent.clear()

    def _clear(self) -> None:
        self._n = self._z_n = self._a_n = 0
        self._start = self._t_sum = self._v_sum = self._z_sum = self._a_sum = 0.0
        self._slip = self._place = None
        self._full = self._settled = self._alone = True

    def _close(self) -> None:
        """A cell is whole."""
        n, recent = self._n, self.recent
        across = abs(self._a_sum / self._a_n) if self._a_n else None
        gear = self._gear if self._settled and self._gear is not None and self._gear > 0 else 0
        cell = Cell(
            self._start + self._t_sum / n,
            self._v_sum / n,
            self._z_sum / self._z_n if self._z_n == n else None,
            self._place,
            across,
            self._slip,
            gear,
            self._full,
            self._alone,
            self._spell,
        )
        if across is not None and across < PLAUSIBLE and (len(self._hardest) < SEEN or across > self._hardest[0]):
            insort(self._hardest, across)
            del self._hardest[:-SEEN]
        recent.append(cell)
        self._clear()
        if len(recent) >= 3 and cell.full and cell.gear:
            self._read(recent[-3], recent[-2], cell)

    def _read(self, first: Cell, middle: Cell, last: Cell) -> None:
        """The pull over three cells of one spell, if it is the engine's."""
        if not (first.full and middle.full) or first.spell != last.spell or not first.gear == middle.gear == last.gear:
            return
        cells = (first, middle, last)
        if any(c.across is not None and c.across > STRAIGHT for c in cells) or not all(c.alone for c in cells):
            return
        if any(c.slip is not None and c.slip > SPINNING for c in cells):
            return
        step = last.t - first.t
        speed = (first.speed + middle.speed + last.speed) / 3.0
        pull = (last.speed - first.speed) / step
        place: float | None = None
        if first.height is not None and last.height is not None:
            slope = (last.height - first.height) / (step * speed)
            if abs(slope) > STEEPEST:
                return
            pull += GRAVITY * slope
        elif middle.place is not None:
            place = middle.place
        else:
            return
        if not isfinite(pull) or abs(pull) > PLAUSIBLE:
            return
        last.pull, last.at = pull, speed
        band = self._bands.setdefault(last.gear, {}).setdefault(int(speed / BAND), deque(maxlen=KEPT))
        if sum(1 for r in band if r[0] == last.spell) < KEPT_A_SPELL:
            band.append((last.spell, speed, pull, place))


def _keep(highest: list[float], value: float) -> None:
    insort(highest, value)
    del highest[:-TOPS]


def _second(highest: list[float]) -> float | None:
    return highest[-2] if len(highest) >= 2 else None
