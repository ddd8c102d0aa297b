"""The built-in driver: looks a little ahead along the meant line, steers, brakes, drives and shifts.

Hands and feet are slower than thoughts: steering and pedals move at a person's rates. Steering is the angle that the
bend ahead needs, plus what brings the car back to the line, less what turns it more than the path: opposite lock.
"""

from __future__ import annotations

import math

from feeds.car.car import Car, Controls
from feeds.car.envelope import Envelope
from feeds.car.intention import Habit, Intention, Mind
from feeds.car.place import Place
from feeds.car.plan import rolls

LOOK, LOOK_LEAST = 0.10, 2.0
"""s of way ahead, and m at least, where the hands are already."""
TO_LINE, TO_COURSE, TO_YAW = 0.06, 0.55, 0.22
"""rad of steering for each m off the line (less at speed), rad off its course, and rad/s of yaw beyond the path's."""
TO_SLIDE, SLIDES = 1.5, 0.10
"""rad of opposite lock for each rad that the rear axle slides beyond so much: about the tyres' peak."""
HANDS = 1.6
"""rad/s at the road wheels."""
THROTTLE_DOWN, THROTTLE_UP, BRAKE_DOWN, BRAKE_UP = 9.0, 4.5, 6.0, 8.0
"""Pedal travels a second."""
FEET = 0.08
"""s ahead that the feet act."""
AGAIN = 1.2
"""1/s: how quickly a difference to the meant speed is to be made good."""
COASTING, PULLING = -0.6, 0.2
"""m/s^2 of plan: below is braking, above is power."""
SHIFT_EVERY = 0.22
"""s between two changes of gear."""
SHIFT_UP = 0.965
"""of the engine's limit."""
BLIP, BLIP_FOR = 0.45, 0.12
"""Throttle and s of the blip of a shift down."""
BALANCE = 0.15
"""Throttle that no more than balances the car."""
TO_POWER = 0.27
"""s that the foot needs, from there to power: what it looks ahead and its own way."""
SPINS, LOCKS = 0.12, 0.14
"""Slip of a driven wheel, and less than rolling of a braked one, from which the foot gives way."""
SLIPS_FOR = 0.5
"""s that a lock-up or a wheelspin is held."""


class Driver:
    """Drives `car` on the laps that `mind` means. `controls` are renewed by `act`."""

    def __init__(self, car: Car, envelope: Envelope, mind: Mind, place: Place) -> None:
        self.car, self.place = car, place
        self.controls = Controls(0.0, 0.0, 0.0, 0.0, car.gear)
        self._mind, self._envelope = mind, envelope
        spec = car.spec
        self._limit = spec.engine.limit
        self._ratios = [spec.engine_speed(1.0, gear) for gear in range(1, len(spec.gears) + 1)]
        self._brakes = spec.brake_force / spec.mass
        self._driven = 2 if spec.driven == "rear" else 0
        self._lap: int | None = None
        self._meant: Intention = mind.lap(0)
        self._since_shift = 1.0
        self._next: Habit | None = None
        self._left: Habit | None = None
        self._locking: Habit | None = None
        self._waited = self._late = self._lifted = self._spun = self._committed = self._locked = 0.0

    def act(self, dt: float) -> None:
        """Look, and set the controls for the next `dt` s."""
        place, car = self.place, self.car
        if place.laps != self._lap:
            self._lap = place.laps
            self._meant = self._mind.lap(place.laps)
        self._since_shift += dt
        speed = max(car.speed, 1.0)
        self._which_corner()
        self._steer(speed, dt)
        self._feet(speed, dt)
        self._shift(speed)

    def _which_corner(self) -> None:
        """Which corner comes and which was left, divided where each is slowest; a new one's counts begin anew."""
        self._next = self._meant.nearing(self.place.station)
        left = self._meant.leaving(self.place.station)
        if left is not None and left is not self._left:
            self._left = left
            self._waited = self._late = self._lifted = self._spun = self._committed = 0.0
        if self._next is not self._locking:
            self._locking, self._locked = self._next, 0.0

    def _steer(self, speed: float, dt: float) -> None:
        place, car, meant = self.place, self.car, self._meant
        ahead = max(LOOK * speed, LOOK_LEAST)
        bend = meant.bend_at(place.station + ahead)
        here = meant.bend_at(place.station)
        off = meant.offset_at(place.station) - place.offset
        slide = math.atan2(car.vy, max(car.vx, 1.0))
        off_course = _angle(place.heading + meant.course_at(place.station) - car.yaw - slide)
        turning = car.yaw_rate - here * speed
        wanted = (
            self._envelope.steer_for(bend, speed)
            + TO_LINE * off * 12.0 / max(speed, 12.0)
            + TO_COURSE * off_course
            - TO_YAW * turning
            + TO_SLIDE * _beyond(self._rear_slide(speed), SLIDES)
        )
        most = car.spec.max_steer
        self.controls.steer = _towards(self.controls.steer, max(-most, min(most, wanted)), HANDS * dt)

    def _feet(self, speed: float, dt: float) -> None:
        plan, station = self._meant.plan, self.place.station
        look = station + FEET * speed
        planned = plan.acceleration_at(look)
        wanted = planned + AGAIN * (plan.at(station) - speed)
        throttle, brake = self._pedals(planned, wanted, speed, self._meant.bend_at(look))
        throttle *= 1.0 - _share(max(self.car.slip_ratio[self._driven : self._driven + 2]) - SPINS, SPINS)
        brake *= 1.0 - 0.6 * _share(-min(self.car.slip_ratio) - LOCKS, LOCKS)
        throttle, brake = self._settle(throttle, brake, speed)
        throttle, brake = self._as_habit(throttle, brake, speed, dt)
        controls = self.controls
        if self._since_shift < BLIP_FOR and controls.brake > 0.0:
            controls.throttle = BLIP
        else:
            controls.throttle = _moved(controls.throttle, throttle, THROTTLE_UP * dt, THROTTLE_DOWN * dt)
        controls.brake = _moved(controls.brake, brake, BRAKE_UP * dt, BRAKE_DOWN * dt)

    def _pedals(self, planned: float, wanted: float, speed: float, bend: float) -> tuple[float, float]:
        """Throttle and brake for an acceleration that is `planned` and, with what is to be made good, `wanted`."""
        plan = self._meant.plan
        most = plan.pull(speed, bend)
        roll = rolls(speed)
        if planned > PULLING:
            wanted = most if wanted > 0.0 else planned + wanted
        if wanted > -roll * 0.5 and planned > COASTING:
            return plan.pedal(speed, min(wanted, most)), 0.0
        if wanted > -roll:
            return 0.0, 0.0
        return 0.0, min(1.0, (-wanted - roll) / self._brakes)

    def _settle(self, throttle: float, brake: float, speed: float) -> tuple[float, float]:
        """While the rear comes round: off the brake, and as much throttle as frees the driven wheels of the engine."""
        calm = 1.0 - _share(abs(self._rear_slide(speed)) - SLIDES, SLIDES)
        return throttle * calm + BALANCE * (1.0 - calm), brake * calm

    def _rear_slide(self, speed: float) -> float:
        """rad, slip angle of the rear axle, positive to the left."""
        car = self.car
        return math.atan2(car.vy - car.spec.to_rear * car.yaw_rate, max(abs(car.vx), 1.0)) if speed > 3.0 else 0.0

    def _as_habit(self, throttle: float, brake: float, speed: float, dt: float) -> tuple[float, float]:
        """What the habits at the corner that comes and the one that was left make of the pedals."""
        throttle, brake = self._way_in(throttle, brake, speed, dt)
        return (self._way_out(throttle, dt), brake) if brake <= 0.0 else (throttle, brake)

    def _way_in(self, throttle: float, brake: float, speed: float, dt: float) -> tuple[float, float]:
        habit, station = self._next, self.place.station
        if habit is None:
            return throttle, brake
        mark = habit.marks.brake
        if habit.coast and mark - habit.coast * speed <= station < mark:
            return 0.0, 0.0
        if habit.lock and brake > 0.2 and self._locked < SLIPS_FOR:
            now = -min(self.car.slip_ratio[:2])
            self._locked += dt if now > 0.7 * habit.lock else 0.0
            return 0.0, 1.0 if now < habit.lock else 0.4 * brake
        return throttle, brake

    def _way_out(self, throttle: float, dt: float) -> float:
        habit, station = self._left, self.place.station
        if habit is None or station < habit.marks.pickup:
            return throttle
        marks = habit.marks
        if self._waited < habit.delay:
            self._waited += dt
            return min(throttle, self.controls.throttle)
        if self._late < habit.late:
            self._late += dt if station >= marks.committed - TO_POWER * self.car.speed else 0.0
            return min(throttle, BALANCE)
        if habit.lift:
            self._committed += dt if throttle > 0.5 else 0.0
            if self._committed > 0.35 and self._lifted < habit.lift:
                self._lifted += dt
                return 0.0
        if habit.spin and self._spun < SLIPS_FOR:
            now = max(self.car.slip_ratio[self._driven : self._driven + 2])
            self._spun += dt if now > 0.7 * habit.spin else 0.0
            return 1.0 if now < habit.spin else 0.5 * throttle
        return throttle

    def _shift(self, speed: float) -> None:
        gear = self.controls.gear
        if self._since_shift < SHIFT_EVERY or self.car.gear != gear:
            return
        turns = self._ratios[gear - 1] * speed
        slowing = self.controls.brake > 0.05 or turns < 0.4 * self._limit
        if slowing and gear > 1:
            allowed = self._mind.person.shift_down * self._limit
            if self._next is not None:
                allowed += self._next.shift_down
                if self._next.over_limit is not None:
                    allowed = self._limit + self._next.over_limit
            slower = self.car.spec.shift_time * max(-self.car.ax, 0.0)
            if self._ratios[gear - 2] * (speed - slower) < allowed:
                self._change(gear - 1)
        elif self.controls.throttle > 0.5 and gear < len(self._ratios):
            change = 0.0 if self._left is None else self._left.shift_up
            if max(turns, self.car.engine_speed) > SHIFT_UP * self._limit + change:
                self._change(gear + 1)

    def _change(self, gear: int) -> None:
        self.controls.gear = gear
        self._since_shift = 0.0


def _towards(now: float, wanted: float, most: float) -> float:
    return _moved(now, wanted, most, most)


def _moved(now: float, wanted: float, up: float, down: float) -> float:
    return min(wanted, now + up) if wanted > now else max(wanted, now - down)


def _beyond(value: float, bound: float) -> float:
    return math.copysign(max(abs(value) - bound, 0.0), value)


def _share(over: float, whole: float) -> float:
    return min(max(over / whole, 0.0), 1.0)


def _angle(angle: float) -> float:
    return math.remainder(angle, math.tau)
