"""X11: a window above a full-screen simulator, through which clicks go, and which never has the keyboard."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache
from typing import Any

from coach.overlay.native.x11 import X11

_LIBRARY = "libXfixes.so.3"
_INPUT = 2
"""ShapeInput of X11/extensions/shape.h: where a window takes the mouse"""
_NOW = 0
"""CurrentTime of X.h"""


class X11Edge:
    """No window manager manages it (override-redirect), so none puts it below a full-screen window, which the EWMH
    places above all that is kept on top; and nothing keeps it on top but raising it again."""

    def __init__(self, x11: X11, say: Callable[[str], None]) -> None:
        self._x11 = x11
        self._say = say
        self._window = 0
        self._focus_before = (0, 0)
        self._told = False

    def hints(self) -> dict[str, str]:
        """With pixels that have alpha where a compositor mixes them; elsewhere they would lie on black."""
        hints = {"SDL_X11_FORCE_OVERRIDE_REDIRECT": "1"}
        if self._x11.answers:
            self._focus_before = self._x11.focus()
            visual = self._x11.alpha_visual() if self._x11.composited() else None
            if visual is not None:
                hints["SDL_VIDEO_X11_WINDOW_VISUALID"] = f"{visual:#x}"
        return hints

    def adopt(self) -> None:
        """Without a window manager, SDL has taken the keyboard: it goes back to whom it was with."""
        self._window = self._x11.guard_window()
        if not self._x11.answers:
            return
        if self._x11.focus()[0] == self._window:
            self._x11.x.XSetInputFocus(self._x11.display, *self._focus_before, _NOW)
        try:
            _let_clicks_through(self._x11.display, self._window)
        except OSError as error:
            if not self._told:
                self._say(f"clicks on the overlay do not reach what lies under it: {error}")
            self._told = True
        self.lift()

    def lift(self) -> None:
        """Put it on top of all others, without giving it the keyboard."""
        if self._x11.answers:
            self._x11.x.XRaiseWindow(self._x11.display, self._window)
            self._x11.x.XSync(self._x11.display, 0)


def _let_clicks_through(display: int, window: int) -> None:
    """The region in which the window takes the mouse becomes empty. OSError where the X Fixes extension is missing."""
    fixes = _library()
    event, error = ctypes.c_int(), ctypes.c_int()
    if not fixes.XFixesQueryExtension(display, ctypes.byref(event), ctypes.byref(error)):
        raise OSError("the X server lacks the XFIXES extension")
    major, minor = ctypes.c_int(2), ctypes.c_int(0)
    fixes.XFixesQueryVersion(display, ctypes.byref(major), ctypes.byref(minor))  # regions must be asked for by version
    region = fixes.XFixesCreateRegion(display, None, 0)
    fixes.XFixesSetWindowShapeRegion(display, window, _INPUT, 0, 0, region)
    fixes.XFixesDestroyRegion(display, region)


@cache
def _library() -> Any:
    fixes = ctypes.CDLL(_LIBRARY)
    display, number, xid, where = ctypes.c_void_p, ctypes.c_int, ctypes.c_ulong, ctypes.c_void_p
    fixes.XFixesQueryExtension.argtypes = [display, where, where]
    fixes.XFixesQueryVersion.argtypes = [display, where, where]
    fixes.XFixesCreateRegion.argtypes, fixes.XFixesCreateRegion.restype = [display, where, number], xid
    fixes.XFixesSetWindowShapeRegion.argtypes = [display, xid, number, number, number, xid]
    fixes.XFixesSetWindowShapeRegion.restype = None
    fixes.XFixesDestroyRegion.argtypes, fixes.XFixesDestroyRegion.restype = [display, xid], None
    return fixes
