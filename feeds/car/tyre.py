"""The tyre: forces from slip ratio, slip angle and load. Pure functions on floats.

The slips are divided by their values at the peak and joined to one, rho = sqrt((kappa / kappa_p)^2 + (tan alpha /
tan alpha_p)^2). The force is D sin(C arctan(B rho)), a curve of the magic-formula type whose B puts the peak at
rho = 1, shared between along and across as the two slips are. So (Fx / mu_x Fz)^2 + (Fy / mu_y Fz)^2 never passes 1:
the friction ellipse holds by construction, and a locked wheel's force points against its sliding, to the few degrees by
which the peaks along and across differ.
"""

from __future__ import annotations

from math import atan, sin, sqrt

from feeds.car.spec import TyreSpec

LEAST_FRICTION = 0.5
"""share of the nominal friction that is left at whatever load"""
ATMOSPHERE = 101.3
"""kPa"""
KELVIN = 273.15
"""K at 0 degC"""


def friction(tyre: TyreSpec, load: float) -> tuple[float, float]:
    """Peak friction along and across at `load` N."""
    share = max(LEAST_FRICTION, 1.0 - tyre.sensitivity * (load / tyre.nominal_load - 1.0))
    return tyre.mu_x * share, tyre.mu_y * share


def slip_forces(tyre: TyreSpec, load: float, slip: float, sideways: float, grip: float) -> tuple[float, float, float]:
    """N for one unit of slip along and across, and the most N along beside what goes across.

    `slip` is kappa, `sideways` is tan alpha, `grip` scales the friction: Fx = first x kappa, Fy = -second x tan alpha.
    """
    along, across = slip / tyre.peak_slip, sideways / tyre.peak_sideways
    joined = sqrt(along * along + across * across)
    rise, shape = tyre.rise, tyre.shape
    share = sin(shape * atan(rise * joined)) / joined if joined > 1e-6 else shape * rise
    less = 1.0 - tyre.sensitivity * (load / tyre.nominal_load - 1.0)
    unit = load * grip * (less if less > LEAST_FRICTION else LEAST_FRICTION)
    across *= share
    room = 1.0 - across * across
    x = tyre.mu_x * unit
    return (
        x * share / tyre.peak_slip,
        tyre.mu_y * unit * share / tyre.peak_sideways,
        x * sqrt(room if room > 0.0 else 0.0),
    )


def cornering_stiffness(tyre: TyreSpec, load: float) -> float:
    """N/rad of one tyre at a small slip angle."""
    return slip_forces(tyre, load, 0.0, 0.0, 1.0)[1]


def temperature_grip(tyre: TyreSpec, temp: float) -> float:
    """Share of the friction at a mean tread temperature of `temp` degC: 1 in the window, less by the square outside."""
    low, high = tyre.window
    if temp < low:
        away = (low - temp) / (low - tyre.cold_temp)
        return 1.0 - tyre.cold_loss * min(away, 1.5) ** 2
    if temp > high:
        return 1.0 - tyre.hot_loss * min((temp - high) / 40.0, 1.5) ** 2
    return 1.0


def pressure(cold: float, cold_temp: float, temp: float) -> float:
    """kPa gauge at `temp` degC of a tyre that was set to `cold` kPa at `cold_temp`: Gay-Lussac on absolute pressure."""
    return (cold + ATMOSPHERE) * (temp + KELVIN) / (cold_temp + KELVIN) - ATMOSPHERE
