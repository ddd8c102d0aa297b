"""Relative luminance and contrast of pictures, as WCAG 2.2 defines them (its glossary; sRGB, knee at 0.04045)."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

_VALUES = np.arange(256) / 255
_LINEAR = np.where(_VALUES <= 0.04045, _VALUES / 12.92, ((_VALUES + 0.055) / 1.055) ** 2.4)
_RED, _GREEN, _BLUE = 0.2126, 0.7152, 0.0722


def luminance(pixels: npt.NDArray[np.uint8]) -> npt.NDArray[np.float64]:
    """Relative luminance 0..1 of each pixel; the last axis is red, green, blue."""
    linear = _LINEAR[pixels]
    light: npt.NDArray[np.float64] = _RED * linear[..., 0] + _GREEN * linear[..., 1] + _BLUE * linear[..., 2]
    return light


def contrast(pixels: npt.NDArray[np.uint8]) -> float:
    """The lightest pixel to the darkest."""
    light = luminance(pixels)
    return float((light.max() + 0.05) / (light.min() + 0.05))


def ratio(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """Contrast of two colours."""
    return contrast(np.array([one, other], np.uint8))
