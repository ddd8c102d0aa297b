"""The driver's feet: throttle and brake for the meant speeds, with care for the tyres and the car's balance."""

from __future__ import annotations

import math

from feeds.car.car import Car, Controls
from feeds.car.hands import SLIDES, rear_slide
from feeds.car.intention import Habit, Intention
from feeds.car.lapses import BALANCE, Pedals, WayIn, WayOut
from feeds.car.plan import SpeedPlan, rolls

THROTTLE_DOWN, THROTTLE_UP, BRAKE_DOWN, BRAKE_UP = 9.0, 4.5, 6.0, 8.0
"""Pedal travels a second."""
AHEAD = 0.08
"""s ahead that the feet act."""
AGAIN = 1.2
"""1/s: how quickly a difference to the meant speed is to be made good."""
COASTING, PULLING = -0.6, 0.2
"""m/s^2 of plan: below is braking, above is power."""
SPINS, LOCKS = 0.12, 0.14
"""Slip of a driven wheel, and less than rolling of a braked one, from which the foot gives way."""


class Feet:
    """Press the pedals of one car."""

    def __init__(self, car: Car) -> None:
        self._car = car
        self._brakes = car.spec.brake_force / car.spec.mass
        self.spinning = 0.0
        """slip of the driven wheel that spins most"""
        self._driven = slice(2, 4) if car.spec.driven == "rear" else slice(0, 2)
        self._next: Habit | None = None
        self._left: Habit | None = None
        self._in: WayIn | None = None
        self._out: WayOut | None = None

    def press(self, controls: Controls, meant: Intention, station: float, speed: float, dt: float) -> None:
        """Move `controls`' pedals for `dt` s."""
        self._look(meant, station)
        slips = self._car.slip_ratio
        self.spinning = spinning = max(slips[self._driven])
        asked = self._asked(meant, station, speed, controls.brake)
        usual = self._settled(_gentle(asked, spinning, -min(slips)))
        if self._in is not None:
            usual = self._in.pedals(station, asked, usual, -min(slips[:2]), dt)
        throttle, brake = usual
        if self._out is not None and brake <= 0.0:
            throttle = self._out.throttle(station, controls.throttle, asked.throttle, throttle, spinning, dt)
        controls.throttle = _moved(controls.throttle, throttle, THROTTLE_UP * dt, THROTTLE_DOWN * dt)
        controls.brake = _moved(controls.brake, brake, BRAKE_UP * dt, BRAKE_DOWN * dt)

    def _look(self, meant: Intention, station: float) -> None:
        """Which corner comes and which was left: the bends' slowest places part them."""
        coming, left = meant.nearing(station), meant.leaving(station)
        if coming is not self._next:
            self._next, self._in = coming, None if coming is None else WayIn(coming)
        if left is not None and left is not self._left:
            self._left, self._out = left, WayOut(left)

    def _asked(self, meant: Intention, station: float, speed: float, pressed: float) -> Pedals:
        """For the acceleration that is planned and what is to be made good of the speed; the brake is `pressed`."""
        plan, look = meant.plan, station + AHEAD * speed
        planned = plan.acceleration_at(look)
        wanted = planned + AGAIN * (plan.at(station) - speed)
        most, roll = plan.pull(speed, meant.bend_at(look)), rolls(speed)
        if planned > PULLING:
            wanted = most if wanted > 0.0 else planned + wanted
        if wanted > -roll * 0.5 and planned > COASTING:
            return Pedals(plan.pedal(speed, min(wanted, most)), 0.0)
        if wanted > -roll:
            return Pedals(0.0, 0.0)
        brake = (-wanted - roll) / self._brakes
        return Pedals(0.0, min(brake, self._most_brake(plan, speed), self._soft_brake(pressed)))

    def _most_brake(self, plan: SpeedPlan, speed: float) -> float:
        """The pedal that uses all that the cornering leaves: see `Use`, with 2."""
        table = plan.table
        cornering = min(abs(self._car.ay) / table.read(table.lateral, speed), 1.0)
        return min((1.0 - cornering * cornering) * table.read(table.braking, speed) / self._brakes, 1.0)

    def _soft_brake(self, pressed: float) -> float:
        """The pedal that slows the car no more than its driver means to, by what is felt of it."""
        if self._next is None or self._next.hardest == math.inf:
            return 1.0
        by_the_rest = -self._car.ax - self._brakes * pressed
        return max(self._next.hardest - by_the_rest, 0.0) / self._brakes

    def _settled(self, pedals: Pedals) -> Pedals:
        """While the rear comes round: off the brake, and as much throttle as frees the driven wheels of the engine."""
        calm = 1.0 - _share(abs(rear_slide(self._car)) - SLIDES, SLIDES)
        return Pedals(pedals.throttle * calm + BALANCE * (1.0 - calm), pedals.brake * calm)


def _gentle(pedals: Pedals, spinning: float, locking: float) -> Pedals:
    """The foot gives way where wheels spin or lock."""
    throttle = pedals.throttle * (1.0 - _share(spinning - SPINS, SPINS))
    return Pedals(throttle, pedals.brake * (1.0 - 0.6 * _share(locking - LOCKS, LOCKS)))


def _moved(now: float, wanted: float, up: float, down: float) -> float:
    return min(wanted, now + up) if wanted > now else max(wanted, now - down)


def _share(over: float, whole: float) -> float:
    return min(max(over / whole, 0.0), 1.0)
