"""Whether a choice of colours can be seen and told apart, whatever lies behind the overlay: checked when it is loaded.

A plate that is seen through takes on something of the ground; so each mark is measured on the plate over black,
mid-grey and white. Marks themselves are opaque.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

from coach.overlay.luminance import ratio
from coach.overlay.palette import DIMMEST, FAINT, Colour, Palette, blend, hexadecimal
from coach.overlay.vision import least_distance
from coach.vocabulary.errors import InputError

GROUNDS: dict[str, Colour] = {"black": (0, 0, 0), "mid-grey": (128, 128, 128), "white": (255, 255, 255)}
TEXT = 7.0
"""Contrast of text: WCAG 2.2, 1.4.6 (AAA; clause number from memory); FHWA-RD-98-057, chapter 3, prefers 7:1 too."""
MARK = 4.5
"""Contrast of the float in its full colour: what WCAG 2.2 asks of text, for a mark that is not looked at (choice)."""
GRAPHICS = 3.0
"""Contrast of what is dimmed: WCAG 2.2, 1.4.11, for graphics (clause number from memory); the minimum of
FHWA-RD-98-057, chapter 3."""
RIM = 2.0
"""Contrast of rim and plate, so that on any ground one of the two has at least the root of it, 1.41:1 (choice)."""
PAIR = 1.3
"""Contrast of ahead and behind, to be told apart where no colour is seen at all (choice)."""
APART = 20.0
"""Least distance (Oklab, in % of black to white) of ahead and behind for any colour vision: refuses every pair of the
tests' that has under 20 by CAM02-UCS, green and red among them, and passes all that have 45 (choice)."""


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is wrong with a choice: `key` of the palette, and one clause with what was measured and what is needed."""

    key: str
    what: str


def shortfall(palette: Palette, opacity: float) -> Shortfall | None:
    """The first thing that a palette lacks on a plate of `opacity` 0..1; None where it serves."""
    return next(_shortfalls(palette, opacity), None)


def checked(palette: Palette, opacity: float) -> Palette:
    """The palette. Raises InputError, one line with key, measured ratio, what is needed and on which ground."""
    found = shortfall(palette, opacity)
    if found is not None:
        raise InputError(f"overlay.colours.{found.key}: {found.what}")
    return palette


def _shortfalls(palette: Palette, opacity: float) -> Iterator[Shortfall]:
    for key, share, needed in (
        ("plain", 1.0, TEXT),
        ("ahead", 1.0, MARK),
        ("behind", 1.0, MARK),
        ("ahead", DIMMEST, GRAPHICS),
        ("behind", DIMMEST, GRAPHICS),
        ("plain", FAINT, GRAPHICS),
    ):
        colour = getattr(palette, key)
        shown = blend(palette.plate, colour, share)
        measured, ground = min(
            (ratio(shown, blend(lies, palette.plate, opacity)), name) for name, lies in GROUNDS.items()
        )
        if measured < needed:
            yield Shortfall(key, _too_little(colour, share, measured, needed, ground, opacity))
    rim = ratio(palette.rim, palette.plate)
    if rim < RIM:
        what = f"{hexadecimal(palette.rim)} has a contrast of {_cut(rim)}:1 to the plate, at least {RIM:g}:1 is needed"
        yield Shortfall("rim", f"{what}: choose a colour that is lighter or darker")
    yield from _alike(palette)


def _too_little(colour: Colour, share: float, measured: float, needed: float, ground: str, opacity: float) -> str:
    dimmed = "" if share == 1.0 else f", dimmed to {share:.0%},"
    on, mend = "the plate", "choose a colour that differs more from the plate"
    if opacity < 1.0:
        on, mend = f"{on} over a {ground} ground ({opacity:.0%} opaque)", f"{mend}, or a higher opacity"
    return f"{hexadecimal(colour)}{dimmed} has a contrast of {_cut(measured)}:1 on {on}, {needed:g}:1 is needed: {mend}"


def _alike(palette: Palette) -> Iterator[Shortfall]:
    ahead, behind = hexadecimal(palette.ahead), hexadecimal(palette.behind)
    light = ratio(palette.ahead, palette.behind)
    if light < PAIR:
        what = f"{behind} has a contrast of {_cut(light)}:1 to ahead ({ahead}), at least {PAIR:g}:1 is needed"
        yield Shortfall("behind", f"{what} where no colour is seen: make one of the two lighter")
    apart, vision = least_distance(palette.ahead, palette.behind)
    if apart < APART:
        what = f"{behind} differs from ahead ({ahead}) by {_cut(apart)} % to {vision} vision, {APART:g} % is needed"
        yield Shortfall("behind", f"{what}: everyone tells a blue from a lighter yellow")


def _cut(measured: float) -> str:
    """Two decimals, cut off: what falls short must not read as if it reached."""
    return f"{int(measured * 100) / 100:.2f}"


KEYS = tuple(one.name for one in fields(Palette))
"""The names of the colours, as settings call them."""
