"""What makes a window one of the edge of the eye: on top, without the keyboard, and without the mouse."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Protocol

from coach.overlay.native import sdl
from coach.overlay.native.windows import WindowsEdge, window_calls
from coach.overlay.native.x11 import X11
from coach.overlay.native.x11edge import X11Edge
from coach.overlay.toolkit import pygame


class Edge(Protocol):
    """For one window after another: `hints` before SDL opens it, `adopt` after. None of them raises."""

    def hints(self) -> dict[str, str]:
        """What SDL must be told for the window that it opens next."""
        ...

    def adopt(self) -> None:
        """SDL has opened the window: make it one of the edge."""
        ...

    def lift(self) -> None:
        """Put it on top of all others."""
        ...


class SdlEdge:
    """For all other systems: on top as far as SDL can do it."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say

    def hints(self) -> dict[str, str]:
        """None."""
        return {}

    def adopt(self) -> None:
        """Ask once: the window system keeps it so."""
        try:
            sdl.keep_on_top()
        except OSError as error:
            self._say(f"the overlay may be covered by other windows: {error}")

    def lift(self) -> None:
        """Nothing is left to do."""


def edge_of(x: X11 | None, opacity: float, say: Callable[[str], None]) -> Edge:
    """The one for the window system that SDL uses now. `opacity` 0..1 of the plate; `say` takes what cannot be had."""
    if x is not None:
        return X11Edge(x, say)
    if sys.platform == "win32" and pygame.display.get_driver() == "windows":
        return WindowsEdge(window_calls(), opacity, say)
    return SdlEdge(say)
