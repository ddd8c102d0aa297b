"""The picture of the program in the window's frame and in a task bar, in place of the library's own."""

from __future__ import annotations

from coach.overlay.palette import AHEAD, PLAIN, PLATE
from coach.overlay.sprites import FLOAT_WIDTH, float_shape, painted
from coach.overlay.toolkit import pygame

SIZE = 32
"""px of its sides: what desktops show, or make smaller from (common practice)."""
_LINE = 20
"""px from the top to the waterline."""
_THICK, _ASIDE = 2, 2
"""px of the waterline, and beside it."""


def icon() -> pygame.Surface:
    """The float ahead, above the waterline, on the plate; all opaque."""
    surface = pygame.Surface((SIZE, SIZE), pygame.SRCALPHA)
    surface.fill((*PLATE, 255))
    surface.fill((*PLAIN, 255), (_ASIDE, _LINE, SIZE - 2 * _ASIDE, _THICK))
    shape = painted(float_shape((SIZE - 2 * _ASIDE) / FLOAT_WIDTH, solid=True, dashed=False), AHEAD)
    surface.blit(shape, shape.get_rect(midbottom=(SIZE // 2, _LINE - _ASIDE)))
    return surface
