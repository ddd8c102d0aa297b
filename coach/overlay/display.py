"""pygame's display, opened and closed so that neither its end nor its absence takes the program along."""

from __future__ import annotations

import atexit
import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager

from coach.overlay.icon import icon
from coach.overlay.monitors import Monitor, found
from coach.overlay.native.x11 import X11
from coach.overlay.toolkit import pygame
from coach.vocabulary.errors import WorkError

_DRIVER, _PLACE = "SDL_VIDEODRIVER", "SDL_VIDEO_WINDOW_POS"
_LASTING = {
    "SDL_NO_SIGNAL_HANDLERS": "1",  # Ctrl-C is the command's own
    "SDL_VIDEO_MINIMIZE_ON_FOCUS_LOSS": "0",  # a full-screen window stays where the simulator is clicked
}
"""Hints that SDL reads at any time, so that they stay set."""
_HINTS = {
    "SDL_FRAMEBUFFER_ACCELERATION": "0",  # a plain surface costs less than textures for so small a window
    "SDL_VIDEO_X11_NET_WM_BYPASS_COMPOSITOR": "0",  # or the whole desktop would lose its compositor
    "SDL_WINDOWS_DPI_AWARENESS": "permonitorv2",  # or Windows would stretch the picture, and px would not be px
}
_MEND = "start it from a desktop, or choose --no-overlay"


class Display:
    """Opens pygame's display. WorkError, one line, where there is no screen. All is for the thread that opened it.

    `x11` is our own connection where SDL uses X11. `surface` is the window's, after `open`.
    """

    def __init__(self) -> None:
        choose_driver()
        for name, value in _LASTING.items():
            os.environ.setdefault(name, value)
        self._closed = False
        self.x11: X11 | None = None
        self.surface: pygame.Surface
        with self._opening(), hinted(_HINTS):
            pygame.display.init()
            self.x11 = X11() if pygame.display.get_driver() == "x11" else None

    @property
    def gone(self) -> bool:
        """Whether the display went away: nothing may be called on it any more."""
        return self.x11 is not None and self.x11.gone

    def monitors(self) -> list[Monitor]:
        """The monitors now, at least one."""
        return found(self.x11)

    def open(
        self,
        size: tuple[int, int],
        at: tuple[int, int],
        flags: int,
        hints: Mapping[str, str] = {},
        heard: Iterable[int] = (),
        screen: int = 0,
    ) -> None:
        """Open the window, or another in its place: `size` and `at` px, pygame's `flags`, SDL's `hints`, the events
        that are `heard`, and the number of SDL's `screen` for a full-screen one. WorkError where it cannot be."""
        with self._opening(), hinted(_HINTS | dict(hints)), hinted({_PLACE: f"{at[0]},{at[1]}"}, always=True):
            pygame.display.set_caption("Cornerword")
            pygame.display.set_icon(icon())
            self.surface = pygame.display.set_mode(size, flags, display=screen)
            if self.x11 is not None:
                self.x11.guard_window()
        pygame.event.set_blocked(None)
        pygame.event.set_allowed(list(heard))

    def close(self) -> None:
        """Close it; a second time does nothing."""
        if self._closed:
            return
        self._closed = True
        if self.gone:
            atexit.unregister(pygame.quit)  # SDL would wait for the display for ever
            return
        if self.x11 is not None:
            self.x11.close()
        pygame.display.quit()

    @contextmanager
    def _opening(self) -> Iterator[None]:
        try:
            yield
        except (pygame.error, OSError) as error:
            self.close()
            raise WorkError(f"no screen ({error}): the overlay is off; {_MEND}") from error


def choose_driver() -> None:
    """On Linux the window needs X11 (or XWayland): Wayland's own protocol keeps no window on top, and SDL's driver for
    it has crashed whole programs. Any other driver that the person set stays.
    """
    if not sys.platform.startswith("linux") or "wayland" not in (os.environ.get(_DRIVER) or "wayland"):
        return
    if os.environ.get("DISPLAY"):
        os.environ[_DRIVER] = "x11"
        return
    why = "Wayland without XWayland" if os.environ.get("WAYLAND_DISPLAY") else "DISPLAY is not set"
    raise WorkError(f"no screen ({why}): the overlay is off; {_MEND}")


@contextmanager
def hinted(hints: Mapping[str, str], always: bool = False) -> Iterator[None]:
    """SDL reads its hints from the environment. What is set there already stays, unless `always`; after the block all
    is as before, so that no other window and no other process hears of it."""
    before = {name: os.environ.get(name) for name in hints}
    try:
        for name, value in hints.items():
            if always or before[name] is None:
                os.environ[name] = value
        yield
    finally:
        for name, old in before.items():
            if old is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = old
