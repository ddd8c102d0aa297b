"""The strip beside the plate by which one sees that it is being placed, how large it is, and how to end."""

from __future__ import annotations

from math import ceil

from coach.overlay.letters import Letters
from coach.overlay.palette import Palette
from coach.overlay.toolkit import pygame

_LINES = 1.9
"""Height of the strip in heights of its capitals (choice)."""
_ASIDE = 0.6
"""Room left and right of the text, in heights of its capitals (choice)."""
_WORDS = ("  Enter keeps, Esc leaves", "  Enter keeps", "  Enter", "")
"""What follows the size, the longest that fits."""


class Caption:
    """A strip of opaque plate with capitals of `cap_height` px. `height`: px."""

    def __init__(self, cap_height: int, palette: Palette) -> None:
        self._palette = palette
        self._letters = Letters(cap_height, palette.plain)
        self._aside = ceil(_ASIDE * self._letters.cap_height)
        self.height = ceil(_LINES * self._letters.cap_height)

    def text(self, size: float, width: int) -> str:
        """What is written for a size in arcmin, in a strip of `width` px."""
        texts = [f"{size:g}'{words}" for words in _WORDS]
        return next((text for text in texts if self._letters.width(text) + 2 * self._aside <= width), texts[-1])

    def draw(self, surface: pygame.Surface, strip: pygame.Rect, size: float) -> None:
        """Draw the strip."""
        surface.fill(self._palette.plate, strip)
        surface.set_clip(strip)
        self._letters.draw(surface, self.text(size, strip.width), strip.center, 255)
        surface.set_clip(None)
