"""The conversions against published factors, each with its source."""

from __future__ import annotations

import math

import pytest
from layout.packing import decoded, one, packet

from feeds.layout import layout_from_text
from feeds.layout.units import CONVERSIONS, QUANTITY

PUBLISHED = [
    # NIST SP 811 (2008), appendix B.8, factors as printed; those in bold there are exact
    ("speed", "km/h", 1.0, 2.777778e-01),
    ("speed", "mph", 1.0, 4.4704e-01),
    ("speed", "knots", 1.0, 5.144444e-01),
    ("speed", "ft/s", 1.0, 3.048e-01),
    ("speed", "m/s", 1.0, 1.0),
    ("lap_distance", "km", 1.0, 1000.0),
    ("lap_distance", "mi", 1.0, 1.609344e03),
    ("lap_distance", "ft", 1.0, 3.048e-01),
    ("lap_distance", "cm", 1.0, 0.01),
    ("lap_distance", "mm", 1.0, 0.001),
    ("ax", "g", 1.0, 9.80665),
    ("ax", "ft/s2", 1.0, 3.048e-01),
    ("yaw", "degrees", 1.0, 1.745329e-02),
    ("yaw", "turns", 1.0, 6.283185),
    ("yaw_rate", "deg/s", 1.0, 1.745329e-02),
    ("yaw_rate", "rpm", 1.0, 1.047198e-01),
    ("engine_speed", "rad/s", 1.047198e-01, 1.0),
    ("engine_speed", "rev/s", 1.0, 60.0),
    ("engine_speed", "deg/s", 6.0, 1.0),
    ("fuel", "US gallons", 1.0, 3.785412),
    ("fuel", "imperial gallons", 1.0, 4.54609),
    ("fuel", "m3", 1.0, 1000.0),
    ("fuel", "mL", 1.0, 0.001),
    ("lap_time", "min", 1.0, 60.0),
    ("lap_time", "ms", 1.0, 1e-3),
    ("lap_time", "us", 1.0, 1e-6),
    ("lap_time", "ns", 1.0, 1e-9),
    # the same, appendix B.8 and B.9: t/degC = (t/degF - 32) / 1.8, t/degC = T/K - 273.15
    ("air_temp", "fahrenheit", 212.0, 100.0),
    ("air_temp", "fahrenheit", 32.0, 0.0),
    ("air_temp", "fahrenheit", -40.0, -40.0),
    ("air_temp", "kelvin", 273.15, 0.0),
    ("air_temp", "celsius", 21.5, 21.5),
    # common practice: pedals as bytes, per cent, the full range of two bytes, or from rest at 1 to 0
    ("throttle", "0..255", 255.0, 1.0),
    ("throttle", "0..255", 51.0, 0.2),
    ("throttle", "255..0", 51.0, 0.8),
    ("throttle", "0..100", 25.0, 0.25),
    ("throttle", "100..0", 25.0, 0.75),
    ("throttle", "0..65535", 65535.0, 1.0),
    ("throttle", "65535..0", 65535.0, 0.0),
    ("throttle", "1..0", 0.25, 0.75),
    ("throttle", "-1..1", -1.0, 0.0),
    ("throttle", "-1..1", 0.0, 0.5),
    ("throttle", "1..-1", 1.0, 0.0),
]
PRESSURES = [
    # NIST SP 811, appendix B.8: psi to kPa 6.894757, bar 100, pascal and its multiples by SI
    ("psi", 6.894757),
    ("bar", 100.0),
    ("mbar", 0.1),
    ("hPa", 0.1),
    ("Pa", 0.001),
    ("kPa", 1.0),
]


@pytest.mark.parametrize(("name", "unit", "raw", "value"), PUBLISHED)
def test_a_published_factor(name: str, unit: str, raw: float, value: float) -> None:
    sample = decoded(one(f'{name} = {{ offset = 8, type = "f64", convert = "{unit}" }}'), packet((8, "<d", raw)))
    assert getattr(sample, name) == pytest.approx(value, rel=5e-7, abs=1e-12)


@pytest.mark.parametrize(("unit", "factor"), PRESSURES)
def test_a_published_factor_of_pressure(unit: str, factor: float) -> None:
    layout = one(f'tyre_pressure = {{ offset = 8, type = "f32", convert = "{unit}" }}')
    pressures = decoded(layout, packet((8, "<4f", (1.0, 2.0, 3.0, 4.0)))).tyre_pressure
    assert pressures == pytest.approx([factor, 2 * factor, 3 * factor, 4 * factor], rel=1e-7)


def test_every_conversion_is_checked_against_something() -> None:
    checked = {(QUANTITY[name], unit) for name, unit, _, _ in PUBLISHED} | {("pressure", unit) for unit, _ in PRESSURES}
    own = {
        (quantity, unit) for quantity, units in CONVERSIONS.items() for unit, of in units.items() if of == (1.0, 0.0)
    }
    every = {(quantity, unit) for quantity, units in CONVERSIONS.items() for unit in units if quantity != "wheel rate"}
    # A wheel's angular rate has the units of the car's; those of the car that are not above are checked here.
    assert CONVERSIONS["wheel rate"] == CONVERSIONS["angular rate"]
    assert CONVERSIONS["angular rate"]["rev/s"] == (pytest.approx(math.tau), 0.0)
    assert every - checked - own == {("angular rate", "rev/s")}


def test_whole_bytes_meet_both_ends_of_a_pedal() -> None:
    layout = one('throttle = { offset = 8, type = "u8", convert = "0..255" }')
    values = [decoded(layout, packet((8, "B", raw))).throttle for raw in range(256)]
    assert values[0] == 0.0
    assert values[-1] == 1.0
    assert values == sorted(set(values))


def test_the_time_too_is_converted() -> None:
    text = b'layout = 1\n[[packet]]\nname = "a"\nlength = 8\n[packet.channels]\n'
    layout = layout_from_text(text + b't = { offset = 0, type = "u64", convert = "us" }')
    assert decoded(layout, (1_500_000).to_bytes(8, "little")).t == pytest.approx(1.5)
