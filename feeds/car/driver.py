"""The built-in driver: looks a little ahead along the meant line, steers, brakes, drives and shifts.

Hands and feet are slower than thoughts: steering and pedals move at a person's rates.
"""

from __future__ import annotations

from feeds.car.car import Car, Controls
from feeds.car.envelope import Envelope
from feeds.car.feet import SPINS, Feet
from feeds.car.hands import Hands
from feeds.car.intention import Habit
from feeds.car.mind import Mind
from feeds.car.place import Place

SHIFT_EVERY = 0.22
"""s between two changes of gear."""
SHIFT_UP = 0.965
"""of the engine's limit."""
LIMITER = 0.995
"""of the engine's limit: nearer it the engine gives too little to gain speed."""
LUGS = 0.4
"""of the engine's limit: with less a lower gear is taken even without the brake."""
BLIP_FOR = 0.12
"""s of the blip of a shift down at least; where the box takes longer, as long as that."""


class Driver:
    """Drives `car` on the laps that `mind` means. `controls` are renewed by `act`."""

    def __init__(self, car: Car, envelope: Envelope, mind: Mind, place: Place) -> None:
        self.car, self.place = car, place
        self.controls = Controls(0.0, 0.0, 0.0, 0.0, car.gear)
        self._mind, self._hands, self._feet = mind, Hands(car, envelope), Feet(car)
        self._limit = car.spec.engine.limit
        self._blip_for = max(BLIP_FOR, car.spec.shift_time)
        self._turns = [car.spec.engine_speed(1.0, gear) for gear in range(1, len(car.spec.gears) + 1)]
        self._lap, self._meant = place.laps, mind.lap(place.laps)
        self._since_shift = 1.0
        self._missed = 0.0
        """rev/min that the next gear would have gained while the limiter held the car"""

    def act(self, dt: float) -> None:
        """Look, and set the controls for the next `dt` s."""
        place, controls = self.place, self.controls
        if place.laps != self._lap:
            self._lap, self._meant = place.laps, self._mind.lap(place.laps)
        self._since_shift += dt
        speed = max(self.car.speed, 1.0)
        controls.steer = self._hands.steer(controls.steer, self._meant, place, speed, dt)
        self._feet.press(controls, self._meant, place.station, speed, dt)
        if self._since_shift < self._blip_for and controls.brake > 0.0:
            controls.throttle = self.car.spec.blip
        self._shift(speed, dt)

    def _shift(self, speed: float, dt: float) -> None:
        gear = self.controls.gear
        if self._since_shift < SHIFT_EVERY or self.car.gear != gear:
            return
        turns = self._turns[gear - 1] * speed
        slowing = self.controls.brake > 0.05 or turns < LUGS * self._limit
        if slowing and gear > 1:
            slower = self.car.spec.shift_time * max(-self.car.ax, 0.0)
            if self._turns[gear - 2] * (speed - slower) < self._down(self._meant.nearing(self.place.station)):
                self._change(gear - 1)
        elif self.controls.throttle > 0.5 and gear < len(self._turns):
            left = self._meant.leaving(self.place.station)
            mark = SHIFT_UP * self._limit + (0.0 if left is None else left.shift_up)
            if max(turns, self.car.engine_speed) > min(mark, LIMITER * self._limit) and self._feet.spinning < SPINS:
                pull = self._meant.plan.pull(speed, self._meant.bend_at(self.place.station))
                self._missed += self._turns[gear - 1] * pull * dt
                if self._missed >= mark - LIMITER * self._limit:
                    self._change(gear + 1)

    def _down(self, habit: Habit | None) -> float:
        """rev/min that the lower gear may need."""
        usual = self._mind.person.shift_down * self._limit
        if habit is None:
            return usual
        return usual + habit.shift_down if habit.over_limit is None else self._limit + habit.over_limit

    def _change(self, gear: int) -> None:
        self.controls.gear = gear
        self._since_shift = self._missed = 0.0
