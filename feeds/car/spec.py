"""All numbers of a car, and the two invented cars that are built in. SI units unless a field says otherwise."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

GRAVITY = 9.81
"""m/s^2"""
RPM = 30.0 / math.pi
"""rev/min in one rad/s"""


@dataclass(frozen=True)
class TyreSpec:
    """One axle's tyres: a curve of the magic-formula type over a slip that is 1 at the peak, and how the tyre heats.

    The friction at the peak falls by `sensitivity` for each `nominal_load` more. `shape` is the curve's C: 1 never
    falls behind the peak, 1.4 falls to 0.81 of it, 1.5 to 0.71.
    """

    mu_x: float
    mu_y: float
    """peak friction along and across at `nominal_load` and working temperature"""
    nominal_load: float
    """N"""
    sensitivity: float
    peak_slip: float
    """slip ratio of the greatest longitudinal force"""
    peak_angle: float
    """rad, slip angle of the greatest lateral force"""
    shape: float = 1.4

    cold_pressure: float = 160.0
    """kPa gauge at `cold_temp`"""
    cold_temp: float = 20.0
    """degC"""
    start_temp: float = 75.0
    """degC, as a car is built: warm enough to be driven hard"""
    window: tuple[float, float] = (70.0, 105.0)
    """degC of the tread's mean between which the friction is full"""
    cold_loss: float = 0.08
    """share of the friction that is missing at `cold_temp`"""
    hot_loss: float = 0.08
    """share of the friction that is missing 40 degC above the window"""

    tread_heat: float = 3000.0
    core_heat: float = 7000.0
    """J/K of the tread, and of the carcass with its gas"""
    slip_share: float = 0.6
    """share of the friction's power that heats the tread; the road has the rest"""
    inward: float = 60.0
    """W/K from the tread to the carcass"""
    tread_cooling: tuple[float, float] = (8.0, 0.65)
    """W/K from the tread to air and road: standing, and for each m/s"""
    core_cooling: float = 6.0
    """W/K from the carcass to the air"""
    camber_share: float = 0.04
    """share of the heat that static camber moves from the outer third of the tread to the inner"""

    @cached_property
    def rise(self) -> float:
        """The curve's B: with it the peak lies at a slip of 1."""
        return math.tan(math.pi / (2.0 * self.shape))

    @cached_property
    def peak_sideways(self) -> float:
        """tan of the slip angle at the peak"""
        return math.tan(self.peak_angle)


@dataclass(frozen=True)
class EngineSpec:
    """Torque at the crank, less what the transmission loses."""

    curve: tuple[tuple[float, float], ...]
    """(rev/min, Nm) at full throttle, rising from 0 rev/min; straight between the points"""
    idle: float
    limit: float
    """rev/min; the limiter fades the fuel out from `fade` below to `fade` above"""
    friction: tuple[float, float, float]
    """Nm, Nm per (rev/min), Nm per (rev/min)^2: what a closed throttle brakes with"""
    inertia: float
    """kg m^2 with flywheel and clutch"""
    clutch: float
    """Nm that the clutch carries"""
    launch: float
    """rev/min from which the anti-stall clutch is fully closed; it opens towards idle"""
    fade: float = 40.0
    burn: float = 0.095
    """L of fuel for each MJ of combustion work"""


@dataclass(frozen=True)
class CarSpec:
    """One car. ISO 8855 axes: x forward, y left, z up; wheels in the order FL, FR, RL, RR."""

    name: str
    driven: Literal["front", "rear"]
    mass: float
    """kg with driver, without fuel"""
    tank: float
    """L"""
    front_share: float
    """share of the weight on the front axle, standing"""
    wheelbase: float
    cg_height: float
    front_track: float
    rear_track: float
    width: float
    """m, overall"""
    yaw_inertia: float
    """kg m^2"""
    roll_share: float
    """share of the roll stiffness that the front axle has"""
    settle: float
    """s, first-order lag of the load transfer: how quickly the body takes its attitude"""

    drag_area: float
    lift_area: float
    """m^2: drag and downforce coefficient times frontal area"""
    lift_front: float
    """share of the downforce on the front axle"""
    rolling: float
    """rolling resistance, N for each N of load"""

    tyre_radius: float
    """m, rolling radius"""
    wheel_inertia: float
    """kg m^2 of each wheel"""
    front_tyre: TyreSpec
    rear_tyre: TyreSpec

    brake_force: float
    """N at the contact patches of all wheels together, pedal fully pressed"""
    brake_bias: float
    """share of it at the front"""
    max_steer: float
    """rad at the road wheels"""

    engine: EngineSpec
    gears: tuple[float, ...]
    reverse: float
    final_drive: float
    shift_time: float
    """s between two gears"""
    engage_time: float
    """s that the clutch takes to close behind them"""
    blip: float
    """throttle with which a driver brings the engine up on the way down to a gear"""
    preload: float
    """Nm by which the torques at the two driven wheels may differ without load"""
    locking: float
    """share of the axle's torque by which they may differ beyond that"""

    air_temp: float = 20.0
    """degC"""
    air_density: float = 1.204
    """kg/m^3: dry air at 20 degC and 1013 hPa"""
    fuel_density: float = 0.745
    """kg/L"""

    @property
    def to_front(self) -> float:
        """m from the centre of gravity forward to the front axle"""
        return self.wheelbase * (1.0 - self.front_share)

    @property
    def to_rear(self) -> float:
        """m from the centre of gravity back to the rear axle"""
        return self.wheelbase * self.front_share

    def mass_with(self, fuel: float) -> float:
        """kg with `fuel` L in the tank."""
        return self.mass + self.fuel_density * fuel

    def ratio(self, gear: int) -> float:
        """Turns of the engine for one of the wheels; negative in reverse (-1), 0 in neutral (0)."""
        if gear == 0:
            return 0.0
        return (self.gears[gear - 1] if gear > 0 else -self.reverse) * self.final_drive

    def engine_speed(self, speed: float, gear: int) -> float:
        """rev/min at `speed` m/s in `gear`, without slip: n = 60 v i / (2 pi r)."""
        return speed / self.tyre_radius * self.ratio(gear) * RPM


PELLOW_R = CarSpec(
    name="Pellow R",
    driven="rear",
    mass=1110.0,
    tank=60.0,
    front_share=0.485,
    wheelbase=2.60,
    cg_height=0.46,
    front_track=1.62,
    rear_track=1.60,
    width=1.9,
    yaw_inertia=1500.0,
    roll_share=0.46,
    settle=0.07,
    drag_area=0.72,
    lift_area=1.0,
    lift_front=0.45,
    rolling=0.013,
    tyre_radius=0.325,
    wheel_inertia=1.1,
    front_tyre=TyreSpec(
        mu_x=1.41, mu_y=1.36, nominal_load=2800.0, sensitivity=0.09, peak_slip=0.115, peak_angle=math.radians(7.0)
    ),
    rear_tyre=TyreSpec(
        mu_x=1.41, mu_y=1.36, nominal_load=3000.0, sensitivity=0.08, peak_slip=0.11, peak_angle=math.radians(6.3)
    ),
    brake_force=22_000.0,
    brake_bias=0.72,
    max_steer=0.5,
    engine=EngineSpec(
        curve=(
            (0.0, 60.0), (1000.0, 190.0), (2000.0, 265.0), (3000.0, 315.0), (4000.0, 352.0), (5000.0, 376.0),
            (5750.0, 384.0), (6500.0, 378.0), (7000.0, 366.0), (7500.0, 346.0), (8000.0, 318.0), (8600.0, 270.0),
        ),
        idle=1100.0,
        limit=8000.0,
        friction=(14.0, 0.0030, 5.0e-7),
        inertia=0.13,
        clutch=620.0,
        launch=3000.0,
    ),
    gears=(2.75, 2.05, 1.63, 1.34, 1.13, 0.97),
    reverse=2.9,
    final_drive=3.9,
    shift_time=0.05,
    engage_time=0.04,
    blip=0.45,
    preload=60.0,
    locking=0.25,
)  # fmt: skip
"""Rear driven, on slicks, six gears without a synchroniser."""

PELLOW_S = CarSpec(
    name="Pellow S",
    driven="front",
    mass=1020.0,
    tank=45.0,
    front_share=0.60,
    wheelbase=2.52,
    cg_height=0.50,
    front_track=1.53,
    rear_track=1.52,
    width=1.9,
    yaw_inertia=1420.0,
    roll_share=0.44,
    settle=0.09,
    drag_area=0.68,
    lift_area=0.0,
    lift_front=0.5,
    rolling=0.012,
    tyre_radius=0.305,
    wheel_inertia=0.95,
    front_tyre=TyreSpec(
        mu_x=1.08, mu_y=1.05, nominal_load=3000.0, sensitivity=0.07, peak_slip=0.13, peak_angle=math.radians(8.4),
        cold_pressure=190.0, start_temp=60.0, window=(45.0, 95.0),
    ),
    rear_tyre=TyreSpec(
        mu_x=1.08, mu_y=1.05, nominal_load=2100.0, sensitivity=0.07, peak_slip=0.13, peak_angle=math.radians(7.6),
        cold_pressure=190.0, start_temp=60.0, window=(45.0, 95.0),
    ),
    brake_force=16_500.0,
    brake_bias=0.86,
    max_steer=0.6,
    engine=EngineSpec(
        curve=(
            (0.0, 40.0), (1000.0, 125.0), (2000.0, 170.0), (3000.0, 195.0), (4000.0, 208.0), (4750.0, 212.0),
            (5500.0, 206.0), (6200.0, 192.0), (6700.0, 177.0), (7200.0, 156.0), (7800.0, 120.0),
        ),
        idle=900.0,
        limit=7200.0,
        friction=(11.0, 0.0026, 4.5e-7),
        inertia=0.15,
        clutch=380.0,
        launch=2600.0,
    ),
    gears=(3.20, 2.02, 1.47, 1.15, 0.93),
    reverse=3.3,
    final_drive=4.1,
    shift_time=0.16,
    engage_time=0.08,
    blip=0.7,
    preload=20.0,
    locking=0.10,
)  # fmt: skip
"""Front driven, on road tyres, five gears. In a tight bend its inner rear wheel carries a fiftieth of the weight, as
such cars' does (common practice); with this brake balance trail braking keeps it short of its tyre's peak."""

CARS: dict[str, CarSpec] = {car.name: car for car in (PELLOW_R, PELLOW_S)}
