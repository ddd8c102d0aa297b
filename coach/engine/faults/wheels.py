"""Wheels that do not roll with the ground: locked under brakes, spun under power.

The slip of a wheel is kappa = omega R / v - 1 along its own plane (SAE J670, which has v cos alpha for v): -1 is
locked, 0 rolls. A wheel at 120 rad/s with 0.33 m radius on a car at 50 m/s slips by -0.2080 (checks 3.8, in the
tests). The magic formula's example tyre brakes hardest at -0.14 and pulls hardest at +0.16 (checks 3.9): beyond, the
force falls while the tyre heats, and a locked front wheel does not steer. The samples hold peripheral speeds, so R is
known but for a few per cent, which is read from the wheel rolling freely. In a bend the hubs move at v - r y, r the
yaw rate and y the wheel's place to the left.

`lock_up`: channels `wheel_speed`, `brake`, `speed`; off with "abs". The samples themselves are followed, since the
tape holds only each axle's mean, of which one locked wheel is half. The unloaded inner rear wheel of a car that is
still braked in the bend lifts or stops for a moment, which costs nothing (common practice). A rear axle that the
engine holds just after a downshift is `early_downshift`'s.

`wheelspin`: channels `wheel_speed`, `throttle`, `speed`; off with "traction". Only a driven wheel can turn faster
than the ground, so which axle is driven need not be known. Beyond the peak the tyre would pull harder with less
throttle, and a share kappa / (1 + kappa) of the power at that wheel goes into the slide: that is the pull it costs,
whether or not the car was quicker there than usual. What the driver always does at a place is within the band.
"""

from __future__ import annotations

from collections import deque
from statistics import median_low
from typing import ClassVar

from coach.engine.faults.base import Finding
from coach.engine.faults.lapline import LapLine
from coach.engine.held import BRAKING
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample

WHEELS = ("front left", "front right", "rear left", "rear right")
HALF_TRACK = 0.8
"""m from the car's middle to its wheels (choice; racing and road cars have 1.4 to 1.7 m between them)."""
SIDEWAYS = 0.35
"""of the forward speed: a car that slides by more than 19 degrees has wheels that roll where they do not point."""

LOCKED = 0.2
"""Slip under brakes that is no rolling any more (checks 3.8; the example tyre's peak is at 0.14)."""
LOCKED_FOR, LIFTED_FOR = 0.12, 0.4
"""s that it has to last: of any wheel, and of the inner rear one in a bend (choice). A bump is shorter."""
LEANS = 3.0
"""m/s^2 across from which the inner wheels are light (choice)."""
LOCK_SPEED, SPIN_SPEED = 5.0, 8.0
"""m/s: below, at a walk or at a start, slip is large and costs little."""
AFTER_SHIFT = 0.6
"""s after a downshift in which the rear axle answers to the engine (as in `gearbox`)."""

SPINS = 0.16
"""Slip under power of the peak of the example tyre (checks 3.9)."""
SPINS_FOR = 0.2
"""s that it has to last (choice): a kerb lifts a wheel for less."""
POWER = 0.3
"""Throttle: below, no one asks for pull."""
MORE = 0.05
"""Slip above what is usual at this place (choice; clean passes of one driver differ by 0.03 or so)."""
BIN = 20.0
"""m of the lap that make one place."""
PASSES, ENOUGH = 6, 3
"""Passes of a place that are kept, and so many make a habit."""

ROLLS = (0.94, 1.03)
"""of the car's speed: with all wheels below or above, none slips by `LOCKED` or `SPINS` whatever bend and radius do;
most samples need no closer look."""
WAIT = 1.0
"""s that the greatest slip is waited for; the report is due within 1.5 s."""
APART = 2.0
"""s between two faults of a kind: a foot that comes and goes makes one (choice)."""
BREAK = 0.3
"""s without a sample after which what was going on is not known any more."""
HAIR = 1e-9
"""s"""


class _Rolling:
    """What each wheel reads while it rolls freely, for each m/s of the ground under it: 1 but for a few per cent."""

    __slots__ = ("_last", "_next", "ratios", "seen")

    APART = 0.1
    """s between two readings."""
    WEIGHT = 0.05
    """of the newest reading."""
    FREE = 0.1
    """Throttle up to which the engine neither pulls nor pushes much."""
    STRAIGHT = 0.1
    """rad/s up to which the wheels go straight."""
    SPEED = 10.0
    """m/s"""
    OFF = 0.12
    """What is further from 1 is no rolling, or no wheel speed at all."""

    def __init__(self) -> None:
        self.ratios = [1.0, 1.0, 1.0, 1.0]
        self.seen = False
        """whether the wheels have rolled with the ground at all"""
        self._next = 0.0
        self._last = 0.0

    def watch(self, t: float, sample: Sample, throttle: float, brake: float) -> None:
        if (t < self._next and t >= self._last) or brake >= BRAKING:
            return
        self._last, speed, wheels, rate = t, sample.speed, sample.wheel_speed, sample.yaw_rate
        if speed is None or wheels is None or speed < self.SPEED or (rate is not None and abs(rate) > self.STRAIGHT):
            return
        self._next = t + self.APART
        if any(abs(wheel / speed - 1.0) > self.OFF for wheel in wheels):
            return
        self.seen = True
        if throttle <= self.FREE:
            self.ratios = [r + self.WEIGHT * (w / speed - r) for r, w in zip(self.ratios, wheels, strict=True)]

    def slips(self, sample: Sample, speed: float) -> list[float] | None:
        """kappa of each wheel; None where they cannot be told."""
        wheels, rate, along = sample.wheel_speed, sample.yaw_rate, sample.vx
        if wheels is None or not self.seen:
            return None
        if along is None:
            along = speed
        elif along <= 0.0 or (sample.vy is not None and abs(sample.vy) > SIDEWAYS * along):
            return None
        aside = 0.0 if rate is None else rate * HALF_TRACK
        left, right = max(along - aside, 1.0), max(along + aside, 1.0)
        a, b, c, d = self.ratios
        return [
            wheels[0] / (a * left) - 1.0,
            wheels[1] / (b * right) - 1.0,
            wheels[2] / (c * left) - 1.0,
            wheels[3] / (d * right) - 1.0,
        ]


class _Episode:
    """One lock-up or wheelspin: since when and where, how much at worst, and by which wheel."""

    __slots__ = ("distance", "speed", "t", "wheel", "worst")

    def __init__(self, t: float, distance: float, speed: float) -> None:
        self.t, self.distance, self.speed = t, distance, speed
        self.worst, self.wheel = 0.0, 0


class _Wheels:
    """What both watches share: pedals held between packets, the line, and the time between two samples."""

    def __init__(self) -> None:
        self._line = LapLine()
        self._rolling = _Rolling()
        self._t = 0.0
        self._throttle = self._brake = 0.0
        self._since: list[_Episode | None] = [None] * 4
        self._open: _Episode | None = None
        """it has lasted long enough; its greatest slip is waited for"""
        self._told_at: float | None = None

    def reset(self) -> None:
        """What was going on is over; what the wheels are stays known."""
        self._line.forget()
        self._told_at = None
        self._forget()

    def _forget(self) -> None:
        self._rest()
        self._open = None

    def _rest(self) -> None:
        """No wheel slips now."""
        if self._since.count(None) < 4:
            self._since = [None] * 4

    def _step(self, sample: Sample, progress: float) -> None:
        """Before anything else: what every sample with wheel speeds brings."""
        t, step = sample.t, sample.t - self._t
        moved = self._line.crossed(progress, (sample.speed or 0.0) * step)
        self._t = t
        if moved:
            for one in {id(e): e for e in (*self._since, self._open) if e is not None}.values():
                one.distance -= moved
        if not 0.0 < step <= BREAK:
            self._forget()
        self._rolling.watch(t, sample, self._throttle, self._brake)

    def _note(self, wheel: int, slip: float, t: float, progress: float, speed: float, least: float) -> None:
        """One wheel that slips now, by `slip` (positive); `least` s make it sure."""
        one = self._since[wheel]
        if one is None:
            one = self._since[wheel] = _Episode(t, progress, speed)
        if slip > one.worst:
            one.worst, one.wheel = slip, wheel
        if t - one.t >= least - HAIR and (self._open is None or one.worst > self._open.worst):
            if self._open is not None and self._open.t < one.t:
                self._open.worst, self._open.wheel = one.worst, wheel
            else:
                self._open = one

    def _over(self, t: float) -> _Episode | None:
        """The episode that is to be told now: nothing slips any more, or it has lasted for long."""
        one = self._open
        if one is None or (t - one.t < WAIT - HAIR and any(self._since)):
            return None
        self._open = None
        told, self._told_at = self._told_at, t
        return None if told is not None and one.t - told < APART else one


class LockWatch(_Wheels):
    """`lock_up`: the greatest slip of a wheel under brakes, 1 = it stood."""

    name: ClassVar[str] = "lock_up"
    faults: ClassVar[tuple[str, ...]] = ("lock_up",)
    needs: ClassVar[tuple[str, ...]] = ("wheel_speed", "brake", "ground")
    off_with: ClassVar[str | None] = "abs"

    def __init__(self) -> None:
        super().__init__()
        self._gear: int | None = None
        self._down_at = -AFTER_SHIFT

    def watch(self, sample: Sample, progress: float, shown: Shown) -> list[Finding]:
        """Takes one sample in. A lock-up is told when the wheel turns again, or after a second."""
        if sample.throttle is not None:
            self._throttle = sample.throttle
        if sample.brake is not None:
            self._brake = sample.brake
        if sample.gear is not None:
            self._shift(sample.gear, sample.t)
        if sample.wheel_speed is None or sample.speed is None:
            return []
        self._step(sample, progress)
        t, speed = sample.t, sample.speed
        if self._brake < BRAKING or speed < LOCK_SPEED:
            self._rest()
        else:
            self._look(sample, t, progress, speed, shown)
        one = self._over(t) if self._open is not None else None
        if one is None:
            return []
        evidence = {"wheel": WHEELS[one.wheel], "slip": one.worst, "speed": one.speed}
        phases, size = ("braking", "entry"), min(one.worst, 1.0)
        return [Finding("lock_up", one.distance, one.t, size, "slip", phases, evidence, size / LOCKED)]

    def _look(self, sample: Sample, t: float, progress: float, speed: float, shown: Shown) -> None:
        wheels = sample.wheel_speed
        slips = None if wheels is None or min(wheels) > ROLLS[0] * speed else self._rolling.slips(sample, speed)
        if slips is None or min(slips) > -LOCKED:
            self._rest()
            return
        turning = (sample.yaw_rate or 0.0) * speed
        light = 2 if turning > LEANS else 3 if turning < -LEANS else -1
        engine = t - self._down_at < AFTER_SHIFT and shown.gearing.driven_axle != "front"
        for wheel, slip in enumerate(slips):
            if slip > -LOCKED or (engine and wheel >= 2):
                self._since[wheel] = None
            else:
                self._note(wheel, -slip, t, progress, speed, LIFTED_FOR if wheel == light else LOCKED_FOR)

    def _shift(self, gear: int, t: float) -> None:
        before = self._gear
        if gear > 0:
            if before is not None and gear < before:
                self._down_at = t
            self._gear = gear


class WheelspinWatch(_Wheels):
    """`wheelspin`: the greatest slip of a driven wheel under power."""

    name: ClassVar[str] = "wheelspin"
    faults: ClassVar[tuple[str, ...]] = ("wheelspin",)
    needs: ClassVar[tuple[str, ...]] = ("wheel_speed", "throttle", "ground")
    off_with: ClassVar[str | None] = "traction"

    def __init__(self) -> None:
        super().__init__()
        self._habits: dict[int, deque[float]] = {}
        """the greatest slip at each place under power, pass by pass"""
        self._place = 0
        self._most: float | None = None
        """the greatest slip at this place so far; None where there was no power"""

    def watch(self, sample: Sample, progress: float, shown: Shown) -> list[Finding]:
        """Takes one sample in. A wheelspin is told when the wheel holds again, or after a second."""
        if sample.throttle is not None:
            self._throttle = sample.throttle
        if sample.brake is not None:
            self._brake = sample.brake
        if sample.wheel_speed is None or sample.speed is None:
            return []
        self._step(sample, progress)
        t, speed = sample.t, sample.speed
        powered = self._throttle >= POWER and self._brake < BRAKING and speed >= SPIN_SPEED
        slip = self._look(sample, t, progress, speed) if powered else 0.0
        if not powered:
            self._rest()
        one = self._over(t) if self._open is not None else None
        found = [] if one is None else self._judged(one, progress)
        place = int(progress / BIN)
        if place != self._place:
            if self._most is not None:
                self._habits.setdefault(self._place, deque(maxlen=PASSES)).append(self._most)
            self._place, self._most = place, None
        if powered and (self._most is None or slip > self._most):
            self._most = slip
        return found

    def _look(self, sample: Sample, t: float, progress: float, speed: float) -> float:
        wheels = sample.wheel_speed
        slips = None if wheels is None or max(wheels) < ROLLS[1] * speed else self._rolling.slips(sample, speed)
        most = 0.0 if slips is None else max(slips)
        if slips is None or most < SPINS:
            self._rest()
            return most
        for wheel, slip in enumerate(slips):
            if slip < SPINS:
                self._since[wheel] = None
            else:
                self._note(wheel, slip, t, progress, speed, SPINS_FOR)
        return most

    def _judged(self, one: _Episode, progress: float) -> list[Finding]:
        habits = self._habits
        places = range(int(one.distance / BIN), int(progress / BIN) + 1)
        usual = max((median_low(habits[i]) for i in places if len(habits.get(i, ())) >= ENOUGH), default=0.0)
        allowed = max(SPINS, usual + MORE)
        if one.worst <= allowed:
            return []
        evidence = {"wheel": WHEELS[one.wheel], "slip": one.worst, "speed": one.speed, "usual": usual}
        phases = ("exit", "straight")
        return [Finding("wheelspin", one.distance, one.t, one.worst, "slip", phases, evidence, one.worst / allowed)]
