"""The loads on four wheels: weight, downforce and what acceleration moves from one to another."""

from __future__ import annotations

from feeds.car.spec import GRAVITY, CarSpec


class Loads:
    """`set` works out `wheels`, N in the order FL, FR, RL, RR. Their sum is always weight and downforce.

    Pitch moves m ax h / L from axle to axle; roll moves the moment m ay h from side to side, shared by the axles as
    their roll stiffness. A wheel that would lift carries nothing, and what it cannot give the other axle does.
    """

    __slots__ = ("_down", "_down_front", "_front", "_front_roll", "_front_side", "_pitch", "_rear_side", "wheels")

    def __init__(self, spec: CarSpec) -> None:
        self._front = spec.front_share
        self._down = 0.5 * spec.air_density * spec.lift_area
        self._down_front = spec.lift_front
        self._pitch = spec.cg_height / spec.wheelbase
        self._front_roll = spec.roll_share
        self._front_side = spec.cg_height / spec.front_track
        self._rear_side = spec.cg_height / spec.rear_track
        self.wheels = [0.0] * 4

    def set(self, mass: float, speed: float, pull: float, side: float) -> list[float]:
        """At `mass` kg, forward `speed` m/s, and tyre forces `pull` forward and `side` to the left, N in all."""
        weight, down = mass * GRAVITY, self._down * speed * speed
        total = weight + down
        front = weight * self._front + down * self._down_front - pull * self._pitch
        front = min(max(front, 0.0), total)
        half_front, half_rear = 0.5 * front, 0.5 * (total - front)
        over_front = self._front_roll * side * self._front_side
        over_rear = (1.0 - self._front_roll) * side * self._rear_side
        if over_front > half_front or over_front < -half_front:
            most = half_front if over_front > 0.0 else -half_front
            over_rear += (over_front - most) * self._rear_side / self._front_side
            over_front = most
        if over_rear > half_rear or over_rear < -half_rear:
            most = half_rear if over_rear > 0.0 else -half_rear
            over_front += (over_rear - most) * self._front_side / self._rear_side
            over_rear = most
            over_front = min(max(over_front, -half_front), half_front)
        wheels = self.wheels
        wheels[0], wheels[1] = half_front - over_front, half_front + over_front
        wheels[2], wheels[3] = half_rear - over_rear, half_rear + over_rear
        return wheels
