"""The overlay's colours, each with its contrast on the plate. They tell no state on their own: shape and place do too.

Ahead and behind are sky blue and yellow of the set that Okabe and Ito chose for colour-vision deficiency (Color
Universal Design, 2008). Of its pairs with at least 4.5:1 each on the plate, this one differs most in luminance (1.75:1)
without red or green. Contrast is WCAG 2.2's, the plate's own, so that it holds on any ground.
"""

from __future__ import annotations

Colour = tuple[int, int, int]
"""Red, green, blue, 0..255, sRGB."""

PLATE: Colour = (16, 18, 22)
RIM: Colour = (70, 75, 84)
"""Sets the plate off from a dark ground."""
AHEAD: Colour = (86, 180, 233)
"""8.1:1 on the plate"""
BEHIND: Colour = (240, 228, 66)
"""14.2:1 on the plate"""
PLAIN: Colour = (226, 230, 236)
"""14.9:1 on the plate: the number, the wake, and, dimmed, the waterline and the signs"""


def blend(low: Colour, high: Colour, share: float) -> Colour:
    """`high` laid over `low` with alpha `share` 0..1."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(low, high, strict=True))
    return red, green, blue
