"""Digits and words, in the font that comes with this package, each text rendered once."""

from __future__ import annotations

from functools import lru_cache

from coach.overlay.font import FONT
from coach.overlay.palette import Colour
from coach.overlay.toolkit import pygame

SOLID = 128
"""Alpha from which a pixel counts as ink: what smoothing adds at an edge is not read (choice)."""
_MEASURED = "H0"
"""A capital and a digit; a round one is drawn a little higher than a flat one."""
_MOST_OF_SIZE = 0.75
"""No capital is higher than this share of the font's size, so none of that size or less is tried."""
_KEPT = 32
"""texts that are kept rendered; a straight shows one"""


class Letters:
    """Text whose capitals and digits have at least `cap_height` px, in one colour."""

    def __init__(self, cap_height: int, colour: Colour) -> None:
        pygame.font.init()
        self._font = _font(cap_height)
        self._colour = colour
        self._rendered = lru_cache(_KEPT)(self._render)
        capital = self._rendered("H").get_bounding_rect(SOLID)
        self._middle = capital.top + capital.height // 2
        self.cap_height = _cap_height(self._font)
        """px, what it came to"""
        self.line = self._font.get_linesize()
        """px from one line of text to the next"""

    def width(self, text: str) -> int:
        """px that `text` takes."""
        return self._font.size(text)[0]

    def draw(self, surface: pygame.Surface, text: str, middle: tuple[int, int], alpha: int) -> pygame.Rect:
        """Draw `text` in one line, the middle of its capitals there, `alpha` 0..255. Returns where it has drawn."""
        rendered = self._rendered(text)
        rendered.set_alpha(alpha)
        return surface.blit(rendered, (middle[0] - rendered.get_width() // 2, middle[1] - self._middle))

    def _render(self, text: str) -> pygame.Surface:
        return self._font.render(text, True, self._colour)


def _font(cap_height: int) -> pygame.font.Font:
    """The smallest size that is that high: how a size becomes px differs from one version of SDL_ttf to another."""
    size = int(cap_height / _MOST_OF_SIZE)
    while True:
        font = pygame.font.Font(str(FONT), max(1, size))
        if _cap_height(font) >= cap_height:
            return font
        size += 1


def _cap_height(font: pygame.font.Font) -> int:
    """px of the lowest of capitals and digits."""
    return min(font.render(one, True, (0, 0, 0)).get_bounding_rect(SOLID).height for one in _MEASURED)
