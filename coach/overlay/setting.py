"""Setting of the text: one line at the digits' height where it fits, else two lines, a little smaller, else nothing."""

from __future__ import annotations

from functools import lru_cache
from math import ceil
from typing import NamedTuple

from coach.overlay.grounds import LINE, WIDTH
from coach.overlay.letters import Letters
from coach.overlay.sprites import WHITE, clear
from coach.overlay.toolkit import pygame

_ROOM = WIDTH - 16
"""px that a line of text may be wide at scale 1."""
_FROM_LINE = 51
"""px from the waterline to the text's middle."""
_APART = 30
"""px from one line's middle to the next one's: between a foot and the next head a stem is free, as ISO 15008 has it."""
_SMALLER = (20 / 26, 2 / 3)
"""Shares of the digits' height that two lines are set in: 23 arcmin where digits have 30, and never under 20."""
_KEPT = 8


class Setting:
    """Texts in white, at one scale; `cap_height` px at scale 1 is that of digits. Nothing is set lower than `least`
    px."""

    def __init__(self, scale: float, cap_height: int, least: int = 0) -> None:
        self._scale = scale
        smaller = (round(ceil(cap_height * share) * scale) for share in _SMALLER)
        heights = (round(cap_height * scale), *smaller)
        self._whole = heights[0]
        self._letters = {height: Letters(height, WHITE) for height in heights if height >= least}
        self._set = lru_cache(_KEPT)(self._render)

    def fits(self, text: str) -> bool:
        """Whether it can be shown at a height that is read."""
        return self._set(text) is not None

    def nearest(self, text: str) -> float:
        """px at scale 1 that stay free between the waterline and a text that fits, above it or below."""
        made = self._set(text)
        return 0.0 if made is None else min(made.top, -made.top - made.shape.get_height()) / self._scale + _FROM_LINE

    def shape(self, text: str, above: bool) -> tuple[pygame.Surface, int]:
        """A text that fits, and the px of its upper edge under the waterline."""
        made = self._set(text)
        if made is None:
            raise ValueError(f"{text!r} does not fit")
        return made.shape, round((-_FROM_LINE if above else _FROM_LINE) * self._scale) + made.top

    def _render(self, text: str) -> _Set | None:
        width, half = round(_ROOM * self._scale), round(LINE * self._scale)
        for height, letters in self._letters.items():
            lines = (text,) if height == self._whole else _broken(text, letters)
            if max(letters.width(line) for line in lines) > width:
                continue
            paper = clear((width, 2 * half))
            first = -_APART * self._scale * (len(lines) - 1) / 2
            for number, line in enumerate(lines):
                middle = half + round(first + number * _APART * self._scale)
                letters.draw(paper, line, (width // 2, middle), 255)
            inked = paper.get_bounding_rect()
            inked.left, inked.width = 0, width
            return _Set(paper.subsurface(inked).copy(), inked.top - half)
        return None


class _Set(NamedTuple):
    shape: pygame.Surface
    top: int
    """px of its upper edge under the text's middle"""


def _broken(text: str, letters: Letters) -> tuple[str, ...]:
    """In two lines, as even as the words allow."""
    words = text.split()
    breaks = [(" ".join(words[:at]), " ".join(words[at:])) for at in range(1, len(words))]
    return min(breaks, key=lambda lines: max(letters.width(line) for line in lines), default=(text,))
