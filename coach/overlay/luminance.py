"""How light a colour is, and the contrast of two: WCAG 2.2, "relative luminance" and "contrast ratio"."""

from __future__ import annotations

from coach.overlay.palette import Colour

_KNEE, _SLOPE = 0.04045, 12.92
_OFFSET, _GAMMA = 0.055, 2.4
_WEIGHTS = (0.2126, 0.7152, 0.0722)
_FLARE = 0.05
"""What a screen reflects of the room, in shares of its white."""


def linear(colour: Colour) -> tuple[float, float, float]:
    """Red, green and blue as shares 0..1 of light."""
    red, green, blue = (_light(value / 255) for value in colour)
    return red, green, blue


def luminance(colour: Colour) -> float:
    """Relative luminance, 0 black to 1 white."""
    return sum(weight * light for weight, light in zip(_WEIGHTS, linear(colour), strict=True))


def ratio(one: Colour, other: Colour) -> float:
    """Contrast, 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + _FLARE) / (low + _FLARE)


def _light(value: float) -> float:
    return value / _SLOPE if value <= _KNEE else ((value + _OFFSET) / (1.0 + _OFFSET)) ** _GAMMA
