"""The handbook's worked values beside the built-in car's: each case has its source, and a run that measures it.

The textbooks' laws and chapters, and the measures of their example cars, are given from memory; the values are
recomputed from the laws. SAE J670's definition was read in a secondary source. Vehicle 2 gives mass and geometry only.

`test_car_handbook.py` holds the car to them; `python -m tests.bench.car_table` prints them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

from feeds.car.car import Car, Controls
from feeds.car.spec import GRAVITY, CarSpec
from feeds.car.tyre import pressure
from feeds.car.wheel import Wheel
from tests.physics.car_runs import (
    DT,
    braked,
    fastest_circle,
    forces,
    handbook_car,
    handbook_tyre,
    steady_circle,
    stop,
    towards_centre,
)

ANY_TEXT = "any text"
GILLESPIE_1 = "Gillespie, Fundamentals of Vehicle Dynamics, ch. 1"
GILLESPIE_6 = "Gillespie, Fundamentals of Vehicle Dynamics, ch. 6"
MILLIKEN_9 = "Milliken & Milliken, Race Car Vehicle Dynamics, ch. 9"
COMMONROAD = "commonroad-vehicle-models 3.0.2, vehicle 2"
J670 = "SAE J670, slip ratio"
KINEMATICS = "kinematics"
ALGEBRA = "algebra: equal wheel torque in both gears"
GAS = "Gay-Lussac's law on absolute pressure, 101.3 kPa of air"
NEWTON = "m dv/dt = -(c + k v^2), closed form"


@dataclass(frozen=True)
class Case:
    """`handbook` beside what `run` measures; they may differ by `within` per cent."""

    what: str
    unit: str
    source: str
    handbook: float
    run: Callable[[], float]
    within: float

    def __str__(self) -> str:
        return self.what


def circle(mu: float) -> float:
    """m/s at the grip limit on 50 m."""
    return fastest_circle(handbook_car(mu), 50.0, 0.9 * math.sqrt(mu * GRAVITY * 50.0))


def ellipse() -> float:
    """The most of a tyre's longitudinal friction that any slip gives beside 0.8 of its lateral friction."""
    tyre, load = handbook_tyre(1.0), 3000.0
    best = 0.0
    for i in range(0, 400):
        for j in range(0, 400):
            fx, fy = forces(tyre, load, -0.001 * i, 0.001 * j)
            if abs(fy) >= 0.8 * load:
                best = max(best, abs(fx) / load)
    return best


def slip() -> float:
    """kappa of a wheel of 0.33 m that turns at 120 rad/s on a hub at 50 m/s."""
    wheel = Wheel(handbook_tyre(1.0), 0.0, 0.0, 0.33, 1.0, 120.0)
    wheel.feel(DT, 50.0, 0.0, 3000.0, 1.0)
    return wheel.slip


@cache
def stopped(start: float, end: float) -> tuple[float, float]:
    """m, s with a friction of 1."""
    return stop(handbook_car(), start, end)


HANDBOOK = handbook_car(1.5)
"""With friction to spare at 1 g."""


@cache
def at_one_g(spec: CarSpec) -> Car:
    """Braking at 1 g."""
    return braked(spec, GRAVITY)


def commonroad() -> CarSpec:
    """That car's mass and geometry."""
    return handbook_car(
        1.5, mass=1093.295, wheelbase=1.1562 + 1.42272, front_share=1.42272 / (1.1562 + 1.42272), cg_height=0.57487,
        tyre_radius=0.344,
    )  # fmt: skip


def front_load(car: Car) -> float:
    """N"""
    return car.wheel_load[0] + car.wheel_load[1]


def rear_load(car: Car) -> float:
    """N"""
    return car.wheel_load[2] + car.wheel_load[3]


def longitudinal_transfer(spec: CarSpec) -> float:
    """N from axle to axle at 1 g of braking."""
    return front_load(at_one_g(spec)) - front_load(Car(spec))


def lateral_transfer() -> float:
    """N from side to side, both axles, at 1 g to the left."""
    car, _ = steady_circle(handbook_car(1.6), 30.0, 30.0**2 / GRAVITY)
    left, right = car.wheel_load[0] + car.wheel_load[2], car.wheel_load[1] + car.wheel_load[3]
    return 0.5 * (right - left) * GRAVITY / car.ay


def steer_on(spec: CarSpec, speed: float, radius: float) -> float:
    """Degrees at the road wheels on a circle."""
    return math.degrees(steady_circle(spec, speed, radius)[1].steer)


def understeering() -> CarSpec:
    """K = 3 degrees a g. Cornering stiffness of an axle is its load times mu C B / tan(peak), so K is the difference of
    1 / (stiffness for each N); much friction, so that 0.8 g lies on the straight part of the curve.
    """
    mu, rear = 6.0, handbook_tyre(6.0, 20.0)
    front = rear.peak_sideways + math.radians(3.0) * mu * rear.shape * rear.rise
    return handbook_car(
        mu, front_tyre=replace(rear, peak_angle=math.atan(front)), rear_tyre=rear, brake_bias=0.5, cg_height=0.3
    )


def characteristic() -> float:
    """m/s at which a circle of 100 m takes twice the Ackermann angle, between two speeds."""
    spec = understeering()
    twice = 2.0 * math.degrees(spec.wheelbase / 100.0)
    low, high = steer_on(spec, 20.0, 100.0), steer_on(spec, 24.0, 100.0)
    # the angle grows with the square of the speed
    return math.sqrt(400.0 + (576.0 - 400.0) * (twice - low) / (high - low))


def gripping() -> CarSpec:
    """A car that holds 30 m/s on 50 m: much friction at small slip angles, and low enough not to lift its wheels."""
    tyre = handbook_tyre(4.0, 3.0)
    return handbook_car(4.0, front_tyre=tyre, rear_tyre=tyre, cg_height=0.2)


@cache
def on_fifty() -> Car:
    """30 m/s on a circle of 50 m."""
    return steady_circle(gripping(), 30.0, 50.0)[0]


def radius_driven() -> float:
    """m, from three places on the path of a car that turns at 0.6 rad/s."""
    car, controls = steady_circle(gripping(), 30.0, 50.0)
    places = []
    for _ in range(3):
        places.append((car.x, car.y))
        for _ in range(180):
            car.step(controls, DT)
    (ax, ay), (bx, by), (cx, cy) = places
    a, b, c = math.dist((bx, by), (cx, cy)), math.dist((ax, ay), (cx, cy)), math.dist((ax, ay), (bx, by))
    return a * b * c / (2.0 * abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)))


def geared(*gears: float) -> CarSpec:
    """The handbook's wheels of 0.33 m and final drive of 3.9."""
    return handbook_car(tyre_radius=0.33, gears=gears, final_drive=3.9)


def driven_axle(car: Car) -> float:
    """m/s at the circumference of the rear wheels, which under engine braking is a little less than the road's."""
    return 0.5 * (car.wheel_speed[2] + car.wheel_speed[3])


def road_speed() -> float:
    """m/s of the driven wheels at 7,000 rev/min in a gear of 1.2, off the throttle."""
    car, controls = Car(geared(1.2), speed=52.5), Controls()
    while car.engine_speed > 7000.0:
        car.step(controls, DT)
    return driven_axle(car)


def downshift(speed: float, old: float, new: float) -> float:
    """rev/min in the gear `new` after a shift from `old` at `speed` m/s, brought back to that speed of its wheels."""
    spec = geared(new, old)
    car, controls = Car(spec, speed=speed, gear=2), Controls(gear=1)
    for _ in range(round(0.5 / DT)):
        controls.throttle = 1.0 if car.gear == 0 else 0.0
        car.step(controls, DT)
    return car.engine_speed * speed / driven_axle(car)


def legal_below() -> float:
    """m/s at which third (1.70) turns the engine at 8,000 rev/min."""
    spec = geared(1.70)
    return 8000.0 / spec.engine_speed(1.0, 1)


def best_upshift() -> float:
    """rev/min in first at the speed at which second pulls as hard, T = 600 - 0.05 n, second 0.75 of first."""
    base = handbook_car(tyre_radius=0.33, gears=(2.0, 1.5), final_drive=3.0)
    engine = replace(
        base.engine, curve=((0.0, 600.0), (10_000.0, 100.0)), limit=9500.0, friction=(0.0, 0.0, 0.0), inertia=0.001,
        clutch=1500.0,
    )  # fmt: skip
    spec = replace(base, engine=engine)

    def pulls(gear: int) -> list[tuple[float, float, float]]:
        car, controls = Car(spec, speed=30.0, gear=gear), Controls(throttle=1.0, gear=gear)
        rows = []
        while car.speed < 48.0:
            car.step(controls, DT)
            rows.append((car.speed, car.ax, car.engine_speed))
        return rows

    first, second = pulls(1), pulls(2)
    place = 0
    for speed, pull, turns in first[200:]:
        while second[place][0] < speed:
            place += 1
        if second[place][1] >= pull:
            return turns
    raise AssertionError("second never pulls as hard")


def coasting(spec: CarSpec, start: float, seconds: float) -> float:
    """m/s after `seconds` s out of gear."""
    car, controls = Car(spec, speed=start, gear=0), Controls(gear=0)
    for _ in range(round(seconds / DT)):
        car.step(controls, DT)
    return car.speed


def coasted(spec: CarSpec, start: float, seconds: float) -> float:
    """The same in closed form: wheels that turn count as mass."""
    still = spec.rolling * spec.mass * GRAVITY
    square = 0.5 * spec.air_density * spec.drag_area
    mass = spec.mass + 4.0 * spec.wheel_inertia / spec.tyre_radius**2
    top = math.sqrt(still / square)
    return top * math.tan(math.atan(start / top) - seconds * math.sqrt(still * square) / mass)


DRAGGED = handbook_car(drag_area=0.7, rolling=0.013)

CASES = [
    Case("circle of 50 m, friction 1.0: speed at the limit", "m/s", ANY_TEXT, 22.1472, lambda: circle(1.0), 2.0),
    Case("circle of 50 m, friction 1.2: speed at the limit", "m/s", ANY_TEXT, 24.2611, lambda: circle(1.2), 2.0),
    Case("longitudinal beside 0.8 of the lateral friction", "", MILLIKEN_9, 0.6, ellipse, 0.5),
    Case("stop 50 to 20 m/s, friction 1: distance", "m", ANY_TEXT, 107.034, lambda: stopped(50.0, 20.0)[0], 2.0),
    Case("stop 50 to 20 m/s, friction 1: time", "s", ANY_TEXT, 3.0581, lambda: stopped(50.0, 20.0)[1], 2.0),
    Case("stop from 60 m/s, friction 1: distance", "m", ANY_TEXT, 183.486, lambda: stopped(60.0, 0.05)[0], 2.0),
    Case("stop from 100 km/h, friction 1: distance", "m", ANY_TEXT, 39.327, lambda: stopped(100 / 3.6, 0.05)[0], 2.0),
    Case("front axle at 1 g of braking", "N", GILLESPIE_1, 8149.85, lambda: front_load(at_one_g(HANDBOOK)), 0.5),
    Case("rear axle at 1 g of braking", "N", GILLESPIE_1, 3622.15, lambda: rear_load(at_one_g(HANDBOOK)), 0.5),
    Case(
        "load moved forward at 1 g", "N", GILLESPIE_1, 2263.85, lambda: longitudinal_transfer(HANDBOOK), 0.5
    ),
    Case("load moved sideways at 1 g, track 1.6 m", "N", GILLESPIE_1, 3678.75, lateral_transfer, 0.5),
    Case("standing front axle", "N", COMMONROAD, 5916.82, lambda: front_load(Car(commonroad())), 0.01),
    Case("standing rear axle", "N", COMMONROAD, 4808.41, lambda: rear_load(Car(commonroad())), 0.01),
    Case("load moved forward at 1 g", "N", COMMONROAD, 2390.77, lambda: longitudinal_transfer(commonroad()), 0.5),
    Case("slip ratio, 120 rad/s, 0.33 m, 50 m/s", "", J670, -0.2080, slip, 0.01),
    Case(
        "steer on 500 ft, wheelbase 100.6 in, slowly", "deg", GILLESPIE_6, 0.9607,
        lambda: steer_on(handbook_car(wheelbase=100.6 * 0.0254), 6.0, 500.0 * 0.3048), 1.0,
    ),
    Case(
        "steer on 50 m, wheelbase 2.6 m, slowly", "deg", GILLESPIE_6, 2.979,
        lambda: steer_on(handbook_car(), 6.0, 50.0), 1.0,
    ),
    Case(
        "steer on 50 m at 0.8 g, K 3 deg/g", "deg", GILLESPIE_6, 5.379,
        lambda: steer_on(understeering(), math.sqrt(0.8 * GRAVITY * 50.0), 50.0), 1.5,
    ),
    Case("characteristic speed, K 3 deg/g", "m/s", GILLESPIE_6, 22.072, characteristic, 1.0),
    Case("yaw rate at 30 m/s on 50 m", "rad/s", KINEMATICS, 0.6, lambda: on_fifty().yaw_rate, 0.5),
    Case("pull to the centre, 30 m/s on 50 m", "m/s^2", KINEMATICS, 18.0, lambda: towards_centre(on_fifty()), 0.5),
    Case("radius of the path, 30 m/s at 0.6 rad/s", "m", KINEMATICS, 50.0, radius_driven, 0.5),
    Case("speed at 7,000 rev/min, 1.2 x 3.9, 0.33 m", "m/s", KINEMATICS, 51.6886, road_speed, 0.1),
    Case(
        "downshift 1.30 to 1.70 from 6,000 rev/min", "rev/min", KINEMATICS, 7846.2,
        lambda: downshift(6000.0 / geared(1.30).engine_speed(1.0, 1), 1.30, 1.70), 0.1,
    ),
    Case(
        "engine in 1.70 x 3.9 at 50 m/s, over its limit", "rev/min", KINEMATICS, 9592.7,
        lambda: downshift(50.0, 1.30, 1.70), 0.1,
    ),
    Case("fastest for 1.70 x 3.9, limit 8,000 rev/min", "m/s", KINEMATICS, 41.698, legal_below, 0.01),
    Case("best upshift, T = 600 - 0.05 n, ratio 0.75", "rev/min", ALGEBRA, 6857.14, best_upshift, 1.0),
    Case("180 kPa at 20 degC, at 90 degC", "kPa", GAS, 247.17, lambda: pressure(180.0, 20.0, 90.0), 0.01),
    Case(
        "coasting from 60 m/s, after 20 s", "m/s", NEWTON, coasted(DRAGGED, 60.0, 20.0),
        lambda: coasting(DRAGGED, 60.0, 20.0), 0.1,
    ),
]  # fmt: skip
