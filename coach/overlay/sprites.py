"""What moves on the plate, each drawn once, four times as large, and smoothed: white shapes, painted when needed."""

from __future__ import annotations

from coach.overlay.palette import Colour
from coach.overlay.toolkit import pygame

FLOAT_WIDTH, FLOAT_HEIGHT = 128, 34
"""px at scale 1."""
_STROKE = 4
"""px of the hollow float's side: it gives a quarter less light than the solid one, though its colour is lighter."""
_DASHES = 5
"""dashes on each side of a float that only waits"""
_WAKE_WIDTH, _WAKE_GAP = 104, 4
_WAKE_LIGHT, _WAKE_FADE = 0.9, 0.6
_DROP = 6
"""px: the drop's radius."""
_FINE, _FINE_FROM = (4, 2), 1.5
"""How many times larger shapes are drawn before they are smoothed: fewer from a scale on at which edges are long."""
WHITE: Colour = (255, 255, 255)


def fineness(scale: float) -> int:
    """How many times larger shapes are drawn at this scale before they are smoothed."""
    return _FINE[scale >= _FINE_FROM]


def painted(shape: pygame.Surface, colour: Colour) -> pygame.Surface:
    """A copy of a white shape in `colour`."""
    sprite = shape.copy()
    sprite.fill((*colour, 255), special_flags=pygame.BLEND_RGBA_MULT)
    return sprite


def clear(size: tuple[int, int], colour: Colour = WHITE) -> pygame.Surface:
    """A see-through surface that has the colour already, so that smoothing leaves no dark seam."""
    surface = pygame.Surface(size, pygame.SRCALPHA)
    surface.fill((*colour, 0))
    return surface


def float_shape(scale: float, solid: bool, dashed: bool) -> pygame.Surface:
    """A lozenge: full, hollow, or hollow and dashed."""
    size = (round(FLOAT_WIDTH * scale), round(FLOAT_HEIGHT * scale))
    larger = fineness(scale)
    fine = clear((size[0] * larger, size[1] * larger))
    box = fine.get_rect()
    pygame.draw.polygon(fine, (*WHITE, 255), _lozenge(box))
    if not solid:
        pygame.draw.polygon(fine, (*WHITE, 0), _lozenge(box, _STROKE * scale * larger))
    if dashed:
        step = box.width / (4 * _DASHES)
        for gap in range(2 * _DASHES):
            fine.fill((*WHITE, 0), (round((2 * gap + 0.5) * step), 0, round(step), box.height))
    return pygame.transform.smoothscale(fine, size)


def wake(scale: float, length: int, colour: Colour) -> pygame.Surface:
    """Hangs `length` px from the float, or stands on it where `length` is negative; fades to its tip."""
    width, depth = round(_WAKE_WIDTH * scale), round(FLOAT_HEIGHT / 2 * scale) + abs(length)
    larger = fineness(scale)
    fine = clear((width * larger, depth * larger), colour)
    box = fine.get_rect()
    pygame.draw.polygon(fine, (*colour, 255), [(0, 0), box.topright, box.midbottom])
    cut = pygame.Rect(0, 0, round(FLOAT_WIDTH * scale) * larger, round(FLOAT_HEIGHT * scale) * larger)
    cut.center = (box.width // 2, 0)
    pygame.draw.polygon(fine, (*colour, 0), _lozenge(cut, -_WAKE_GAP * scale * larger))
    sprite = pygame.transform.smoothscale(fine, (width, depth))
    for row in range(depth):
        light = _WAKE_LIGHT * (1.0 - row / depth) ** _WAKE_FADE
        sprite.fill((*WHITE, round(255 * light)), (0, row, width, 1), pygame.BLEND_RGBA_MULT)
    return sprite if length > 0 else pygame.transform.flip(sprite, False, True)


def drop(scale: float) -> pygame.Surface:
    """A small disc."""
    side = max(2, round(2 * _DROP * scale))
    larger = fineness(scale)
    fine = clear((side * larger, side * larger))
    pygame.draw.circle(fine, (*WHITE, 255), fine.get_rect().center, side * larger // 2)
    return pygame.transform.smoothscale(fine, (side, side))


def _lozenge(box: pygame.Rect, inset: float = 0.0) -> list[tuple[float, float]]:
    """The corners of the lozenge in `box`, its sides moved in by `inset` px."""
    half_width, half_height = box.width / 2, box.height / 2
    left = 1.0 - inset * (half_width**2 + half_height**2) ** 0.5 / (half_width * half_height)
    x, y = box.center
    across, up = half_width * left, half_height * left
    return [(x, y - up), (x + across, y), (x, y + up), (x - across, y)]
