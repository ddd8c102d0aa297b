"""Draws a view on a plain software surface: a float that rides above the waterline when ahead and under it when behind.

What is above the line is solid, what is under it hollow, so that shape and place carry the sign as well as colour; at
no delta the float is grey and lies in the line. Its wake trails behind it: below while gaining, above while losing, the
longer the quicker. A text stands on the other side of the line than the float; the wake gives way to it, and the float
comes no nearer than it can without touching: one thing to read at a time. The topic's sign lies at the line's left end,
the drop that notes a press above its right one, where neither float nor text comes. Sprites are kept.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from coach.overlay import sprites
from coach.overlay.grounds import HEIGHT as HEIGHT
from coach.overlay.grounds import LINE, MIDDLE, Ground
from coach.overlay.grounds import WIDTH as WIDTH
from coach.overlay.palette import DEFAULT, Palette, blend
from coach.overlay.setting import Setting
from coach.overlay.signs import Sign
from coach.overlay.toolkit import pygame
from coach.overlay.view import State, View

CAP_HEIGHT = 26
"""px of the digits at scale 1: 30 arcmin at 0.7 m on a 27-inch screen of 2560 x 1440, where 20 are 18 px."""

_TRAVEL = 46
"""px that the float rides up or down at most."""
_TINTED = 0.12
"""Offset (0..1) from which the float has its full colour; at 0 it is grey."""
_WAKE_LENGTH, _WAKE_STEP = 44, 2
"""px that it reaches at most, and the steps that it grows in: its tip has faded, so no step is seen"""
_EDGE = 6
"""px that stay free at the plate's edge."""
_CLEAR = 3
"""px between float and text at least."""
_NOTED = (MIDDLE + 96, LINE - 13)
"""px: the middle of the drop."""
_NOTED_LIGHT = 0.75
_SHADES = 24
"""steps of brightness and of colour: no step is seen, and few sprites are kept"""
_KINDS = 4
_KEPT_FLOATS, _KEPT_WAKES, _KEPT_TEXTS = 48, 48, 8
"""sprites that are kept: at scale 1 some kilobytes each, sixteen times as much at scale 4"""


class Frame(NamedTuple):
    """A view in whole pixels and steps. The picture depends on nothing else: equal frames are equal pictures."""

    state: State
    sign: Sign | None = None
    floats: bool = False
    up: int = 0
    """px of the float above the line"""
    tint: int = 0
    """steps from grey to the full colour, above 0 = ahead"""
    shade: int = 0
    """steps of brightness"""
    wake: int = 0
    """steps of its length, above 0 = gaining: it trails below"""
    text: str = ""
    text_shade: int = 0
    above: bool = False
    noted: int = 0
    """steps of the drop's light"""


class Piece(NamedTuple):
    """A part of a sprite, and the place that it fills."""

    sprite: pygame.Surface
    place: tuple[int, int, int, int]
    part: tuple[int, int, int, int]


Layer = list[Piece]


class Drawing:
    """Draws at one scale. `size` (px) is what a surface must have. `opacity` 0..1 is the plate's, where a surface has
    an alpha channel; all that stands on the plate is opaque. Words that would be lower than `least` px are not shown.
    """

    def __init__(self, scale: float = 1.0, palette: Palette = DEFAULT, opacity: float = 1.0, least: int = 0) -> None:
        self.scale = scale
        self.size = (round(WIDTH * scale), round(HEIGHT * scale))
        self._palette = palette
        self._ground = Ground(self.size, scale, palette, opacity)
        self._setting = Setting(scale, CAP_HEIGHT, least)
        self._paper = pygame.Surface(self.size, pygame.SRCALPHA)
        self._surface: pygame.Surface | None = None
        self._before: tuple[pygame.Surface, list[Layer]] | None = None
        self._shapes = lru_cache(_KINDS)(lambda solid, dashed: sprites.float_shape(scale, solid, dashed))
        self._float = lru_cache(_KEPT_FLOATS)(self._paint_float)
        self._wake = lru_cache(_KEPT_WAKES)(
            lambda steps: sprites.wake(scale, round(steps * _WAKE_STEP * scale), palette.plain)
        )
        self._text = lru_cache(_KEPT_TEXTS)(self._paint_text)
        self._drop = lru_cache(_SHADES)(self._paint_drop)

    def frame(self, view: View) -> Frame:
        """The frame that shows `view`."""
        noted = round(view.noted * _SHADES)
        sign = view.sign if view.state not in ("silent", "lost") else None
        if view.state not in ("driving", "waiting"):
            return Frame(view.state, sign, noted=noted)
        text, shade, alpha = "", 0, 0.0
        if view.state == "driving" and view.text is not None and self._setting.fits(view.text):
            shade = round(view.text_alpha * _SHADES)
            text, alpha = (view.text, view.text_alpha) if shade else ("", 0.0)
        above = bool(text) and view.text_above
        if not view.timed and view.state == "driving":
            return Frame(view.state, sign, text=text, text_shade=shade, above=above, noted=noted)
        offset = self._beside(view.offset, text, alpha, above)
        wake = 0.0 if view.state == "waiting" else view.trend * _WAKE_LENGTH * (1.0 - alpha)
        room = LINE - 0.5 * sprites.FLOAT_HEIGHT - _EDGE + _TRAVEL * (offset if wake > 0 else -offset)
        return Frame(
            view.state,
            sign,
            True,
            round(offset * _TRAVEL * self.scale),
            round(max(-1.0, min(1.0, view.offset / _TINTED)) * _SHADES),
            round(view.brightness * _SHADES),
            round(max(-room, min(room, wake)) / _WAKE_STEP),
            text,
            shade,
            above,
            noted,
        )

    def draw(self, surface: pygame.Surface, frame: Frame) -> list[pygame.Rect]:
        """Draw `frame`; returns where the picture has changed since the frame that was last drawn on this surface:
        everywhere the first time, and after `forget`."""
        see_through = surface.get_masks()[3] != 0
        ground = self._ground.of(frame.state, frame.sign, see_through)
        layers = [self._lay_wake(frame), self._lay_float(frame), self._lay_text(frame), self._lay_drop(frame)]
        before = self._before if surface is self._surface else None
        if before is None or before[0] is not ground:
            changed = [surface.get_rect()]
        else:
            changed = [_around(*pair) for pair in zip(before[1], layers, strict=True) if pair[0] != pair[1]]
        paper = self._paper if see_through else surface
        for rect in changed:
            paper.set_clip(rect)
            paper.blit(ground, (0, 0))
            for layer in layers:
                for piece in layer:
                    paper.blit(piece.sprite, piece.place, piece.part)
        paper.set_clip(None)
        if see_through:
            self._copy(surface, changed)
        self._surface, self._before = surface, (ground, layers)
        return changed

    def forget(self) -> None:
        """The surface no longer holds what was drawn: it is another one, or something else came over it."""
        self._surface = self._before = None

    def _copy(self, surface: pygame.Surface, rects: list[pygame.Rect]) -> None:
        """Bring the paper to a surface with alpha. A window's does not blend it as pygame's own surfaces do."""
        self._paper.set_alpha(None)  # as it is
        for rect in rects:
            surface.blit(self._paper, rect, rect)
        self._paper.set_alpha(255)

    def _beside(self, offset: float, text: str, alpha: float, above: bool) -> float:
        """Where the float may ride beside a text: not into it; the fainter the text, the less it counts."""
        if not text:
            return offset
        free = self._setting.nearest(text) - sprites.FLOAT_HEIGHT / 2 - _CLEAR
        most = max(0.0, free) / _TRAVEL + (1.0 - alpha)
        return min(offset, most) if above else max(offset, -most)

    def _lay_float(self, frame: Frame) -> Layer:
        """In two halves: what is above the line, and what is below it."""
        if not frame.floats:
            return []
        line, dashed = self._px(LINE), frame.state == "waiting"
        upper = self._float(not dashed, dashed, frame.tint, frame.shade)
        lower = self._float(False, dashed, frame.tint, frame.shade)
        width, height = upper.get_size()
        left, top = self._px(MIDDLE) - width // 2, line - frame.up - height // 2
        dry = max(0, min(height, line - top))
        halves = ((upper, 0, dry), (lower, dry, height - dry))
        return [
            Piece(sprite, (left, top + begin, width, rows), (0, begin, width, rows))
            for sprite, begin, rows in halves
            if rows
        ]

    def _lay_wake(self, frame: Frame) -> Layer:
        if not frame.wake:
            return []
        wake = self._wake(frame.wake)
        width, height = wake.get_size()
        y = self._px(LINE) - frame.up
        return _whole(wake, self._px(MIDDLE) - width // 2, y if frame.wake > 0 else y - height)

    def _lay_text(self, frame: Frame) -> Layer:
        if not frame.text:
            return []
        text, down = self._text(frame.text, frame.text_shade, frame.above)
        return _whole(text, self._px(MIDDLE) - text.get_width() // 2, self._px(LINE) + down)

    def _lay_drop(self, frame: Frame) -> Layer:
        if not frame.noted:
            return []
        drop = self._drop(frame.noted)
        return _whole(drop, *drop.get_rect(center=(self._px(_NOTED[0]), self._px(_NOTED[1]))).topleft)

    def _paint_float(self, solid: bool, dashed: bool, tint: int, shade: int) -> pygame.Surface:
        palette = self._palette
        colour = blend(palette.plain, palette.ahead if tint > 0 else palette.behind, abs(tint) / _SHADES)
        return sprites.painted(self._shapes(solid, dashed), blend(palette.plate, colour, shade / _SHADES))

    def _paint_text(self, text: str, shade: int, above: bool) -> tuple[pygame.Surface, int]:
        """The text in its light, and how many px under the line it begins."""
        shape, down = self._setting.shape(text, above)
        return sprites.painted(shape, blend(self._palette.plate, self._palette.plain, shade / _SHADES)), down

    def _paint_drop(self, light: int) -> pygame.Surface:
        colour = blend(self._palette.plate, self._palette.plain, _NOTED_LIGHT * light / _SHADES)
        return sprites.painted(sprites.drop(self.scale), colour)

    def _px(self, length: float) -> int:
        return round(length * self.scale)


def _whole(sprite: pygame.Surface, left: int, top: int) -> Layer:
    size = sprite.get_size()
    return [Piece(sprite, (left, top, *size), (0, 0, *size))]


def _around(*layers: Layer) -> pygame.Rect:
    """Where any of the layers has something."""
    places = [pygame.Rect(piece.place) for layer in layers for piece in layer]
    return places[0].unionall(places[1:])
