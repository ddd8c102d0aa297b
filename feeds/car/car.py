"""The car on the plane: body, four wheels, engine.

ISO 8855: x forward, y left, angles counter-clockwise seen from above. The front wheels steer in parallel. Weight moves
with a first-order lag; there are no springs, hills act along the car's heading only.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, ceil, cos, hypot, sin

from feeds.car.heat import TyreHeat
from feeds.car.loads import Loads
from feeds.car.powertrain import Powertrain
from feeds.car.spec import GRAVITY, RPM, CarSpec
from feeds.car.wheel import Wheel

LONGEST = 1.0 / 359.0
"""s: a longer step is done in pieces; up to here the tyres' forces are stable down to a standstill."""
LONGEST_STEP = 1.0
"""s"""
HEAT_STEP = 0.02
"""s between two reckonings of the tyres' heat"""
ROLLS = 0.5
"""m/s below which the rolling resistance fades, so that a standing car stands"""


@dataclass(slots=True)
class Controls:
    """What the driver does. Values outside their range count as its end."""

    throttle: float = 0.0
    brake: float = 0.0
    clutch: float = 0.0
    """0..1, 1 = fully pressed"""
    steer: float = 0.0
    """rad at the road wheels, positive to the left"""
    gear: int = 1
    """asked for: -1 reverse, 0 neutral, 1 and up"""


class Car:
    """One car. Its attributes are what it did in the last step; lists are live, so copy what is to be kept.

    Same controls, same steps, same floats: nothing here is random or reads a clock.
    """

    __slots__ = (
        "_air", "_driven", "_driven_brake", "_free", "_free_brake", "_full", "_heat", "_heat_due", "_loads",
        "_powertrain", "_pull", "_side", "_wheels", "ax", "ay", "fuel", "spec", "t", "vx", "vy", "wheel_load", "x",
        "y", "yaw", "yaw_rate",
    )  # fmt: skip

    def __init__(
        self,
        spec: CarSpec,
        x: float = 0.0,
        y: float = 0.0,
        yaw: float = 0.0,
        speed: float = 0.0,
        gear: int = 1,
        fuel: float | None = None,
        tyre_temp: float | None = None,
    ) -> None:
        """At `x`, `y` m and heading `yaw` rad, rolling straight ahead at `speed` m/s in `gear`.

        `fuel` in L (a full tank without it), `tyre_temp` in degC (the tyres' own starting temperature without it).
        """
        self.spec = spec
        self.t = 0.0
        """s since the car was built"""
        self.x, self.y = x, y
        """m"""
        self.yaw = yaw
        """rad, not wrapped"""
        self.vx, self.vy = speed, 0.0
        """m/s forward and left"""
        self.yaw_rate = 0.0
        """rad/s"""
        self.ax = self.ay = 0.0
        """m/s^2 forward and left: dvx/dt - r vy and dvy/dt + r vx"""
        self.fuel = spec.tank if fuel is None else min(max(fuel, 0.0), spec.tank)
        """L"""

        radius, spin = spec.tyre_radius, speed / spec.tyre_radius
        self._wheels = [
            Wheel(tyre, x, side * track / 2.0, radius, spec.wheel_inertia, spin)
            for tyre, x, track in (
                (spec.front_tyre, spec.to_front, spec.front_track),
                (spec.rear_tyre, -spec.to_rear, spec.rear_track),
            )
            for side in (1.0, -1.0)
        ]
        front_driven = spec.driven == "front"
        self._driven = self._wheels[:2] if front_driven else self._wheels[2:]
        self._free = self._wheels[2:] if front_driven else self._wheels[:2]
        brakes = 0.5 * spec.brake_force * radius
        self._driven_brake, self._free_brake = brakes * spec.brake_bias, brakes * (1.0 - spec.brake_bias)
        if not front_driven:
            self._driven_brake, self._free_brake = self._free_brake, self._driven_brake
        self._powertrain = Powertrain(spec, gear, spin)
        self._full = self.fuel
        self._air = 0.5 * spec.air_density * spec.drag_area
        self._pull = self._side = 0.0
        self._loads = Loads(spec)
        self.wheel_load = self._loads.set(self.mass, speed, 0.0, 0.0)
        """N by wheel"""
        self._heat = TyreHeat(spec, tyre_temp)
        self._heat_due = HEAT_STEP

    @property
    def speed(self) -> float:
        """m/s over ground"""
        return hypot(self.vx, self.vy)

    @property
    def mass(self) -> float:
        """kg with the fuel that is left"""
        return self.spec.mass_with(self.fuel)

    @property
    def engine_speed(self) -> float:
        """rev/min"""
        return self._powertrain.spin * RPM

    @property
    def gear(self) -> int:
        """The gear that is in; 0 in neutral and while the box is between two gears."""
        return self._powertrain.box.gear

    @property
    def wheel_speed(self) -> list[float]:
        """m/s at the circumference: angular speed times rolling radius"""
        return [wheel.spin * wheel.radius for wheel in self._wheels]

    @property
    def slip_ratio(self) -> list[float]:
        """kappa of each wheel as the step began (SAE J670)"""
        return [wheel.slip for wheel in self._wheels]

    @property
    def slip_angle(self) -> list[float]:
        """rad of each wheel as the step began, positive to the left (ISO 8855)"""
        return [atan(wheel.sideways) for wheel in self._wheels]

    @property
    def tyre_temp(self) -> list[list[float]]:
        """degC by wheel: inner, middle, outer; inner is nearest the car's centre"""
        return self._heat.tread

    @property
    def tyre_pressure(self) -> list[float]:
        """kPa gauge"""
        return self._heat.pressure

    def step(self, controls: Controls, dt: float, grade: float = 0.0, grip: float = 1.0) -> None:
        """Drive for `dt` s (at most 1; more than 1/359 in pieces).

        `grade` is dz/ds along the car's heading, uphill positive; `grip` scales the tyres' friction.
        """
        if not 0.0 < dt <= LONGEST_STEP:
            raise ValueError(f"a step of {dt} s: give 0 < dt <= {LONGEST_STEP}")
        pieces = 1 if dt <= LONGEST else ceil(dt / LONGEST)
        for _ in range(pieces):
            self._step(controls, dt / pieces, grade, max(grip, 0.0))

    def _step(self, controls: Controls, dt: float, grade: float, grip: float) -> None:
        spec = self.spec
        mass = spec.mass + spec.fuel_density * self.fuel
        steer = min(max(controls.steer, -spec.max_steer), spec.max_steer)
        cosine, sine = cos(steer), sin(steer)
        loads = self._loads.set(mass, self.vx, self._pull, self._side)
        self._feel(dt, cosine, sine, loads, grip)
        self._turn(controls, dt)
        pull, side, turn = self._forces(dt, cosine, sine, loads)

        vx, vy = self.vx, self.vy
        over_ground = hypot(vx, vy)
        drag = self._air * over_ground
        rolling = spec.rolling * sum(loads) * min(max(vx / ROLLS, -1.0), 1.0)
        uphill = mass * GRAVITY * (grade / hypot(1.0, grade))  # in this order nothing overflows
        along, across = -drag * vx - rolling - uphill, -drag * vy
        if self._wheels[0].spin == 0.0:
            pull, side, turn = self._still(dt, controls.brake, mass, along, across) or (pull, side, turn)
        self.ax = (pull + along) / mass
        self.ay = (side + across) / mass
        self._move(dt, turn / spec.yaw_inertia)

        blend = dt / (spec.settle + dt)
        self._pull += (pull - self._pull) * blend
        self._side += (side - self._side) * blend

        self.fuel = max(self._full - self._powertrain.burnt, 0.0)
        self._heat_due -= dt
        if self._heat_due <= 0.0:
            self._heat.settle(HEAT_STEP - self._heat_due, over_ground, loads)
            self._heat_due = HEAT_STEP

    def _feel(self, dt: float, cosine: float, sine: float, loads: list[float], grip: float) -> None:
        """What each tyre does for the slip that it has."""
        vx, vy, rate, warm = self.vx, self.vy, self.yaw_rate, self._heat.grip
        for i, wheel in enumerate(self._wheels):
            along, across = vx - rate * wheel.y, vy + rate * wheel.x
            if i < 2:
                along, across = along * cosine + across * sine, across * cosine - along * sine
            wheel.feel(dt, along, across, loads[i], grip * warm[i])

    def _turn(self, controls: Controls, dt: float) -> None:
        """Turn the wheels: engine and brakes."""
        throttle = min(max(controls.throttle, 0.0), 1.0) if self.fuel > 0.0 else -1.0
        clutch, brake = min(max(controls.clutch, 0.0), 1.0), min(max(controls.brake, 0.0), 1.0)
        powertrain, (left, right) = self._powertrain, self._driven
        powertrain.box.advance(dt, controls.gear)
        powertrain.turn(dt, throttle, clutch, brake * self._driven_brake, left, right)
        for wheel in self._free:
            wheel.turn(dt, brake * self._free_brake)

    def _forces(self, dt: float, cosine: float, sine: float, loads: list[float]) -> tuple[float, float, float]:
        """N forward and to the left, and Nm to the left, of all tyres; their work goes to the tyres' heat."""
        pull = side = turn = 0.0
        work, leaned = self._heat.work, self._heat.leaned
        for i, wheel in enumerate(self._wheels):
            slide, most, fy = wheel.sliding(), wheel.most, wheel.side
            # the wheel's own step follows the tyre's slope; beyond the peak that would be more than the tyre has
            fx = min(max(wheel.stiff * slide, -most), most)
            if loads[i] > 0.0:
                done = (fx * slide - fy * wheel.across) * dt
                work[i] += done
                leaned[i] += done * fy / loads[i]
            if i < 2:
                fx, fy = fx * cosine - fy * sine, fx * sine + fy * cosine
            pull += fx
            side += fy
            turn += wheel.x * fy - wheel.y * fx
        return pull, side, turn

    def _still(
        self, dt: float, brake: float, mass: float, along: float, across: float
    ) -> tuple[float, float, float] | None:
        """N forward and to the left, and Nm, by which braked tyres hold the car still; None where they cannot.

        `along`, `across`: N from elsewhere. A wheel that stands rubs on the ground as a brake does on a wheel: the four
        carry what stops the car within the step, if that is no more than tyres and brakes can.
        """
        if any(wheel.spin for wheel in self._wheels):
            return None
        pull, side = -mass * self.vx / dt - along, -mass * self.vy / dt - across
        turn = -self.spec.yaw_inertia * self.yaw_rate / dt
        grip = sum(wheel.most for wheel in self._wheels)
        if hypot(pull, side) + abs(turn) / (0.5 * self.spec.wheelbase) > grip:
            return None
        pressed = min(max(brake, 0.0), 1.0) / self.spec.tyre_radius
        brakes = sum(min(wheel.most, pressed * self._driven_brake) for wheel in self._driven)
        brakes += sum(min(wheel.most, pressed * self._free_brake) for wheel in self._free)
        return (pull, side, turn) if abs(pull) < brakes else None

    def _move(self, dt: float, turn: float) -> None:
        """The accelerations change the velocity; that the body's axes turn only shows it otherwise."""
        before_x, before_y, yaw = self.vx, self.vy, self.yaw
        self.yaw_rate = rate = self.yaw_rate + turn * dt
        turned = rate * dt
        self.yaw = after = yaw + turned
        vx, vy = before_x + self.ax * dt, before_y + self.ay * dt
        cosine, sine = cos(turned), sin(turned)
        self.vx = vx_after = vx * cosine + vy * sine
        self.vy = vy_after = vy * cosine - vx * sine
        half = 0.5 * dt
        cosine, sine = cos(yaw) * half, sin(yaw) * half
        cosine_after, sine_after = cos(after) * half, sin(after) * half
        self.x += before_x * cosine - before_y * sine + vx_after * cosine_after - vy_after * sine_after
        self.y += before_x * sine + before_y * cosine + vx_after * sine_after + vy_after * cosine_after
        self.t += dt
