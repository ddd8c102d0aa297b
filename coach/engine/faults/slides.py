"""Slides: the rear steps out and is caught, or is not.

ISO 8855: x forward, y left, yaw rate r and steering positive to the left. How far the car points beside its way is
beta = atan(vy / vx), and kinematics give d(beta)/dt = a / v - r with a the acceleration across the way: a car that
turns faster than its path (|r| > |ay| / v) points ever further into the bend (checks 3.12). The rear axle, `REAR`
behind the middle, slides outwards by the slip angle atan((REAR r - vy) / vx) in a left turn, mirrored in a right one.
Up to the tyre's peak, 8.5 degrees for the example tyre of checks 3.9, it only carries the bend; beyond, it slides. A
driver answers by steering against the yaw. So a slide is a rear slip angle beyond the peak with opposite lock, or
without it one so far beyond that no bend explains it; either beyond what this driver shows bend by bend, since some
cars and some roads are driven sideways. It is a spin when the car points 1.2 rad and more from its way (`conduct`),
or backward.

Channels: `yaw_rate`, `speed`, and `vx`, `vy`; or without these `ay` (with `ax` the better), from which the angle's
growth is summed up by the equation above, forgotten again over `WASHOUT`: a banked road reads as a steady slide. One
row of kerb noise of 30 m/s^2 at 20 m/s and 50 Hz is 0.03 rad there, and is taken out by the median of five. `steer`
tells of opposite lock, `throttle`, `brake` and `gear` what began it. No aid switches it off.
"""

from __future__ import annotations

from collections import deque
from math import atan2, copysign, cos, sin
from typing import ClassVar

from coach.engine.conduct import SPIN_ANGLE, SPIN_SPEED
from coach.engine.faults.base import Finding
from coach.engine.faults.lapline import LapLine
from coach.engine.held import BRAKING
from coach.engine.shown import Shown
from coach.vocabulary.events import PHASES
from coach.vocabulary.sample import Sample

REAR = 1.3
"""m from the middle of the car back to its rear axle (choice; half of a usual wheelbase)."""
TURNING = 0.1
"""rad/s: what turns less is a straight."""
LEAST_SPEED = 6.0
"""m/s: below, the angle of travel is noise, and a slide is soon over."""
PEAK = 0.148
"""rad: 8.5 degrees, where the example tyre carries most (checks 3.9)."""
PLAIN = 0.21
"""rad of slip at the rear that is a slide without opposite lock too: 12 degrees (choice)."""
NORMAL = 0.10
"""rad that a bend at the limit shows, until the driver's own is known (choice: somewhat under the peak)."""
BEYOND, FURTHER = 0.05, 0.11
"""rad beyond the driver's own that make a slide, with opposite lock and without (choice: PEAK, PLAIN less NORMAL)."""
WIDER = 1.3
"""times the driver's own: who drives at large angles varies by more (choice)."""
BENDS, ENOUGH = 40, 8
"""Bends whose greatest angle is kept, and so many make the driver's own."""
SHORTEST = 0.5
"""s of turning that make a bend."""
HELD = 0.1
"""s that a slide has to last: a kerb shakes the car for less."""
LOCK = 0.03
"""of the most steering seen: as much against the yaw is opposite lock, less is about straight."""
SMOOTH = 5
"""Samples whose median growth is summed up, so that single rows of kerb noise are none."""
WASHOUT = 1.0
"""s in which a summed angle is forgotten (choice: a slide grows in half of that, a bend lasts for longer)."""
WAIT, SPIN_WAIT = 0.6, 0.5
"""s after which a slide or a spin is told, its greatest angle seen or not."""
CAUGHT = 0.8
"""of its greatest angle: then it has been caught."""
APART, SPIN_APART = 2.0, 6.0
"""s between two slides, and two spins; nearer ones are one that swings, and a car that turns round again (choice)."""
LIFTED, SHIFTED = 0.5, 0.6
"""s before the slide in which throttle closed or a lower gear taken began it."""
OPEN, CLOSED = 0.3, 0.1
"""Throttle that drives, and that does not."""
BREAK = 0.3
"""s without a sample, or without a channel, after which it is not known any more."""
HAIR = 1e-9
"""s"""


class _Feet:
    """Pedals, gear and steering as they were sent last, and when what may begin a slide was last done."""

    __slots__ = ("brake", "braked", "down", "driven", "gear", "most", "steer", "throttle")

    def __init__(self) -> None:
        self.throttle = self.brake = self.steer = self.most = 0.0
        self.gear: int | None = None
        self.down = self.driven = self.braked = -BREAK
        """s: the last lower gear, throttle that drove, and brake"""

    def watch(self, sample: Sample) -> None:
        t = sample.t
        if sample.throttle is not None:
            self.throttle = sample.throttle
            if sample.throttle > OPEN:
                self.driven = t
        if sample.brake is not None:
            self.brake = sample.brake
            if sample.brake > BRAKING:
                self.braked = t
        if sample.steer is not None:
            self.steer = sample.steer
            if abs(sample.steer) > self.most:
                self.most = abs(sample.steer)
        gear = sample.gear
        if gear is not None and gear > 0 and gear != self.gear:
            if self.gear is not None and gear < self.gear:
                self.down = t
            self.gear = gear

    def cause(self, t: float) -> str:
        """What a slide that begins now came from."""
        if 0.0 <= t - self.down <= SHIFTED:
            return "downshift"
        if self.brake > BRAKING:
            return "brakes"
        if self.throttle > CLOSED:
            return "power"
        lifted, released = t - self.driven, t - self.braked
        return "brakes" if released < LIFTED and released < lifted else "lift-off"


class _Own:
    """How far the rear slides in this driver's bends: the upper quartile, so that single slides do not move it."""

    __slots__ = ("_peaks", "further", "limit", "usual")

    def __init__(self) -> None:
        self._peaks: deque[float] = deque(maxlen=BENDS)
        self.usual, self.limit, self.further = NORMAL, PEAK, PLAIN
        """rad: as far as usual, as no driver means to with opposite lock, and without"""

    def add(self, peak: float) -> None:
        """The greatest angle of one bend."""
        self._peaks.append(peak)
        if len(self._peaks) < ENOUGH:
            return
        self.usual = sorted(self._peaks)[len(self._peaks) * 3 // 4]
        self.limit = min(max(PEAK, WIDER * self.usual + BEYOND), SPIN_ANGLE)
        self.further = min(max(PLAIN, WIDER * self.usual + FURTHER), SPIN_ANGLE)


class _Bend:
    """One bend: to which side (1 left, -1 right), since when, when it last turned, and how far the rear slid."""

    __slots__ = ("before", "last", "peak", "side", "since")

    def __init__(self, t: float, side: float) -> None:
        self.since = self.last = t
        self.side = side
        self.peak = self.before = 0.0


class _Slide:
    """A slide on its way: since when and where, what began it, and how far it went."""

    __slots__ = ("cause", "distance", "ended", "lock", "side", "since", "speed", "spun", "sure", "told", "worst")

    def __init__(self, t: float, distance: float, speed: float, side: float, cause: str) -> None:
        self.since, self.distance, self.speed, self.side, self.cause = t, distance, speed, side, cause
        self.worst = 0.0
        self.lock = self.told = self.ended = False
        """opposite lock was held; the slide was told; so was the spin that it became"""
        self.sure: float | None = None
        self.spun: float | None = None


class SlideWatch:
    """`rear_step_out` and `spin`: rad of slip at the rear beyond the driver's usual. Both begin at the same moment."""

    name: ClassVar[str] = "slides"
    faults: ClassVar[tuple[str, ...]] = ("rear_step_out", "spin")
    needs: ClassVar[tuple[str, ...]] = ("yaw_rate", "slide")
    off_with: ClassVar[str | None] = None

    def __init__(self) -> None:
        self._line = LapLine()
        self._feet = _Feet()
        self._own = _Own()
        self._t = 0.0
        self._sent_at = -BREAK
        self._growth: deque[float] = deque(maxlen=SMOOTH)
        self._beta = 0.0
        self._bend: _Bend | None = None
        self._begun: _Slide | None = None
        """the rear is beyond the usual; a slide once it is sure"""
        self._doubtful: float | None = None
        """s: since when it is plain, though not yet for long enough"""
        self._ended, self._spun_at = -APART, -SPIN_APART

    def reset(self) -> None:
        """What was going on is over; what is usual stays known."""
        self._line.forget()
        self._forget()
        self._ended, self._spun_at = -APART, -SPIN_APART

    def watch(self, sample: Sample, progress: float, shown: Shown) -> list[Finding]:
        """Takes one sample in. A slide is told when it has been caught or has become a spin, or after a moment."""
        self._feet.watch(sample)
        rate, speed, t = sample.yaw_rate, sample.speed, sample.t
        if rate is None or speed is None:
            return []
        step, self._t = t - self._t, t
        moved = self._line.crossed(progress, speed * step)
        if moved and self._begun is not None:
            self._begun.distance -= moved
        if not 0.0 < step <= BREAK:
            self._forget()
            return []
        beta = self._angle(sample, rate, speed, step)
        if beta is None:
            return []
        slide = self._begun
        if slide is not None and slide.sure is not None:
            return self._sliding(slide, t, speed, _rear(beta, rate, speed, slide.side), beta, sample.gear)
        bend = self._turning(t, rate)
        if bend is None or speed < LEAST_SPEED:
            self._begun = self._doubtful = None
            return []
        rear = _rear(beta, rate, speed, bend.side)
        peak = rear if rear < bend.before else bend.before
        if peak > bend.peak:
            bend.peak = peak
        bend.before = rear
        self._look(bend, t, progress, speed, rear)
        return []

    def _look(self, bend: _Bend, t: float, progress: float, speed: float, rear: float) -> None:
        """Whether a slide begins: beyond what is usual, and then plainly so for `HELD`."""
        own, feet = self._own, self._feet
        if rear < 0.5 * (own.usual + own.limit):
            self._begun = self._doubtful = None
            return
        slide = self._begun
        if slide is None and rear > SPIN_ANGLE:
            return  # no slide begins there: the car reverses, or turns round after a spin
        if slide is None:
            slide = self._begun = _Slide(t, progress, speed, bend.side, feet.cause(t))
        slide.worst = max(slide.worst, rear)
        lock = feet.steer * bend.side < -LOCK * feet.most
        if not (rear > own.further or (lock and rear > own.limit)):
            self._doubtful = None
            return
        slide.lock = slide.lock or lock
        if self._doubtful is None:
            self._doubtful = t
        if t - self._doubtful >= HELD - HAIR:
            slide.sure = t
            slide.told = slide.since - self._ended < APART
            slide.ended = slide.since - self._spun_at < SPIN_APART
            self._doubtful = None

    def _sliding(
        self, slide: _Slide, t: float, speed: float, rear: float, beta: float, gear: int | None
    ) -> list[Finding]:
        """Follows a slide until it has been caught or the car stands."""
        assert slide.sure is not None
        feet = self._feet
        slide.worst = max(slide.worst, rear)
        slide.lock = slide.lock or feet.steer * slide.side < -LOCK * feet.most
        slow = speed < SPIN_SPEED
        if slide.spun is None and not slow and gear != -1 and abs(beta) > SPIN_ANGLE:
            slide.spun = t
        found: list[Finding] = []
        past = slow or rear < CAUGHT * slide.worst
        if slide.spun is not None and not slide.ended and (past or t - slide.spun >= SPIN_WAIT - HAIR):
            slide.ended = True
            found = [self._finding("spin", slide)]
        if not slide.told and (past or t - slide.sure >= WAIT - HAIR or slide.ended):
            slide.told = True
            found.insert(0, self._finding("rear_step_out", slide))
        bend = self._bend
        if bend is not None:
            bend.last, bend.peak = t, max(bend.peak, slide.worst)
        if slow or rear < self._own.usual:
            self._begun, self._ended = None, t
            if slide.ended:
                self._spun_at, self._bend = t, None  # no driver's usual
        return found

    def _finding(self, fault: str, slide: _Slide) -> Finding:
        own = self._own
        evidence = {
            "cause": slide.cause,
            "angle": slide.worst,
            "usual": own.usual,
            "opposite_lock": slide.lock,
            "speed": slide.speed,
        }
        size, strength = slide.worst - own.usual, max(1.0, slide.worst / own.limit)
        return Finding(fault, slide.distance, slide.since, size, "rad", PHASES, evidence, strength)

    def _turning(self, t: float, rate: float) -> _Bend | None:
        """The bend that the car is in; what one showed is learned when it is over."""
        bend = self._bend
        if abs(rate) >= TURNING:
            if bend is not None and bend.side * rate > 0.0:
                bend.last = t
                return bend
            self._leave()
            self._bend = bend = _Bend(t, copysign(1.0, rate))
            return bend
        if bend is not None and t - bend.last > BREAK:
            self._leave()
        return None

    def _leave(self) -> None:
        bend, self._bend = self._bend, None
        if bend is not None and bend.last - bend.since >= SHORTEST:
            self._own.add(bend.peak)

    def _angle(self, sample: Sample, rate: float, speed: float, step: float) -> float | None:
        """beta in rad: sent, or else summed up; None where it is not known now."""
        vx, vy, t = sample.vx, sample.vy, sample.t
        if vx is not None and vy is not None:
            self._sent_at = t
            return atan2(vy, vx) if vx < 0.0 or abs(vy) > 0.02 * vx else (vy / vx if vx else 0.0)
        if t - self._sent_at < BREAK:
            return None  # a source of several packets sends them in the next
        if sample.ay is None:
            return None
        if speed < SPIN_SPEED:
            self._beta = 0.0
            return None
        beta, across = self._beta, sample.ay
        if sample.ax is not None:
            across = across * cos(beta) - sample.ax * sin(beta)
        growth = self._growth
        growth.append(across / speed - rate)
        beta += sorted(growth)[len(growth) // 2] * step
        slides = self._begun is not None and self._begun.sure is not None
        self._beta = beta if slides else beta - beta * min(step / WASHOUT, 1.0)
        return self._beta

    def _forget(self) -> None:
        self._bend = self._begun = self._doubtful = None
        self._beta = 0.0
        self._growth.clear()


def _rear(beta: float, rate: float, speed: float, side: float) -> float:
    """rad by which the rear axle slides to the outside of a bend to `side`."""
    along = speed * cos(beta)
    return atan2(REAR * rate * side - speed * sin(beta) * side, along)
