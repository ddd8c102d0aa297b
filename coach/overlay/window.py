"""The overlay's window: borderless, above the simulator's borderless window, and without the keyboard."""

from __future__ import annotations

import atexit
import ctypes
import os
import sys

from coach.overlay.native.x11 import X11Window
from coach.overlay.toolkit import pygame
from coach.vocabulary.errors import WorkError

_HINTS = {
    "SDL_NO_SIGNAL_HANDLERS": "1",  # Ctrl-C is the command's own
    "SDL_FRAMEBUFFER_ACCELERATION": "0",  # a plain surface costs less than textures for so small a window
    "SDL_VIDEO_X11_NET_WM_BYPASS_COMPOSITOR": "0",  # or the whole desktop would lose its compositor
    "SDL_X11_FORCE_OVERRIDE_REDIRECT": "1",  # no window manager puts it below a full-screen simulator
}
_DRIVER, _PLACE = "SDL_VIDEODRIVER", "SDL_VIDEO_WINDOW_POS"
_FROM_TOP = 0.015
"""Share of the screen's height that stays free above the window by default."""
_MEND = "start it from a desktop, or choose --no-overlay"


class OverlayWindow:
    """Opens at `place` (px from the screen's upper left corner; None: top centre) in the given size (px).

    WorkError where there is no screen. All methods are for the thread that opened it.
    """

    def __init__(self, size: tuple[int, int], place: tuple[int, int] | None = None) -> None:
        choose_driver()
        for name, value in _HINTS.items():
            os.environ.setdefault(name, value)
        self._native: X11Window | None = None
        try:
            pygame.display.init()
            self._native = X11Window() if pygame.display.get_driver() == "x11" else None
            self.surface = _open(size, place)
            if self._native is not None:
                self._native.adopt(*_x11_ids())
        except (pygame.error, OSError) as error:
            self.close()
            raise WorkError(f"no screen ({error}): the overlay is off; {_MEND}") from error
        pygame.event.set_blocked(None)
        pygame.event.set_allowed([pygame.QUIT, pygame.WINDOWCLOSE, pygame.WINDOWEXPOSED])
        self._closed = False

    @property
    def ended(self) -> str | None:
        """Why there is nothing to draw on any more, None as long as there is."""
        if self._native is not None and self._native.gone:
            return "the display went away"
        return "its window was closed" if self._closed else None

    def exposed(self) -> bool:
        """Hear what the window system says; returns whether the picture must be drawn again."""
        again = False
        for event in pygame.event.get((pygame.QUIT, pygame.WINDOWCLOSE, pygame.WINDOWEXPOSED)):
            if event.type == pygame.WINDOWEXPOSED:
                again = True
            else:
                self._closed = True
        return again

    def show(self) -> None:
        """Bring what was drawn on `surface` to the screen."""
        pygame.display.flip()

    def lift(self) -> None:
        """Put the window on top again: a simulator that is clicked comes before it otherwise."""
        if self._native is not None:
            self._native.lift()

    def close(self) -> None:
        """Close it; a second time does nothing."""
        native, self._native = self._native, None
        if native is not None and native.gone:
            atexit.unregister(pygame.quit)  # SDL would wait for the display for ever
            return
        if native is not None:
            native.close()
        pygame.display.quit()


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


def _open(size: tuple[int, int], place: tuple[int, int] | None) -> pygame.Surface:
    screen = pygame.display.get_desktop_sizes()[0]
    left, top = place if place is not None else ((screen[0] - size[0]) // 2, round(_FROM_TOP * screen[1]))
    before = os.environ.get(_PLACE)
    os.environ[_PLACE] = f"{left},{top}"
    try:
        pygame.display.set_caption("Cornerword")
        return pygame.display.set_mode(size, pygame.NOFRAME)
    finally:
        if before is None:
            del os.environ[_PLACE]
        else:
            os.environ[_PLACE] = before


def _x11_ids() -> tuple[int, int]:
    """The window's id, and the address of SDL's connection to the display."""
    info = pygame.display.get_wm_info()
    name, pointer = ctypes.pythonapi.PyCapsule_GetName, ctypes.pythonapi.PyCapsule_GetPointer
    name.restype, name.argtypes = ctypes.c_char_p, [ctypes.py_object]
    pointer.restype, pointer.argtypes = ctypes.c_void_p, [ctypes.py_object, ctypes.c_char_p]
    display: int = pointer(info["display"], name(info["display"]))
    return info["window"], display
