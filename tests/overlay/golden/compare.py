"""How two pictures of the overlay are compared: closely where there is no text, by its weight where there is.

pygame and pygame-ce smooth edges and set letters a little differently. So a pixel may be off by TOLERANCE, and a few
may be off by more; in the band that a text lies in, only the share of ink in each block counts.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Pixels = npt.NDArray[np.uint8]
"""rows x columns x (red, green, blue)"""

TOLERANCE = 24
"""steps of 255 that a channel of a pixel may be off (choice)"""
FEW = 0.001
"""Share of the pixels that may be off by more: 38 of a plate at scale 1, under a quarter of the smallest mark, the drop
(choice)."""
BLOCK = 12
"""px: about a letter's width"""
INK = 0.15
"""Share of a block by which the ink in it may differ (choice)."""
MOST_INK = 0.2
"""Share of all ink of a text that may be more or less (choice)."""


def alike(one: Pixels, other: Pixels, text: tuple[int, int] | None = None) -> bool:
    """Whether the pictures show the same; `text`: first and last row of where a text lies, compared loosely."""
    if one.shape != other.shape:
        return False
    off = np.abs(one.astype(int) - other).max(axis=2) > TOLERANCE
    if text is None:
        return float(off.mean()) <= FEW
    first, last = text
    strict = np.delete(off, np.s_[first : last + 1], axis=0)
    here, there = (_ink(pixels[first : last + 1]) for pixels in (one, other))
    if abs(here.sum() - there.sum()) > MOST_INK * max(here.sum(), there.sum()):
        return False
    return float(strict.sum()) / off.size <= FEW and bool(np.abs(_blocks(here) - _blocks(there)).max() <= INK)


def _ink(pixels: Pixels) -> npt.NDArray[np.float64]:
    """How bright each pixel is, 0..1 of the brightest there could be."""
    ink: npt.NDArray[np.float64] = pixels.max(axis=2).astype(float) / 255
    return np.where(ink > 0.2, ink, 0.0)  # the plate itself is none


def _blocks(ink: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    height, width = (size // BLOCK * BLOCK for size in ink.shape)
    means: npt.NDArray[np.float64] = ink[:height, :width].reshape(height // BLOCK, BLOCK, -1, BLOCK).mean(axis=(1, 3))
    return means
