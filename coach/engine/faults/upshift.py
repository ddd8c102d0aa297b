"""Shifts up, held against the pull that the car itself showed in each gear.

The best road speed for a shift up is the one from which the next gear pulls harder: T(n) i1 = T(n i2/i1) i2. With
T = A - B n and q = i2/i1 it is n = A / (B (1 + q)): 6,857 rev/min for A 600 Nm, B 0.05, q 0.75 (algebra, in the tests).
Where the lower gear pulls harder to its end, the best shift is at the highest engine speed that was shown.

Shifted at v rather than at the best speed w, the car gains the speeds between in the wrong gear. That takes
dt = integral (1/a_own - 1/a_best) dv more time and ds = integral (v/a_own - v/a_best) dv more road. From w on it drives
what it would have driven, later by dt and further by ds: at a braking point passed at u m/s dt - ds / u is lost.

Channels: gear, speed, throttle and engine_speed. Off with an automatic gearbox. Source: checks 3.15.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import inf
from typing import ClassVar

from coach.engine.faults.base import Finding
from coach.engine.held import BRAKING
from coach.engine.pull import BAND, FULL, SPINNING, Curve, Pull
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample

LEAST_SIZE = 300.0
"""rev/min that are no fault: a driver shifts by ear, and the pulls cross at a small angle (choice)."""
LEAST_COST = 0.02
"""s: less is not worth a word, however early the shift (choice; under 0.03 s it is never spoken)."""
LEAST_HELD = 0.25
"""s on the limiter that are no fault: about one reaction (choice)."""
HELD_PULL = 0.5
"""of the next gear's pull: a gear that gives less has come to the limiter, no engine falls off so steeply (choice)."""
NO_BRAKING = 1.0
"""s to either side of a shift without brakes (contract, section 5)."""
LOOKS = (1.0, 1.75, 2.5, 3.5)
"""s after the shift at which it is judged: the pull in the next gear has to be seen for a while. An early shift is told
when all speeds up to the best are seen, or at the last look by those that are."""
BACK = 0.5
"""s in which throttle is full again after a shift."""
BEFORE = (0.6, 0.25)
"""s before the shift, from and to, in which throttle is full; nearer it may be cut already."""
LIMITED = 0.6
"""s before and after the shift in which neither slip nor cornering may limit what throttle can ask."""
CORNERING = 1.0 / 3.0
"""of the hardest cornering shown: with more, less is left to drive with, and the shift is the tyres' matter."""
SLOWEST = 10.0
"""m/s: slower shifts belong to a start."""
STEP = 0.25
"""m/s, step of the integrals over speed."""
SURE = 2.0
"""standard errors by which the lower gear has to pull harder, at every speed (choice)."""
APART = 40.0
"""m: braking points nearer than this are the same."""
REMEMBERED = 60
"""Braking points that are remembered: more than any circuit has."""
POINTS = 2
"""readings of a speed in a gear before it counts as shown."""
ENOUGH_LOW = 2
"""spells in which the lower gear was driven at the speeds where it should have been held."""


@dataclass(slots=True)
class _Shift:
    """A shift up that is not judged yet; `t` s, `speed` m/s and `turns` rev/min at its last moment in `gear`."""

    t: float
    progress: float
    place: float | None
    speed: float
    turns: float
    gear: int
    looks: int = 0


class UpshiftWatch:
    """`early_upshift`, `late_upshift`: rev/min before and after the best shift."""

    name: ClassVar[str] = "upshift"
    faults: ClassVar[tuple[str, ...]] = ("early_upshift", "late_upshift")
    needs: ClassVar[tuple[str, ...]] = ("gear", "speed", "throttle", "engine_speed")
    off_with: ClassVar[str | None] = "gearbox"

    def __init__(self) -> None:
        self._brakes: deque[tuple[float, float]] = deque(maxlen=REMEMBERED)
        """m and m/s at which braking began, each place once"""
        self._lines = 0
        self._open: list[_Shift] = []
        self._gear: int | None = None
        self._last = (0.0, 0.0, 0.0, 0.0)
        """s, m, m/s and rev/min of the last sample in `_gear`"""
        self._progress = 0.0
        self._braking = self._told = False
        self._braked = self._full = -inf

    def watch(self, sample: Sample, progress: float, shown: Shown) -> list[Finding]:
        """Takes one sample in; a shift is told about 1 to 3.5 s after it, one finding a straight."""
        t, speed, throttle = sample.t, sample.speed, sample.throttle
        if speed is None or throttle is None or sample.engine_speed is None:
            return []
        if progress < self._progress - APART:  # over the line
            self._lines += 1
            for shift in self._open:
                shift.progress -= self._progress
        self._progress = progress
        found: list[Finding] = []
        if sample.brake is not None and sample.brake > BRAKING:
            if not self._braking:
                self._braking = True
                found = self._brakes_now(t, progress, speed, shown)
            self._braked = t
        elif self._braking and t - self._braked > BACK:
            self._braking = False
        if throttle >= FULL:
            self._full = t
        elif self._open and t - self._full > BACK:
            found = found or self._ends(t, speed, shown)
        gear = sample.gear
        if gear is not None and gear > 0:
            if self._gear is not None and gear > self._gear:
                self._shifted(sample, gear, shown)
            self._gear, self._last = gear, (t, progress, speed, sample.engine_speed)
        if self._open and t - self._open[0].t >= LOOKS[self._open[0].looks]:
            found = found or self._look(t, progress, shown)
        return found

    def reset(self) -> None:
        """The car is somewhere else, or samples are missing: shifts that wait are not judged any more."""
        self._open = []
        self._gear = None
        self._progress = 0.0
        self._braking = self._told = False
        self._braked = self._full = -inf

    def _shifted(self, sample: Sample, gear: int, shown: Shown) -> None:
        """A shift up: kept for its judgement if it is one under power, of one gear, on the straight."""
        t, progress, speed, turns = self._last
        assert self._gear is not None
        if gear != self._gear + 1 or self._told or speed < SLOWEST or sample.t - t > BACK or sample.in_pit:
            return
        if t - self._braked < NO_BRAKING or not _powered(shown.pull, t):
            return
        self._open.append(_Shift(t, progress, sample.lap_distance, speed, turns, self._gear))

    def _brakes_now(self, t: float, progress: float, speed: float, shown: Shown) -> list[Finding]:
        """Braking began: what is still open is judged by the speed that was reached; the place is remembered."""
        found = self._ends(t, speed, shown)
        kept = [b for b in self._brakes if abs(b[0] - progress) > APART]
        self._brakes = deque([*kept, (progress, speed)], maxlen=REMEMBERED)
        self._told = False
        return found

    def _ends(self, t: float, speed: float, shown: Shown) -> list[Finding]:
        """Full throttle is over at `speed` m/s."""
        shifts, self._open = self._open, []
        for shift in shifts:
            if not self._told and t - shift.t >= NO_BRAKING:
                found = self._judge(shift, speed, shown, True)
                if found:
                    return found
        return []

    def _look(self, t: float, progress: float, shown: Shown) -> list[Finding]:
        """The oldest open shift is judged, if it is known how fast the car will be at the end of the straight."""
        shift = self._open[0]
        shift.looks += 1
        last = shift.looks >= len(LOOKS)
        end = self._speed_at_end(progress)
        found = [] if end is None or self._told else self._judge(shift, end, shown, last)
        if found:
            self._open = []
        elif end is not None and last:
            self._open.pop(0)
        elif last:
            shift.looks -= 1
        return found

    def _speed_at_end(self, progress: float) -> float | None:
        """m/s at the next place where it was braked before; None where none is known."""
        ahead = [b for b in self._brakes if b[0] > progress]
        if not ahead and self._lines >= 2:  # the first one of the next lap
            ahead = list(self._brakes)
        return min(ahead)[1] if ahead else None

    def _judge(self, shift: _Shift, end: float, shown: Shown, last: bool) -> list[Finding]:
        pull = shown.pull
        if _limited(pull, shift.t):
            return []
        lower = pull.curve(shift.gear, shift.place, POINTS)
        upper = pull.curve(shift.gear + 1, shift.place, POINTS)
        finding = _late(shift, lower, upper, end, pull) or _early(shift, lower, upper, end, pull, last)
        if finding is None:
            return []
        self._told = True
        return [finding]


def _early(shift: _Shift, lower: Curve, upper: Curve, end: float, pull: Pull, last: bool) -> Finding | None:
    """The best speed is the one up to which most is gained by the lower gear, of those that it was shown at.

    Before the `last` look nothing is said while the next gear is still to be seen at speeds that the lower gear knows.
    """
    top = pull.top(shift.gear)
    if top is None or min(top, end) <= shift.speed:
        return None
    time = way = least_time = least_way = 0.0
    best: tuple[float, float, float, float, float] | None = None
    known = [s for v, s in zip(lower.speed, lower.spells, strict=True) if v > shift.speed - BAND]
    if max(known, default=0) < ENOUGH_LOW:
        return None
    at_shift = None
    v = shift.speed
    while v < min(top, end):
        step = min(STEP, min(top, end) - v)
        middle = v + 0.5 * step
        a, b = lower.at(middle), upper.at(middle)
        if b is None and a is not None and not last:
            return None
        if a is None or b is None or a[0] <= 0.0 or b[0] <= 0.0:
            break
        at_shift = at_shift or (a[0], b[0])
        v += step
        more = step * (1.0 / b[0] - 1.0 / a[0])
        time, way = time + more, way + middle * more
        sure = step * (1.0 / (b[0] + SURE * b[1]) - 1.0 / max(a[0] - SURE * a[1], 0.1))
        least_time, least_way = least_time + sure, least_way + middle * sure
        if best is None or time > best[1]:
            best = (v, time, way, least_time, least_way)
    if best is None or at_shift is None:
        return None
    size = shift.turns / shift.speed * (best[0] - shift.speed)
    turns = pull.turns(shift.gear)
    if turns is not None:  # with a little wheelspin the engine may be at its limit before the road speed is
        size = min(size, turns - shift.turns)
    finish = max(end, best[0])
    cost, least = best[1] - best[2] / finish, best[3] - best[4] / finish
    if size < LEAST_SIZE or cost < LEAST_COST or least <= 0.0:
        return None
    return _finding("early_upshift", shift, size, cost, best[0], at_shift)


def _late(shift: _Shift, lower: Curve, upper: Curve, end: float, pull: Pull) -> Finding | None:
    """The best moment is the one from which most speed was missed by not having the next gear in yet."""
    missed = sure = held = after = way = 0.0
    best: tuple[float, float, float, float, float, float] | None = None
    at_shift = None
    until = shift.t
    for cell in reversed(pull.recent):
        if cell.t > shift.t or (cell.gear == 0 and until == shift.t):  # the last one may hold the change itself
            continue
        if cell.gear != shift.gear or not cell.full:
            break
        if cell.pull is None:
            if until < shift.t:
                break
            continue
        there = upper.at(cell.at)
        if there is None:
            break
        dt, until = until - (cell.t - 0.15), cell.t - 0.15
        if dt <= 0.0:
            continue
        at_shift = at_shift or (cell.pull, there[0])
        more = (there[0] - cell.pull) * dt
        after += dt
        way += more * (after - 0.5 * dt)
        missed += more
        sure += (there[0] - SURE * there[1] - cell.pull) * dt
        held += dt if cell.pull < HELD_PULL * there[0] else 0.0
        if best is None or missed > best[1]:
            best = (cell.at, missed, sure, held, way, there[0])
    if best is None or at_shift is None or best[5] <= 0.0 or best[2] <= 0.0:
        return None
    speed, missed, _, held, way, power = best
    turns = shift.turns / shift.speed
    size = turns * max(shift.speed - speed, held * power)
    cost = way / shift.speed + missed / power * max(0.0, 1.0 - shift.speed / max(end, shift.speed))
    if (size < LEAST_SIZE and held < LEAST_HELD) or cost < LEAST_COST:
        return None
    return _finding("late_upshift", shift, size, cost, speed, at_shift)


def _finding(fault: str, shift: _Shift, size: float, cost: float, best: float, pulls: tuple[float, float]) -> Finding:
    evidence = {
        "gear": shift.gear + 1,
        "speed": shift.speed,
        "engine_speed": shift.turns,
        "best_speed": best,
        "pull": pulls[0],
        "next_pull": pulls[1],
    }
    return Finding(
        fault,
        shift.progress,
        shift.t,
        size,
        "rev/min",
        ("straight",),
        evidence,
        max(1.0, size / LEAST_SIZE),
        cost,
    )


def _powered(pull: Pull, t: float) -> bool:
    """Whether throttle was full before the shift at `t` s, but for its cut."""
    before = [c for c in pull.recent if t - BEFORE[0] <= c.t <= t - BEFORE[1]]
    return bool(before) and all(c.full for c in before)


def _limited(pull: Pull, t: float) -> bool:
    """Whether tyres and not the engine limited about the shift at `t` s, as far as can be told."""
    hardest = pull.hardest
    if hardest is None:
        return True
    near = [c for c in pull.recent if abs(c.t - t) <= LIMITED]
    if any(c.slip is not None and c.slip > SPINNING for c in near if c.t <= t):  # behind it the clutch may jerk
        return True
    return any(c.across is None or c.across > CORNERING * hardest for c in near)
