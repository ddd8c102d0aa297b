"""The closed set of conversions into a channel's unit, by the kind of quantity, and which channel is of which kind.

Factors are those of NIST SP 811 (2008), appendix B, exact where it gives them in bold; angles by ISO 80000-3.
"""

from __future__ import annotations

import math
from typing import NamedTuple

GRAVITY = 9.80665
"""m/s^2, standard acceleration of free fall."""
POUND_FORCE = 4.448_221_615_260_5
"""N."""
INCH = 0.0254
"""m."""
FOOT = 0.3048
"""m."""
MILE = 1609.344
"""m."""
US_GALLON = 231 * INCH**3 * 1000.0
"""L: 231 cubic inches."""
IMPERIAL_GALLON = 4.54609
"""L."""


class Unit(NamedTuple):
    """`value x scale + bias` is in the channel's own unit."""

    scale: float
    bias: float = 0.0


_ROTATION = {"rad/s": Unit(1.0), "deg/s": Unit(math.radians(1.0)), "rev/s": Unit(math.tau), "rpm": Unit(math.tau / 60)}

CONVERSIONS: dict[str, dict[str, Unit]] = {
    "time": {"s": Unit(1.0), "ms": Unit(1e-3), "us": Unit(1e-6), "ns": Unit(1e-9), "min": Unit(60.0)},
    "length": {
        **{"m": Unit(1.0), "km": Unit(1000.0), "cm": Unit(0.01), "mm": Unit(0.001)},
        **{"ft": Unit(FOOT), "mi": Unit(MILE)},
    },
    "speed": {
        **{"m/s": Unit(1.0), "km/h": Unit(1.0 / 3.6), "mph": Unit(MILE / 3600.0)},
        **{"ft/s": Unit(FOOT), "knots": Unit(1852.0 / 3600.0)},
    },
    "acceleration": {"m/s2": Unit(1.0), "g": Unit(GRAVITY), "ft/s2": Unit(FOOT)},
    "angle": {"rad": Unit(1.0), "degrees": Unit(math.radians(1.0)), "turns": Unit(math.tau)},
    "angular rate": _ROTATION,
    "wheel rate": _ROTATION,
    "engine speed": {
        **{"rpm": Unit(1.0), "rad/s": Unit(60.0 / math.tau), "rev/s": Unit(60.0)},
        "deg/s": Unit(60.0 / 360.0),
    },
    "share": {
        **{"0..1": Unit(1.0), "0..100": Unit(1.0 / 100), "0..255": Unit(1.0 / 255), "0..65535": Unit(1.0 / 65535)},
        **{"1..0": Unit(-1.0, 1.0), "100..0": Unit(-1.0 / 100, 1.0), "255..0": Unit(-1.0 / 255, 1.0)},
        **{"65535..0": Unit(-1.0 / 65535, 1.0), "-1..1": Unit(0.5, 0.5), "1..-1": Unit(-0.5, 0.5)},
    },
    "pressure": {
        **{"kPa": Unit(1.0), "Pa": Unit(1e-3), "hPa": Unit(0.1), "bar": Unit(100.0), "mbar": Unit(0.1)},
        "psi": Unit(POUND_FORCE / INCH**2 / 1000.0),
    },
    "temperature": {"celsius": Unit(1.0), "fahrenheit": Unit(1 / 1.8, -32 / 1.8), "kelvin": Unit(1.0, -273.15)},
    "volume": {
        **{"L": Unit(1.0), "mL": Unit(1e-3), "m3": Unit(1000.0)},
        **{"US gallons": Unit(US_GALLON), "imperial gallons": Unit(IMPERIAL_GALLON)},
    },
    "number": {},
}
"""Of each kind of quantity its units by their words; the word for the channel's own unit has scale 1 and no bias."""

QUANTITY: dict[str, str] = {
    **dict.fromkeys(("t", "lap_time", "last_lap_time", "time_left", "gap_ahead", "gap_behind"), "time"),
    **dict.fromkeys(("lap_distance", "track_length", "x", "y", "z", "position"), "length"),
    **dict.fromkeys(("edge_left", "edge_right", "car_width"), "length"),
    **dict.fromkeys(("speed", "vx", "vy", "velocity", "wheel_speed"), "speed"),
    **dict.fromkeys(("ax", "ay", "az", "acceleration"), "acceleration"),
    **dict.fromkeys(("yaw", "steer"), "angle"),
    "yaw_rate": "angular rate",
    **dict.fromkeys(("engine_speed", "engine_speed_max"), "engine speed"),
    **dict.fromkeys(("throttle", "brake", "clutch", "damage", "wetness"), "share"),
    "tyre_pressure": "pressure",
    **dict.fromkeys(("tyre_temp", "track_temp", "air_temp"), "temperature"),
    "fuel": "volume",
    "laps_left": "number",
}
"""The kind of quantity of every channel that is a number or several; `wheel_speed` with a radius is a wheel rate."""
