"""The characters of a number, each rendered once in the font that comes with pygame."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from coach.overlay.palette import Colour
from coach.overlay.toolkit import pygame


class Digits:
    """Digits of at least `cap_height` px, in one colour."""

    def __init__(self, cap_height: int, colour: Colour) -> None:
        pygame.font.init()
        self._font = _font(cap_height)
        self._colour = colour
        self._glyph = cache(self._render)
        zero = self._glyph("0").get_bounding_rect()
        self._middle = zero.top + zero.height // 2

    def draw(self, surface: pygame.Surface, text: str, middle: tuple[int, int], alpha: int) -> None:
        """Draw `text` with its middle there, `alpha` 0..255."""
        glyphs = [self._glyph(character) for character in text]
        x = middle[0] - sum(glyph.get_width() for glyph in glyphs) // 2
        for glyph in glyphs:
            glyph.set_alpha(alpha)
            surface.blit(glyph, (x, middle[1] - self._middle))
            x += glyph.get_width()

    def _render(self, character: str) -> pygame.Surface:
        return self._font.render(character, True, self._colour)


def _font(cap_height: int) -> pygame.font.Font:
    """The smallest size whose digits are that high: pygame and pygame-ce differ by a pixel."""
    file = str(Path(pygame.__file__).parent / "freesansbold.ttf")
    size = cap_height
    while True:
        font = pygame.font.Font(file, size)
        if font.render("0", True, (0, 0, 0)).get_bounding_rect().height >= cap_height:
            return font
        size += 1
