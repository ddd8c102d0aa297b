"""Units of speed and length, and which of them a slope ties together."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from feeds.finder.columns import Column

SPEEDS = {"m/s": 1.0, "km/h": 1.0 / 3.6, "mph": 0.44704}
"""m/s in one of it (NIST SP 811)."""
LENGTHS = {"m": 1.0, "cm": 0.01, "mm": 0.001}
"""m in one of it."""
TENTHS = (0.1, 0.01)
"""Parts of a speed's unit that whole numbers may count."""
UNIT_OFF = {"position": 0.012, "distance": 0.035}
"""How far a unit's factor may be off: a path is measured well, but no car drives just the centre line's length."""
TOP_SPEED = (12.0, 140.0)
"""m/s between which the greatest speed of a lap lies (choice: from a hire kart to beyond any car on a circuit)."""


@dataclass(frozen=True, slots=True)
class Unit:
    name: str
    per: float
    """of the channel's own unit in one of it"""
    odd: int
    """1: a part of a unit, which few sources send"""


def units_of(speed: Column, length: Column, k: float, what: str) -> tuple[Unit, Unit] | None:
    """The units of speed and length by which a raw slope is `k` raw speeds; the plainest that fits."""
    best: tuple[Unit, Unit] | None = None
    least = float("inf")
    for of_speed, of_length in product(_speed_units(speed), length_units(length)):
        off = abs(k * of_length.per / of_speed.per - 1.0)
        if off > UNIT_OFF[what] or not TOP_SPEED[0] <= speed.high * of_speed.per <= TOP_SPEED[1]:
            continue
        odd = off + 0.02 * (of_speed.odd + of_length.odd)
        if odd < least:
            least, best = odd, (of_speed, of_length)
    return best


def _speed_units(column: Column) -> list[Unit]:
    whole = [Unit(name, per, 0) for name, per in SPEEDS.items()]
    if column.field.type[0] == "f":
        return whole
    return whole + [Unit(f"{part:g} {name}", part * per, 1) for name, per in SPEEDS.items() for part in TENTHS]


def length_units(column: Column) -> list[Unit]:
    units = [Unit(name, per, int(per != 1.0)) for name, per in LENGTHS.items()]
    return units if column.field.type[0] == "f" else [*units, Unit("0.1 m", 0.1, 1)]
