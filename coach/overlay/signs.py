"""The coach's topic as a quiet sign: which family a fault is of, and the glyph of each, as plain geometry.

The glyphs are what the trade draws: a brake trace (a steep rise and a long release, filled), a throttle trace (a ramp
to a level), a bend with the dot of its apex, a gear lever's gate, and the marks of two tyres that slid.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin
from typing import Literal, get_args

Sign = Literal["brakes", "line", "throttle", "gears", "grip"]
SIGNS: tuple[Sign, ...] = get_args(Sign)

Point = tuple[float, float]
"""Right and down, 0..1 of the sign's box."""

FAMILIES: dict[str, Sign] = {
    "early_braking": "brakes",
    "late_braking": "brakes",
    "soft_braking": "brakes",
    "early_turn_in": "line",
    "late_turn_in": "line",
    "early_downshift": "gears",
    "lock_up": "brakes",
    "over_slowed": "brakes",
    "coasting": "throttle",
    "late_throttle": "throttle",
    "throttle_lift": "throttle",
    "wheelspin": "grip",
    "narrow_entry": "line",
    "narrow_exit": "line",
    "missed_apex": "line",
    "rear_step_out": "grip",
    "spin": "grip",
    "off_track": "grip",
    "early_upshift": "gears",
    "late_upshift": "gears",
}
"""Every fault's family: what the driver's hands and feet have to do otherwise. Who slowed too much held the brake too
long; who coasts is late on the throttle; a locked wheel is let go with the brake. Grip is what is left: the car slid,
or ended beside the road (choice)."""


@dataclass(frozen=True, slots=True)
class Glyph:
    """`fills`: polygons; `strokes`: lines through points, as wide as STROKE; `dots`: middles of discs of radius DOT."""

    fills: tuple[tuple[Point, ...], ...] = ()
    strokes: tuple[tuple[Point, ...], ...] = ()
    dots: tuple[Point, ...] = ()


STROKE, DOT = 0.125, 0.13
"""Shares of the sign's box (choice): 4 px of 32, 4.6 arcmin at scale 1, where a sharp eye needs one (from memory)."""


def sign_of(fault: str | None) -> Sign | None:
    """The sign of a topic; None for none, and for what a later version may call a fault."""
    return None if fault is None else FAMILIES.get(fault)


def _curve(middle: Point, radius: float, begin: float, end: float) -> tuple[Point, ...]:
    """An arc between two angles in half turns, from the right and clockwise as seen."""
    steps = 24
    angles = [pi * (begin + (end - begin) * step / steps) for step in range(steps + 1)]
    return tuple((middle[0] + radius * cos(angle), middle[1] + radius * sin(angle)) for angle in angles)


def _release() -> tuple[Point, ...]:
    """A brake trace: at once to the peak, then less and less."""
    steps = 16
    falling = [(0.26 + 0.7 * step / steps, 0.92 - 0.84 * (1.0 - step / steps) ** 2) for step in range(steps + 1)]
    return ((0.06, 0.92), (0.12, 0.08), *falling)


def _mark(left: float) -> tuple[Point, ...]:
    """The mark of a tyre that slid to one side and was caught."""
    steps = 20
    return tuple((left + 0.13 * sin(2.0 * pi * step / steps), 0.07 + 0.86 * step / steps) for step in range(steps + 1))


GLYPHS: dict[Sign, Glyph] = {
    "brakes": Glyph(fills=(_release(),)),
    "line": Glyph(
        strokes=(((0.1, 0.93), *_curve((0.5, 0.5), 0.4, 1.0, 2.0), (0.9, 0.93)),),
        dots=((0.5, 0.36),),
    ),
    "throttle": Glyph(strokes=(((0.07, 0.86), (0.3, 0.86), (0.66, 0.14), (0.93, 0.14)),)),
    "gears": Glyph(
        strokes=(
            ((0.1, 0.08), (0.1, 0.92)),
            ((0.5, 0.08), (0.5, 0.92)),
            ((0.9, 0.08), (0.9, 0.5)),
            ((0.1, 0.5), (0.9, 0.5)),
        )
    ),
    "grip": Glyph(strokes=(_mark(0.27), _mark(0.73))),
}
