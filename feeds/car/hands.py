"""The driver's hands: the steering that the bend ahead needs, and what brings the car back to its line.

Less what turns it more than the path, which is opposite lock; and never more lock than the front tyres make use of.
"""

from __future__ import annotations

import math

from feeds.car.car import Car
from feeds.car.envelope import Envelope
from feeds.car.intention import Intention
from feeds.car.place import Place

LOOK, LOOK_LEAST = 0.10, 2.0
"""s of way ahead, and m at least, where the hands are already."""
TO_LINE, TO_COURSE, TO_YAW = 0.06, 0.55, 0.22
"""rad of steering for each m off the line (less at speed), rad off its course, and rad/s of yaw beyond the path's."""
AS_ABOVE = 12.0
"""m/s from which less is steered for each m off the line."""
TO_SLIDE, SLIDES = 1.5, 0.10
"""rad of opposite lock for each rad that the rear axle slides beyond so much: about the tyres' peak."""
BITES = 1.15
"""of the front tyres' peak slip angle: with more than this a driver feels the front give up."""
QUICK = 1.6
"""rad/s at the road wheels."""


class Hands:
    """Steer one car."""

    def __init__(self, car: Car, envelope: Envelope) -> None:
        self._car, self._envelope = car, envelope

    def steer(self, now: float, meant: Intention, place: Place, speed: float, dt: float) -> float:
        """rad at the road wheels `dt` s after they were at `now`."""
        car = self._car
        ahead = max(LOOK * speed, LOOK_LEAST)
        off = meant.offset_at(place.station) - place.offset
        slide = math.atan2(car.vy, max(car.vx, 1.0))
        off_course = math.remainder(place.heading + meant.course_at(place.station) - car.yaw - slide, math.tau)
        turning = car.yaw_rate - meant.bend_at(place.station) * speed
        wanted = (
            self._envelope.steer_for(meant.bend_at(place.station + ahead), speed)
            + TO_LINE * off * AS_ABOVE / max(speed, AS_ABOVE)
            + TO_COURSE * off_course
            - TO_YAW * turning
            + TO_SLIDE * _beyond(rear_slide(car), SLIDES)
        )
        rolling = math.atan2(car.vy + car.spec.to_front * car.yaw_rate, max(car.vx, 1.0))
        bite = BITES * car.spec.front_tyre.peak_angle
        wanted = min(max(wanted, rolling - bite), rolling + bite)
        most = car.spec.max_steer
        return min(max(wanted, now - QUICK * dt, -most), now + QUICK * dt, most)


def rear_slide(car: Car) -> float:
    """rad, slip angle of the rear axle, positive to the left; nothing at a walk."""
    if car.speed < 3.0:
        return 0.0
    return math.atan2(car.vy - car.spec.to_rear * car.yaw_rate, max(abs(car.vx), 1.0))


def _beyond(value: float, bound: float) -> float:
    return math.copysign(max(abs(value) - bound, 0.0), value)
