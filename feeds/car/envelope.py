"""What a car can do in steady state, worked out from its own numbers by the laws that `Car` moves by.

Each limit is the acceleration at which the first axle reaches the peak of its tyres, with the loads, the drag and the
slips that belong to that acceleration; found step by step, since the loads depend on it.
"""

from __future__ import annotations

from collections.abc import Callable
from math import asin, atan, cos, hypot, sin, sqrt, tan
from typing import NamedTuple

from feeds.car.engine import Engine
from feeds.car.loads import Loads
from feeds.car.powertrain import capacity
from feeds.car.spec import GRAVITY, RPM, CarSpec, TyreSpec
from feeds.car.tyre import cornering_stiffness, friction

SLOWEST_CORNER = 10.0
"""m/s: slower than this the limit is that of a circle tighter than a car can turn."""
START, MOST = 10.0, 60.0
"""m/s^2: where the search begins, and what no car of this kind reaches."""
TRIES, GUESSES, CLOSE = 24, 4, 5e-4
"""The search ends this close to all of the grip, or to the acceleration itself (m/s^2)."""
ROUNDS = 30
"""in which slips and loads of a corner find each other"""
RELAXED = 0.7
"""how far a round goes towards what it found"""
SETTLED = 1e-4
"""rad of steering between two rounds"""


class Axle(NamedTuple):
    """What an axle does for the force asked of it; at the peak of its tyres where that is more than it has."""

    used: float
    """share of its grip"""
    sideways: float
    """tan of the slip angle, towards the force"""
    left: float
    right: float
    """N of longitudinal force of each wheel for one unit of slip ratio"""
    lean: float
    """share of the side force that the right wheel has more than the left"""


class Envelope:
    """Limits of a car of `mass` kg (with a full tank without it) on a level road; `grip` scales the friction."""

    def __init__(self, spec: CarSpec, mass: float | None = None, grip: float = 1.0) -> None:
        self.spec = spec
        self.mass = spec.mass_with(spec.tank) if mass is None else mass
        self.grip = grip
        self._loads = Loads(spec)
        self._engine = Engine(spec.engine)
        self._front_driven = spec.driven == "front"
        self._drag = 0.5 * spec.air_density * spec.drag_area
        self._down = 0.5 * spec.air_density * spec.lift_area
        self._pull_away = self._clutch_slips_at()
        self.understeer_gradient = self._understeer_gradient()
        """K, rad for each m/s^2 of lateral acceleration: Wf / Caf - Wr / Car at small slip angles, standing loads"""

    def lateral(self, speed: float) -> float:
        """m/s^2 towards the centre on the tightest circle that the car can hold at `speed` m/s."""
        speed = max(speed, SLOWEST_CORNER)
        return _most(lambda a: max(self._cornering(speed, a)))

    def braking(self, speed: float) -> float:
        """m/s^2 at which the first axle is about to lock, by the brakes alone (drag helps, the engine does not)."""
        return _most(lambda a: self._braking(speed, a))

    def drive(self, speed: float) -> float:
        """m/s^2 at full throttle in the best gear, or at the tyres' limit; negative where the drag is more."""
        pull = self._pull(speed, self.best_gear(speed))
        if pull <= 0.0 or self._driving(speed, pull) <= 1.0:
            return pull
        return _most(lambda a: self._driving(speed, a))

    def best_gear(self, speed: float) -> int:
        """The gear that pulls most at `speed` m/s without passing the limit; the top gear beyond all of them."""
        top = len(self.spec.gears)
        within = [g for g in range(1, top + 1) if self.spec.engine_speed(speed, g) <= self.spec.engine.limit]
        return max(within, key=lambda gear: self._pull(speed, gear), default=top)

    def steer_for(self, curvature: float, speed: float) -> float:
        """rad at the road wheels for a path of `curvature` 1/m: L / R + K ay, good well below the limit."""
        return curvature * (self.spec.wheelbase + self.understeer_gradient * speed * speed)

    def _understeer_gradient(self) -> float:
        spec, loads = self.spec, self._loads.set(self.mass, 0.0, 0.0, 0.0)
        front = self.mass * spec.front_share / (2.0 * cornering_stiffness(spec.front_tyre, loads[0]))
        rear = self.mass * (1.0 - spec.front_share) / (2.0 * cornering_stiffness(spec.rear_tyre, loads[2]))
        return (front - rear) / self.grip

    def _cornering(self, speed: float, a: float) -> tuple[float, float]:
        """The shares of their grip that the front and the rear axle use at `a` m/s^2 to the left, drive included."""
        spec, turn = self.spec, a / speed
        drag, rolling, engine = self._drag * speed, self._rolling(speed), self._engine_force(speed)
        vx, vy, steer, against = speed, 0.0, spec.wheelbase * turn / speed, 0.0
        front = rear = Axle(0.0, 0.0, 0.0, 0.0, 0.0)
        for _ in range(ROUNDS):
            pull = min(-self.mass * turn * vy + drag * vx + rolling, engine)
            side = self.mass * turn * vx + drag * vy
            loads = self._loads.set(self.mass, vx, pull, side)
            side_front = (side * spec.to_rear + against) / spec.wheelbase
            if self._front_driven:
                drive, rear_drive = pull * cos(steer) + side_front * sin(steer), 0.0
                front_drive, front_side = drive, side_front * cos(steer) - pull * sin(steer)
            else:
                drive = rear_drive = pull + side_front * tan(steer)
                front_drive, front_side = 0.0, side_front / cos(steer)
            front = self._axle(spec.front_tyre, loads[0], loads[1], front_drive, front_side)
            rear = self._axle(spec.rear_tyre, loads[2], loads[3], rear_drive, side - side_front)
            # against the turn: the outer front wheel's side force points further back, the inner driven one pushes more
            against = 0.5 * spec.front_track * front_side * sin(steer) * front.lean
            against += self._straightening(front if self._front_driven else rear, drive, turn / speed)
            vy += RELAXED * (turn * spec.to_rear - vx * rear.sideways - vy)
            vx = sqrt(max(speed * speed - vy * vy, 1.0))
            steered = min(atan((vy + turn * spec.to_front) / vx) + atan(front.sideways), spec.max_steer)
            if abs(steered - steer) < SETTLED:
                break
            steer += RELAXED * (steered - steer)
        return front.used, rear.used

    def _straightening(self, axle: Axle, drive: float, curvature: float) -> float:
        """Nm against the turn: where the differential holds the driven wheels together, the inner one drives more."""
        spec = self.spec
        track = spec.front_track if self._front_driven else spec.rear_track
        left, right = axle.left, axle.right
        apart = 0.5 * track * curvature  # slip of either wheel, one speed for both
        common = (drive - (left - right) * apart) / max(left + right, 1.0)
        more = (left - right) * common + (left + right) * apart
        most = spec.preload / spec.tyre_radius + spec.locking * abs(drive)
        return 0.5 * track * min(max(more, -most), most)

    def _braking(self, speed: float, a: float) -> float:
        """The share of its grip that the axle nearer to locking uses at `a` m/s^2, or the share of the brakes."""
        spec = self.spec
        force = self.mass * a - self._resistance(speed)
        wheels = 2.0 * spec.wheel_inertia * a / spec.tyre_radius**2  # of an axle: what slows its wheels, not the car
        pads = force + 2.0 * wheels
        loads = self._loads.set(self.mass, speed, -force, 0.0)
        front = self._axle(spec.front_tyre, loads[0], loads[1], spec.brake_bias * pads - wheels, 0.0)
        rear = self._axle(spec.rear_tyre, loads[2], loads[3], (1.0 - spec.brake_bias) * pads - wheels, 0.0)
        return max(front.used, rear.used, pads / spec.brake_force)

    def _driving(self, speed: float, a: float) -> float:
        """The share of its grip that the driven axle uses at `a` m/s^2."""
        spec = self.spec
        pull = self.mass * a + self._resistance(speed)
        loads = self._loads.set(self.mass, speed, pull, 0.0)
        rolled = 2.0 * spec.wheel_inertia * a / spec.tyre_radius**2
        if self._front_driven:
            return self._axle(spec.front_tyre, loads[0], loads[1], pull + rolled, 0.0).used
        return self._axle(spec.rear_tyre, loads[2], loads[3], pull + rolled, 0.0).used

    def _pull(self, speed: float, gear: int) -> float:
        """m/s^2 at full throttle in `gear`, were the tyres to hold."""
        spec, ratio = self.spec, self.spec.ratio(gear) / self.spec.tyre_radius
        force = self._thrust(speed * ratio) * ratio
        turning = 4.0 * spec.wheel_inertia / spec.tyre_radius**2
        if speed * ratio > self._pull_away:
            turning += spec.engine.inertia * ratio * ratio
        return (force - self._resistance(speed)) / (self.mass + turning)

    def _engine_force(self, speed: float) -> float:
        """N at the contact patches that the engine can hold at `speed` m/s."""
        ratio = self.spec.ratio(self.best_gear(speed)) / self.spec.tyre_radius
        return max(self._thrust(speed * ratio) * ratio, 0.0)

    def _thrust(self, spin: float) -> float:
        """Nm at full throttle; an engine that turns too slowly slips its clutch."""
        spin = max(spin, self._pull_away)
        return self._engine.combustion(spin, 1.0) - self._engine.friction(spin)

    def _resistance(self, speed: float) -> float:
        """N of drag and rolling resistance."""
        return self._drag * speed * speed + self._rolling(speed)

    def _rolling(self, speed: float) -> float:
        return self.spec.rolling * (self.mass * GRAVITY + self._down * speed * speed)

    def _axle(self, tyre: TyreSpec, left: float, right: float, fx: float, fy: float) -> Axle:
        """An axle with `left` and `right` N on its wheels that gives `fx` and `fy` N: the tyre's curve, inverted."""
        left_x, left_y = friction(tyre, left)
        right_x, right_y = friction(tyre, right)
        left_x *= self.grip * left
        right_x *= self.grip * right
        left_y *= self.grip * left
        right_y *= self.grip * right
        x, y = left_x + right_x, left_y + right_y
        if x <= 0.0 or y <= 0.0:
            return Axle(0.0 if fx == fy == 0.0 else 2.0, 0.0, 0.0, 0.0, 0.0)
        along, across = fx / x, fy / y
        used = max(hypot(along, across), 1e-9)
        joined = tan(asin(min(used, 1.0)) / tyre.shape) / tyre.rise
        share = used / joined
        stiff = share / tyre.peak_slip
        sideways = across / share * tyre.peak_sideways
        return Axle(used, sideways, left_x * stiff, right_x * stiff, (right_y - left_y) / y)

    def _clutch_slips_at(self) -> float:
        """rad/s at which the anti-stall clutch carries what the engine gives at full throttle."""
        spec = self.spec.engine
        low, high = 0.0, spec.launch / RPM
        for _ in range(TRIES):
            middle = 0.5 * (low + high)
            if capacity(spec, middle) < self._engine.combustion(middle, 1.0) - self._engine.friction(middle):
                low = middle
            else:
                high = middle
        return high


def _most(used: Callable[[float], float]) -> float:
    """The acceleration (m/s^2) that uses all of the grip; `used` is a share that grows about in proportion to it."""
    low, high, a = 0.0, MOST, START
    for attempt in range(TRIES):
        share = used(a)
        low, high = (a, high) if share <= 1.0 else (low, a)
        if abs(share - 1.0) < CLOSE:
            return a
        if high - low < CLOSE:
            break
        guess = a / share if share > 0.0 else high
        # near the peak the share may jump, so halving ends the search
        a = guess if attempt < GUESSES and low < guess < high else 0.5 * (low + high)
    return low
