"""The plate and what does not move on it: the waterline, whose form tells the state, and the topic's sign.

silent: a line of dots, no water yet; waiting: a dim line; driving: a line; pit: the line dips into a lay-by; paused:
two posts stand in a gap of it; lost: it is broken, its halves apart.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

from coach.overlay.palette import FAINT, Colour, Palette, blend
from coach.overlay.signs import DOT, GLYPHS, STROKE, Point, Sign
from coach.overlay.sprites import clear, fineness, painted
from coach.overlay.toolkit import pygame
from coach.overlay.view import State

WIDTH, HEIGHT = 224, 172
"""px of the plate at scale 1."""
MIDDLE, LINE = WIDTH // 2, HEIGHT // 2
"""px of the plate's middle from the left, and of the waterline from above."""
_REACH = 102
"""px from the middle to either end of the line."""
_LINE_WIDTH, _THICK = 2, 4
_LIGHT = 0.55
"""of the line while driving; at rest it is fainter."""
_POST_WIDTH, _POST_HEIGHT, _POST_GAP = 12, 40, 14
_BREAK = 9
"""px that the two halves of a broken line stand apart, upwards and sidewards."""
_DOT, _DOTS = 8, 9
"""px across a dot, and how many of them a line that waits for telemetry has."""
_DIP, _DIP_SLOPE, _DIP_HALF = 28, 20, 34
"""px: depth of the lay-by, length of its ramps, half of its bottom."""
SIGN = 32
"""px of a sign's box: 37 arcmin at scale 1."""
_SIGN_GAP = 8
_KEPT = 16


class Ground:
    """Plates in one size and one palette, each drawn once. With `opacity` below 1 they are made to be seen through: the
    plate's colour is multiplied by it (premultiplied alpha), all else is opaque."""

    def __init__(self, size: tuple[int, int], scale: float, palette: Palette, opacity: float) -> None:
        self._size, self._scale, self._palette = size, scale, palette
        self._alpha = max(1, min(255, round(255 * opacity)))
        self.of = lru_cache(_KEPT)(self._draw)

    def _draw(self, state: State, sign: Sign | None, see_through: bool) -> pygame.Surface:
        palette = self._palette
        ground = pygame.Surface(self._size, pygame.SRCALPHA)
        share = self._alpha / 255 if see_through else 1.0
        red, green, blue = (round(value * share) for value in palette.plate)
        ground.fill((red, green, blue, round(255 * share)))
        pygame.draw.rect(ground, palette.rim, ground.get_rect(), self._thick(1))
        left = -_REACH if sign is None else _SIGN_GAP + SIGN - _REACH
        if state == "silent":
            self._dots(ground)
        elif state == "pit":
            self._lay_by(ground, left)
        elif state == "paused":
            self._posts(ground, left)
        elif state == "lost":
            self._broken(ground)
        else:
            self._bar(ground, _LIGHT if state == "driving" else FAINT, (left, 0), (_REACH - left, _LINE_WIDTH))
        if sign is not None:
            glyph = painted(sign_shape(sign, self._px(SIGN)), self._tone(FAINT))
            ground.blit(glyph, glyph.get_rect(midleft=(self._px(MIDDLE - _REACH), self._px(LINE))))
        ground.set_alpha(None)  # from now on it is copied, not laid over what was there
        return ground

    def _dots(self, ground: pygame.Surface) -> None:
        for dot in range(_DOTS):
            middle = -_REACH + _DOT / 2 + dot * (2 * _REACH - _DOT) / (_DOTS - 1)
            self._bar(ground, FAINT, (middle - _DOT / 2, 0), (_DOT, _DOT))

    def _broken(self, ground: pygame.Surface) -> None:
        half = _REACH - _BREAK
        self._bar(ground, FAINT, (-_REACH, -_BREAK), (half, _THICK))
        self._bar(ground, FAINT, (_REACH - half, _BREAK), (half, _THICK))

    def _posts(self, ground: pygame.Surface, left: float) -> None:
        half = _POST_GAP / 2
        aside = half + 2 * _POST_WIDTH
        self._bar(ground, FAINT, (left, 0), (-aside - left, _LINE_WIDTH))
        self._bar(ground, FAINT, (aside, 0), (_REACH - aside, _LINE_WIDTH))
        for post in (-half - _POST_WIDTH, half):
            self._bar(ground, FAINT, (post, 0), (_POST_WIDTH, _POST_HEIGHT))

    def _lay_by(self, ground: pygame.Surface, left: float) -> None:
        ramp = _DIP_HALF + _DIP_SLOPE
        half = _THICK / 2  # of the round ends
        way = [(left + half, 0), (-ramp, 0), (-_DIP_HALF, _DIP), (_DIP_HALF, _DIP), (ramp, 0), (_REACH - half, 0)]
        larger = fineness(self._scale)
        shape = clear((self._size[0] * larger, self._size[1] * larger))
        fine = self._scale * larger
        points = [((MIDDLE + right) * fine, (LINE + down) * fine) for right, down in way]
        _stroke(shape, points, _THICK * fine)
        ground.blit(painted(pygame.transform.smoothscale(shape, self._size), self._tone(FAINT)), (0, 0))

    def _bar(
        self, surface: pygame.Surface, light: float, place: tuple[float, float], size: tuple[float, float]
    ) -> None:
        """A bar that begins `place[0]` px from the plate's middle; its middle lies `place[1]` px under the line."""
        (left, down), (width, height) = place, size
        thick = self._thick(height)
        top = self._px(LINE) + self._px(down) - thick // 2
        start, end = self._px(MIDDLE + left), self._px(MIDDLE + left + width)
        pygame.draw.rect(surface, self._tone(light), (start, top, end - start, thick))

    def _tone(self, light: float) -> Colour:
        return blend(self._palette.plate, self._palette.plain, light)

    def _px(self, length: float) -> int:
        return round(length * self._scale)

    def _thick(self, length: float) -> int:
        return max(1, self._px(length))


def sign_shape(sign: Sign, side: int) -> pygame.Surface:
    """The sign in white, `side` px wide and high."""
    box, glyph = side * fineness(side / SIGN), GLYPHS[sign]
    fine = clear((box, box))

    def placed(points: tuple[Point, ...]) -> list[Point]:
        return [(right * box, down * box) for right, down in points]

    for fill in glyph.fills:
        pygame.draw.polygon(fine, (255, 255, 255, 255), placed(fill))
    for stroke in glyph.strokes:
        _stroke(fine, placed(stroke), STROKE * box)
    for middle in placed(glyph.dots):
        pygame.draw.circle(fine, (255, 255, 255, 255), middle, DOT * box)
    return pygame.transform.smoothscale(fine, (side, side))


def _stroke(surface: pygame.Surface, points: list[Point], width: float) -> None:
    """A line through `points` with round ends: pygame's own wide lines are slanted at theirs."""
    for begin, end in pairwise(points):
        across = pygame.Vector2(begin[1] - end[1], end[0] - begin[0])
        across.scale_to_length(width / 2)
        corners = [
            *(pygame.Vector2(begin) + across, pygame.Vector2(end) + across),
            *(pygame.Vector2(end) - across, pygame.Vector2(begin) - across),
        ]
        pygame.draw.polygon(surface, (255, 255, 255, 255), corners)
    for point in points:
        pygame.draw.circle(surface, (255, 255, 255, 255), point, width / 2)
