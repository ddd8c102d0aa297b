"""The overlay's colours, each with its contrast on the plate. They tell no state on their own: shape and place do too.

Ahead and behind are sky blue and yellow of the set that Okabe and Ito chose for colour-vision deficiency (Color
Universal Design, 2008). Of its pairs with at least 4.5:1 each on the plate and neither red, green nor reddish purple,
this one differs most in luminance (1.75:1). Contrast is WCAG 2.2's, on the plate itself: see contrast.py for a plate
that is seen through.
"""

from __future__ import annotations

from dataclasses import dataclass

Colour = tuple[int, int, int]
"""Red, green, blue, 0..255, sRGB."""


@dataclass(frozen=True, slots=True)
class Palette:
    """The plate, its rim, which sets it off from a dark ground, the float ahead of the reference and behind it, and all
    that is neither: words, the wake and, dimmed, the waterline and the signs."""

    plate: Colour = (16, 18, 22)
    rim: Colour = (70, 75, 84)
    ahead: Colour = (86, 180, 233)
    behind: Colour = (240, 228, 66)
    plain: Colour = (226, 230, 236)


DEFAULT = Palette()
PLATE, RIM, AHEAD, BEHIND, PLAIN = DEFAULT.plate, DEFAULT.rim, DEFAULT.ahead, DEFAULT.behind, DEFAULT.plain
DIMMEST = 0.7
"""The least share of its colour that the float has where a delta is shown."""
FAINT = 0.5
"""The least share of `plain` that a waterline, a waiting float or a sign has."""


def blend(low: Colour, high: Colour, share: float) -> Colour:
    """`high` laid over `low` with alpha `share` 0..1."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(low, high, strict=True))
    return red, green, blue


def hexadecimal(colour: Colour) -> str:
    """The colour as it stands in settings: `#56b4e9`."""
    return "#{:02x}{:02x}{:02x}".format(*colour)
