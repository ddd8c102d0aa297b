"""Runs of the built-in car that handbook cases are read from: circles, stops, coasting, gear changes."""

from __future__ import annotations

import math
from dataclasses import replace

from feeds.car.car import Car, Controls
from feeds.car.envelope import Envelope
from feeds.car.spec import GRAVITY, PELLOW_R, RPM, CarSpec, TyreSpec
from feeds.car.tyre import slip_forces

DT = 1.0 / 360.0
"""s, the longest step that is driven as one."""


def handbook_tyre(mu: float, peak_angle: float = 7.0) -> TyreSpec:
    """Friction that neither load nor heat changes; the lateral peak at `peak_angle` degrees."""
    return replace(
        PELLOW_R.front_tyre,
        mu_x=mu,
        mu_y=mu,
        sensitivity=0.0,
        window=(0.0, 1000.0),
        peak_slip=0.11,
        peak_angle=math.radians(peak_angle),
    )


def forces(tyre: TyreSpec, load: float, slip: float, sideways: float, grip: float = 1.0) -> tuple[float, float]:
    """Fx, Fy in N of one tyre at `load` N, slip ratio `slip` and tan of the slip angle `sideways`."""
    x, y, _ = slip_forces(tyre, load, slip, sideways, grip)
    return x * slip, -y * sideways


def handbook_car(mu: float = 1.0, **more: object) -> CarSpec:
    """The car of the handbooks: 1,200 kg, 50/50, wheelbase 2.6 m, centre of gravity 0.5 m up, track 1.6 m; constant
    friction, no aerodynamics, no rolling resistance, an open differential, brakes shared as the loads at the limit.
    """
    tyre = handbook_tyre(mu)
    spec = replace(
        PELLOW_R, name="handbook", mass=1200.0, fuel_density=0.0, front_share=0.5, wheelbase=2.6, cg_height=0.5,
        front_track=1.6, rear_track=1.6, roll_share=0.5, drag_area=0.0, lift_area=0.0, rolling=0.0, front_tyre=tyre,
        rear_tyre=tyre, brake_force=1.6 * mu * 1200.0 * GRAVITY, brake_bias=0.5 + mu * 0.5 / 2.6, preload=0.0,
        locking=0.0, settle=0.005,
    )  # fmt: skip
    return replace(spec, **more)  # type: ignore[arg-type]


class Pace:
    """The throttle that holds a speed."""

    def __init__(self, speed: float) -> None:
        self.speed, self._learned = speed, 0.1

    def throttle(self, car: Car) -> float:
        missing = self.speed - car.speed
        self._learned = min(max(self._learned + 0.5 * missing * DT, 0.0), 1.0)
        return min(max(self._learned + 0.4 * missing, 0.0), 1.0)


def towards_centre(car: Car) -> float:
    """m/s^2 across the path, to the left."""
    return (car.vx * car.ay - car.vy * car.ax) / car.speed


def kinetic(car: Car) -> float:
    """J of body, wheels and engine."""
    spec = car.spec
    wheels = sum((v / spec.tyre_radius) ** 2 for v in car.wheel_speed)
    return 0.5 * (
        car.mass * car.speed**2
        + spec.yaw_inertia * car.yaw_rate**2
        + spec.wheel_inertia * wheels
        + spec.engine.inertia * (car.engine_speed / RPM) ** 2
    )


def cruising_gear(spec: CarSpec, speed: float) -> int:
    """A gear with engine speed in hand."""
    within = [g for g in range(1, len(spec.gears) + 1) if spec.engine_speed(speed, g) < 0.85 * spec.engine.limit]
    return min(within, default=len(spec.gears))


def steady_circle(spec: CarSpec, speed: float, radius: float, seconds: float = 12.0) -> tuple[Car, Controls]:
    """The car as it goes round to the left on `radius` m at `speed` m/s, and what holds it there."""
    gear = cruising_gear(spec, speed)
    car, controls, pace = Car(spec, speed=speed, gear=gear), Controls(gear=gear), Pace(speed)
    controls.steer = spec.wheelbase / radius
    for _ in range(round(seconds / DT)):
        controls.throttle = pace.throttle(car)
        controls.steer += 0.5 * (speed / radius - car.yaw_rate) * DT
        car.step(controls, DT)
    return car, controls


def fastest_circle(spec: CarSpec, radius: float, start: float) -> float:
    """m/s: the speed, rising by 0.1 m/s^2 from `start`, at which the car leaves a circle of `radius` m by 0.2 m.

    It is held on the circle by place and course; the front wheels are never turned beyond their tyres' peak.
    """
    gear = cruising_gear(spec, start)
    car, controls, pace = (
        Car(spec, x=radius, yaw=0.5 * math.pi, speed=start, gear=gear),
        Controls(gear=gear),
        Pace(start),
    )
    car.yaw_rate = start / radius
    peak, learned = spec.front_tyre.peak_angle, spec.wheelbase / radius
    while True:
        pace.speed = start + 0.1 * max(car.t - 5.0, 0.0)
        out = math.hypot(car.x, car.y) - radius
        if out > 0.2 and car.t > 5.0:
            return car.speed
        course = math.remainder(
            car.yaw + math.atan2(car.vy, car.vx) - math.atan2(car.y, car.x) - 0.5 * math.pi, math.tau
        )
        learned += 0.05 * out * DT
        hub = math.atan2(car.vy + spec.to_front * car.yaw_rate, car.vx)
        controls.steer = min(learned + 0.15 * out - 1.2 * course, hub + peak)
        controls.throttle = pace.throttle(car)
        car.step(controls, DT)


def lateral_limit(spec: CarSpec, speed: float) -> float:
    """m/s^2: the most that half a second of an ever tighter turn at constant `speed` gives."""
    gear = cruising_gear(spec, speed)
    car, controls, pace = Car(spec, speed=speed, gear=gear), Controls(gear=gear), Pace(speed)
    window, best = [0.0] * 180, 0.0
    total, place = 0.0, 0
    while controls.steer < 4.5 / speed:
        controls.steer += 0.25 / speed * DT
        controls.throttle = pace.throttle(car)
        car.step(controls, DT)
        now = towards_centre(car)
        total += now - window[place]
        window[place] = now
        place = (place + 1) % len(window)
        if abs(car.speed - speed) < 0.02 * speed:
            best = max(best, total / len(window))
    return best


def stop(spec: CarSpec, start: float, end: float, dt: float = DT) -> tuple[float, float]:
    """m and s of a stop from `start` to `end` m/s out of gear: the pedal holds the tyres just under their peak."""
    car, controls = Car(spec, speed=start, gear=0), Controls(gear=0)
    front, rear = spec.front_tyre.peak_slip, spec.rear_tyre.peak_slip
    pedal = Envelope(spec, car.mass).braking(start) * car.mass / spec.brake_force
    while car.speed > end:
        slip = car.slip_ratio
        used = max(-min(slip[:2]) / front, -min(slip[2:]) / rear)
        if used > 0.5:
            pedal += 3.0 * (0.95 - used) * dt
        controls.brake = pedal + 0.3 * (0.95 - used) * (used > 0.5)
        car.step(controls, dt)
    return car.x, car.t


def braked(spec: CarSpec, slowing: float) -> Car:
    """The car after a second and a half of `slowing` m/s^2 from 50 m/s, out of gear."""
    car, controls = Car(spec, speed=50.0, gear=0), Controls(gear=0)
    controls.brake = slowing * car.mass / spec.brake_force
    for _ in range(round(1.5 / DT)):
        car.step(controls, DT)
        controls.brake += 0.5 * (slowing + car.ax) * DT
    return car
