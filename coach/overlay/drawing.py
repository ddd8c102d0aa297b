"""Draws a view on a plain software surface: a float that rides above the waterline when ahead and under it when behind.

What is above the line is solid, what is under it hollow, so that shape and place carry the sign as well as colour; at
no delta the float is grey and lies in the line. Its wake trails behind it: below while gaining, above while losing, the
longer the quicker. A number stands on the other side of the line than the float, and the wake gives way to it: one
thing to read at a time. Sprites are drawn once, four times as large, smoothed, and kept.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from coach.overlay.digits import Digits
from coach.overlay.palette import AHEAD, BEHIND, PLAIN, PLATE, RIM, Colour, blend
from coach.overlay.toolkit import pygame
from coach.overlay.view import State, View

WIDTH, HEIGHT = 200, 172
"""px of the plate at scale 1."""
CAP_HEIGHT = 26
"""px of the digits at scale 1: 30 arcmin at 0.7 m on a 27-inch screen of 2560 x 1440, where 20 are 18 px."""

_MIDDLE, _LINE = WIDTH // 2, HEIGHT // 2
_FLOAT_WIDTH, _FLOAT_HEIGHT, _STROKE = 128, 34, 6
_TRAVEL = 46
"""px that the float rides up or down at most."""
_TINTED = 0.12
"""Offset (0..1) from which the float has its full colour; at 0 it is grey."""
_WAKE_WIDTH, _WAKE_LENGTH, _WAKE_GAP = 104, 44, 4
_WAKE_LIGHT, _WAKE_FADE = 0.9, 0.6
_EDGE = 6
"""px that stay free at the plate's edge."""
_NUMBER = 51
"""px from the line to the number's middle."""
_LINE_LENGTH, _LINE_WIDTH = 176, 2
_LINE_LIGHT, _LINE_DIM = 0.55, 0.42
_PAUSE_WIDTH, _PAUSE_HEIGHT, _PAUSE_GAP = 12, 40, 14
_BREAK = 9
"""px that the two halves of a broken line stand apart, upwards and sidewards."""
_DASHES = 5
"""dashes on each side of a float that only waits"""
_FINE = 4
"""How many times larger sprites are drawn before they are smoothed."""
_SHADES = 24
"""steps of brightness and of colour: no step is seen, and few sprites are kept"""

_KEPT = 100
"""sprites of each kind that are kept: at scale 1 some kilobytes each"""


class Frame(NamedTuple):
    """A view in whole pixels and steps. The picture depends on nothing else: equal frames are equal pictures."""

    state: State
    up: int
    """px of the float above the line"""
    tint: int
    """steps from grey to the full colour, above 0 = ahead"""
    shade: int
    """steps of brightness"""
    wake: int
    """px, above 0 = gaining: it trails below"""
    number: str
    number_shade: int


class Drawing:
    """Draws at one scale. `size` (px) is what a surface must have."""

    def __init__(self, scale: float = 1.0) -> None:
        self.scale = scale
        self.size = (round(WIDTH * scale), round(HEIGHT * scale))
        self._digits = Digits(round(CAP_HEIGHT * scale), PLAIN)
        kept = lru_cache(_KEPT)
        self._ground = kept(self._draw_ground)
        self._float = kept(self._draw_float)
        self._shaded_float = kept(self._shade_float)
        self._wake = kept(self._draw_wake)

    def frame(self, view: View) -> Frame:
        """The frame that shows `view`."""
        number_shade = 0 if view.number is None else round(view.number_alpha * _SHADES)
        wake = view.trend * _WAKE_LENGTH * (1.0 - view.number_alpha)
        room = _LINE - 0.5 * _FLOAT_HEIGHT - _EDGE + _TRAVEL * (view.offset if wake > 0 else -view.offset)
        return Frame(
            view.state,
            round(view.offset * _TRAVEL * self.scale),
            round(max(-1.0, min(1.0, view.offset / _TINTED)) * _SHADES),
            round(view.brightness * _SHADES),
            round(max(-room, min(room, wake)) * self.scale),
            view.number if view.number is not None and number_shade else "",
            number_shade,
        )

    def draw(self, surface: pygame.Surface, frame: Frame) -> None:
        """Draw `frame` over the whole surface."""
        surface.blit(self._ground(frame.state), (0, 0))
        if frame.state in ("driving", "waiting"):
            self._show_wake(surface, frame)
            self._show_float(surface, frame)
            self._show_number(surface, frame)

    def _draw_ground(self, state: State) -> pygame.Surface:
        """The plate, and what does not move on it."""
        ground = pygame.Surface(self.size)
        ground.fill(PLATE)
        pygame.draw.rect(ground, RIM, ground.get_rect(), self._thick(1))
        if state == "lost":
            self._show_broken_line(ground)
        elif state == "rest":
            self._show_pause(ground)
        else:
            light = _LINE_LIGHT if state == "driving" else _LINE_DIM
            self._bar(ground, light, (-_LINE_LENGTH / 2, 0), (_LINE_LENGTH, _LINE_WIDTH))
        return ground

    def _show_broken_line(self, surface: pygame.Surface) -> None:
        """The stream is lost: the line is broken, and nothing floats on it."""
        half = _LINE_LENGTH / 2 - _BREAK
        self._bar(surface, _LINE_DIM, (-_LINE_LENGTH / 2, -_BREAK), (half, _LINE_WIDTH * 2))
        self._bar(surface, _LINE_DIM, (_LINE_LENGTH / 2 - half, _BREAK), (half, _LINE_WIDTH * 2))

    def _show_pause(self, surface: pygame.Surface) -> None:
        """In the pits or paused: two upright bars in a gap of the line."""
        half = _PAUSE_GAP / 2
        aside = half + 2 * _PAUSE_WIDTH
        self._bar(surface, _LINE_DIM, (-_LINE_LENGTH / 2, 0), (_LINE_LENGTH / 2 - aside, _LINE_WIDTH))
        self._bar(surface, _LINE_DIM, (aside, 0), (_LINE_LENGTH / 2 - aside, _LINE_WIDTH))
        for left in (-half - _PAUSE_WIDTH, half):
            self._bar(surface, _LINE_DIM, (left, 0), (_PAUSE_WIDTH, _PAUSE_HEIGHT))

    def _bar(
        self, surface: pygame.Surface, light: float, place: tuple[float, float], size: tuple[float, float]
    ) -> None:
        """A bar that begins `place[0]` px from the plate's middle; its middle lies `place[1]` px under the line."""
        (left, down), (width, height) = place, size
        thick = self._thick(height)
        top = self._px(_LINE) + self._px(down) - thick // 2
        start, end = self._px(_MIDDLE + left), self._px(_MIDDLE + left + width)
        pygame.draw.rect(surface, blend(PLATE, PLAIN, light), (start, top, end - start, thick))

    def _show_float(self, surface: pygame.Surface, frame: Frame) -> None:
        line, (width, height) = self._px(_LINE), self.size
        dashed = frame.state == "waiting"
        for solid, part in ((True, (0, 0, width, line)), (False, (0, line, width, height - line))):
            sprite = self._shaded_float(solid and not dashed, dashed, frame.tint, frame.shade)
            surface.set_clip(part)
            surface.blit(sprite, sprite.get_rect(center=(self._px(_MIDDLE), line - frame.up)))
        surface.set_clip(None)

    def _show_wake(self, surface: pygame.Surface, frame: Frame) -> None:
        if frame.wake and frame.state == "driving":
            y = self._px(_LINE) - frame.up
            wake = self._wake(frame.wake)
            top = y if frame.wake > 0 else y - wake.get_height()
            surface.blit(wake, (self._px(_MIDDLE) - wake.get_width() // 2, top))

    def _show_number(self, surface: pygame.Surface, frame: Frame) -> None:
        if frame.number:
            aside = -_NUMBER if frame.number.startswith("+") else _NUMBER
            place = (self._px(_MIDDLE), self._px(_LINE + aside))
            self._digits.draw(surface, frame.number, place, round(255 * frame.number_shade / _SHADES))

    def _shade_float(self, solid: bool, dashed: bool, tint: int, shade: int) -> pygame.Surface:
        sprite = self._float(solid, dashed, tint).copy()
        sprite.fill((255, 255, 255, round(255 * shade / _SHADES)), special_flags=pygame.BLEND_RGBA_MULT)
        return sprite

    def _draw_float(self, solid: bool, dashed: bool, tint: int) -> pygame.Surface:
        colour = blend(PLAIN, AHEAD if tint > 0 else BEHIND, abs(tint) / _SHADES)
        size = (self._px(_FLOAT_WIDTH), self._px(_FLOAT_HEIGHT))
        fine = _clear((size[0] * _FINE, size[1] * _FINE), colour)
        box = fine.get_rect()
        pygame.draw.polygon(fine, (*colour, 255), _lozenge(box))
        if not solid:
            pygame.draw.polygon(fine, (*colour, 0), _lozenge(box, _STROKE * self.scale * _FINE))
        if dashed:
            step = box.width / (4 * _DASHES)
            for gap in range(2 * _DASHES):
                fine.fill((*colour, 0), (round((2 * gap + 0.5) * step), 0, round(step), box.height))
        return pygame.transform.smoothscale(fine, size)

    def _draw_wake(self, length: int) -> pygame.Surface:
        """Hangs from the float's middle, or stands on it where `length` is negative; fades to its tip."""
        width, depth = self._px(_WAKE_WIDTH), self._px(_FLOAT_HEIGHT / 2) + abs(length)
        fine = _clear((width * _FINE, depth * _FINE), PLAIN)
        pygame.draw.polygon(fine, (*PLAIN, 255), [(0, 0), fine.get_rect().topright, fine.get_rect().midbottom])
        cut = pygame.Rect(0, 0, self._px(_FLOAT_WIDTH) * _FINE, self._px(_FLOAT_HEIGHT) * _FINE)
        cut.center = (fine.get_width() // 2, 0)
        pygame.draw.polygon(fine, (*PLAIN, 0), _lozenge(cut, -_WAKE_GAP * self.scale * _FINE))
        sprite = pygame.transform.smoothscale(fine, (width, depth))
        for row in range(depth):
            light = _WAKE_LIGHT * (1.0 - row / depth) ** _WAKE_FADE
            sprite.fill((255, 255, 255, round(255 * light)), (0, row, width, 1), pygame.BLEND_RGBA_MULT)
        return sprite if length > 0 else pygame.transform.flip(sprite, False, True)

    def _px(self, length: float) -> int:
        return round(length * self.scale)

    def _thick(self, length: float) -> int:
        return max(1, self._px(length))


def _clear(size: tuple[int, int], colour: Colour) -> pygame.Surface:
    """A see-through surface that has the colour already, so that smoothing leaves no dark seam."""
    surface = pygame.Surface(size, pygame.SRCALPHA)
    surface.fill((*colour, 0))
    return surface


def _lozenge(box: pygame.Rect, inset: float = 0.0) -> list[tuple[float, float]]:
    """The corners of the lozenge in `box`, its sides moved in by `inset` px."""
    half_width, half_height = box.width / 2, box.height / 2
    left = 1.0 - inset * (half_width**2 + half_height**2) ** 0.5 / (half_width * half_height)
    x, y = box.center
    across, up = half_width * left, half_height * left
    return [(x, y - up), (x + across, y), (x, y + up), (x - across, y)]
