"""What the built-in driver can be told to do wrong, and what each mistake means behind the wheel."""

from __future__ import annotations

from dataclasses import dataclass

from coach.vocabulary.errors import InputError
from coach.vocabulary.faults import FAULTS


@dataclass(frozen=True, slots=True)
class Kind:
    """`least` to `most` of the size that the driver can do; `how` it is done."""

    least: float
    most: float
    how: str


KINDS: dict[str, Kind] = {
    "early_braking": Kind(2.0, 60.0, "the brake is pressed this much before the mark, as hard as ever"),
    "late_braking": Kind(2.0, 20.0, "the brake is pressed this much behind the mark"),
    "soft_braking": Kind(0.5, 6.0, "the brake is pressed this much less hard, and so earlier"),
    "early_turn_in": Kind(3.0, 15.0, "the car turns in this much before its place, meets the inside and runs wide"),
    "late_turn_in": Kind(3.0, 15.0, "the car turns in this much behind its place, and comes past the apex further out"),
    "early_downshift": Kind(50.0, 1500.0, "the lower gear is taken where it needs this much over the limit"),
    "lock_up": Kind(0.2, 0.9, "the brake is pressed until the front wheels slip this much, for half a second"),
    "over_slowed": Kind(0.5, 8.0, "the slowest part is driven this much slower"),
    "coasting": Kind(0.3, 3.0, "the throttle is left this long before the brake mark, and nothing pressed"),
    "late_throttle": Kind(0.1, 2.5, "the throttle is left alone for this long behind its place"),
    "throttle_lift": Kind(0.2, 1.5, "the throttle is left again for this long on the way out"),
    "wheelspin": Kind(0.15, 0.4, "the throttle is pressed until the driven wheels slip this much, for half a second"),
    "narrow_entry": Kind(0.5, 6.0, "the car turns in this far from its line, on the inside"),
    "narrow_exit": Kind(0.5, 6.0, "the car comes out this far from its line, on the inside"),
    "missed_apex": Kind(0.5, 6.0, "the car stays this far outside of its line at the apex"),
    "off_track": Kind(0.5, 3.0, "the car comes out this far beyond the outer edge"),
    "early_upshift": Kind(300.0, 3000.0, "the gears behind the corner are shifted up this much below the mark"),
    "late_upshift": Kind(
        100.0,
        1500.0,
        "the gears behind the corner are shifted up this much above the mark; beyond the limiter, when the next gear "
        "would have pulled as much further",
    ),
}
"""The kinds that the driver knows, in the order of the faults."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake: `kind` is a fault's name, `size` in that fault's unit, at bend `corner` of lap `lap`.

    Raises InputError where the driver knows no such kind or cannot do so much of it anywhere.
    """

    kind: str
    lap: int
    corner: int
    size: float

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError(f"{self}: the driver knows no {self.kind!r}; choose from {', '.join(KINDS)}")
        known = KINDS[self.kind]
        if not known.least <= self.size <= known.most:
            raise InputError(f"{self}: give a size from {known.least:g} to {known.most:g} {self.unit}")
        if self.lap < 1 or self.corner < 1:
            raise InputError(f"{self}: laps and corners are counted from 1")

    @property
    def unit(self) -> str:
        """of the size"""
        return FAULTS[self.kind].unit

    def __str__(self) -> str:
        text = f"{self.kind}:{self.lap}:{self.corner}:{self.size:g}"
        return f"mistake {text!r}"


def read_mistake(text: str) -> Mistake:
    """KIND:LAP:CORNER:SIZE, for example late_throttle:2:4:0.5. Raises InputError that names what is wrong."""
    parts = text.split(":")
    if len(parts) != 4:
        raise InputError(f"mistake {text!r}: give KIND:LAP:CORNER:SIZE, for example late_throttle:2:4:0.5")
    try:
        lap, corner, size = int(parts[1]), int(parts[2]), float(parts[3])
    except ValueError:
        raise InputError(f"mistake {text!r}: LAP and CORNER are whole numbers, SIZE a number") from None
    return Mistake(parts[0], lap, corner, size)
