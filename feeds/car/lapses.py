"""What a driver's habits, mistakes among them, make of the pedals on the way into a corner and out of it."""

from __future__ import annotations

from typing import NamedTuple

from feeds.car.intention import Habit

HALF = 0.5
"""Throttle: more than this is power."""
BALANCE = 0.15
"""Throttle that no more than balances the car."""
WARY = 0.35
"""Throttle up to which a foot comes that will be late with more."""
TO_POWER = 0.08
"""s that it needs from balance to power."""
SURE = 0.6
"""s of power before a foot is lifted again: so long that it was meant."""
SLIPS_FOR = 0.5
"""s that a lock-up or a wheelspin is held."""
GIVES_UP = 2.0
"""s after which it is given up where the tyres will not slip."""
HELD = 0.85
"""of the slip that is meant: from here on it is held."""
LEAD = 0.06
"""s ahead at which the foot takes the slip to be."""
STIFF = 6.0
"""How much more pedal for each 1 of slip that is missing."""
PUSH = 1.5
"""1/s: how much more while it is."""


class Pedals(NamedTuple):
    """0..1 each"""

    throttle: float
    brake: float


class Slip:
    """A slip of `size` that a foot holds for a while: a lock-up or a wheelspin."""

    def __init__(self, size: float) -> None:
        self._size, self._before = size, 0.0
        self._held = self._tried = self._more = 0.0

    @property
    def over(self) -> bool:
        """Whether it has been held for long enough, or tried for too long."""
        return self._held >= SLIPS_FOR or self._tried >= GIVES_UP

    def pedal(self, asked: float, slip: float, dt: float) -> float:
        """What the foot does that would press `asked`, with the `slip` there is now."""
        soon = slip + LEAD * (slip - self._before) / dt
        self._before = slip
        self._tried += dt
        self._held += dt if slip > HELD * self._size else 0.0
        self._more += dt * PUSH if soon < self._size else 0.0
        return min(max(asked + self._more + STIFF * (self._size - soon), 0.0), 1.0)


class WayIn:
    """One corner's way in, from the slowest place of the bend before to its own."""

    def __init__(self, habit: Habit) -> None:
        self._habit = habit
        self._lock = Slip(habit.lock) if habit.lock else None
        self._braked = False

    def pedals(self, station: float, asked: Pedals, usual: Pedals, slip: float, dt: float) -> Pedals:
        """`asked` for the meant speed, `usual` with care for the tyres; `slip` of the front wheels under brakes."""
        coast = self._habit.coast
        if coast is not None and coast[0] <= station < coast[1]:
            return Pedals(0.0, 0.0)
        if self._lock is not None and not self._lock.over:
            self._braked = self._braked or asked.brake > 0.2
            if self._braked:
                return Pedals(0.0, self._lock.pedal(asked.brake, slip, dt))
        return usual


class WayOut:
    """One corner's way out, from its slowest place to that of the next bend."""

    def __init__(self, habit: Habit) -> None:
        self._habit = habit
        self._spin = Slip(habit.spin) if habit.spin else None
        self._late = max(habit.late - TO_POWER, 0.0)
        self._waited = self._held_back = self._sure = self._lifted = 0.0

    def throttle(self, station: float, now: float, asked: float, usual: float, slip: float, dt: float) -> float:
        """`now` is where the pedal is, `asked` for the meant speed, `usual` with care for the tyres; `slip` of the
        driven wheels under power."""
        habit = self._habit
        if station < habit.marks.pickup:
            return usual
        if self._waited < habit.delay:
            self._waited += dt
            return min(usual, now)
        if self._held_back < self._late:
            if self._held_back <= 0.0 and usual < HALF:
                return min(usual, WARY)
            self._held_back += dt
            return min(usual, BALANCE)
        if habit.lift and self._lifted < habit.lift:
            self._sure += dt if now > HALF else 0.0
            if self._sure > habit.sure:
                self._lifted += dt
                return 0.0
        if self._spin is not None and not self._spin.over:
            return self._spin.pedal(asked, slip, dt)
        return usual
