"""Views and their pictures, as the tests of what is drawn need them. No screen is needed: it is a plain surface."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from coach.overlay.drawing import Drawing
from coach.overlay.palette import FAINT
from coach.overlay.scales import number_of, offset_of, trend_of
from coach.overlay.signs import SIGNS
from coach.overlay.toolkit import pygame
from coach.overlay.view import View

Pixels = npt.NDArray[np.uint8]
"""rows x columns x (red, green, blue)"""
Mask = npt.NDArray[np.bool_]

SILENT, WAITING, PIT, PAUSED, LOST = (
    View(state, brightness=FAINT) for state in ("silent", "waiting", "pit", "paused", "lost")
)
BARE = View("driving", timed=False)
"""A plate with its line and nothing else."""
WORDS = "Downshift later"


def driving(delta: float, slope: float = 0.0, number: bool = False) -> View:
    offset = offset_of(delta)
    text = number_of(delta) if number else None
    return View("driving", offset, 0.7 + 0.3 * abs(offset), trend_of(slope), text, float(number), offset < 0.0)


EVERY = {
    "silent": SILENT,
    "waiting": WAITING,
    "pit": PIT,
    "paused": PAUSED,
    "lost": LOST,
    "times hidden": BARE,
    "level": driving(0.0),
    "ahead": driving(-0.5),
    "behind": driving(0.5),
    "ahead, gaining": driving(-0.5, -0.1),
    "ahead, losing": driving(-0.5, 0.1),
    "behind, gaining": driving(0.5, -0.1),
    "behind, losing": driving(0.5, 0.1),
    "ahead, number": driving(-0.5, number=True),
    "behind, number": driving(0.5, number=True),
    "words": View("driving", timed=False, text=WORDS, text_alpha=1.0),
    **{f"topic {sign}": View("driving", timed=False, sign=sign) for sign in SIGNS},
}
"""One of each thing that is told apart by shape."""


def picture(view: View, scale: float = 1.0) -> Pixels:
    drawing = drawing_at(scale)
    surface = pygame.Surface(drawing.size)
    drawing.draw(surface, drawing.frame(view))
    return pixels_of(surface)


@cache
def drawing_at(scale: float) -> Drawing:
    """One for all tests: to find the font's size takes longer than to draw."""
    return Drawing(scale)


@cache
def bare(scale: float) -> Pixels:
    return picture(BARE, scale)


def pixels_of(surface: pygame.Surface) -> Pixels:
    return pygame.surfarray.array3d(surface).transpose(1, 0, 2)


def differing(one: Pixels, other: Pixels) -> Mask:
    """Where two pictures differ by more than rounding."""
    different: Mask = np.abs(one.astype(int) - other).max(axis=2) > 8
    return different


def drawn(view: View, scale: float = 1.0) -> Mask:
    """Where the float, its wake and the text are: what differs from a plate on which nothing floats."""
    return differing(picture(view, scale), bare(scale))


def rows(mask: Mask) -> tuple[int, int]:
    """First and last row of a mask."""
    found = np.flatnonzero(mask.any(axis=1))
    return int(found[0]), int(found[-1])


def columns(mask: Mask) -> tuple[int, int]:
    """First and last column of a mask."""
    return rows(mask.T)


def middle(scale: float = 1.0) -> int:
    """The row of the waterline."""
    return drawing_at(scale).size[1] // 2
