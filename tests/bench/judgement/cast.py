"""Who drives what: cars of several kinds, and drivers of two scatters."""

from __future__ import annotations

from dataclasses import replace

from feeds.car.person import PERSONS, Person
from feeds.car.spec import CARS, CarSpec, EngineSpec, TyreSpec


def _tyre(tyre: TyreSpec, grip: float) -> TyreSpec:
    return replace(tyre, mu_x=tyre.mu_x * grip, mu_y=tyre.mu_y * grip)


def _engine(engine: EngineSpec, power: float) -> EngineSpec:
    return replace(engine, curve=tuple((turns, torque * power) for turns, torque in engine.curve))


def _variant(car: CarSpec, name: str, mass: float, grip: float, power: float) -> CarSpec:
    """`car` with another mass (kg), and its grip and torque times these."""
    return replace(
        car,
        name=name,
        mass=mass,
        front_tyre=_tyre(car.front_tyre, grip),
        rear_tyre=_tyre(car.rear_tyre, grip),
        engine=_engine(car.engine, power),
    )


_REAR, _FRONT = list(CARS.values())[:2]

BENCH_CARS: tuple[CarSpec, ...] = (
    replace(_REAR, name="Bench rear"),
    replace(_FRONT, name="Bench front"),
    _variant(_REAR, "Bench rear light", 920.0, 1.08, 0.95),
    _variant(_REAR, "Bench rear heavy", 1330.0, 0.93, 1.15),
    _variant(_FRONT, "Bench front quick", 1060.0, 1.12, 1.25),
)
"""The cars of the bench, of names of their own; a job names one by its place here."""

STEADY = replace(
    PERSONS["steady"],
    cornering=0.91,
    braking=0.8,
    both_ways=True,
    sure=0.25,
    speed_spread=0.006,
    brake_spread=1.5,
    line_spread=0.2,
    pickup_spread=0.03,
)
"""As a controller drives: standard deviations of 0.2 m of line, 1.5 m of brake point and 1.2 % of grip a corner, which
is 0.6 % of speed. Brakes with grip in hand, so that what is braked late can be made up for."""

SCATTERING = replace(
    STEADY,
    name="scattering",
    speed_spread=0.0175,
    brake_spread=4.5,
    line_spread=0.6,
    pickup_spread=0.1,
    shift_spread=80.0,
)
"""As a person drives: three times that, and a foot that hesitates."""

DRIVERS: dict[str, Person] = {"steady": STEADY, "scattering": SCATTERING}
"""Drivers by their scatter."""
