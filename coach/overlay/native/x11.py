"""X11: keeps the window above a full-screen simulator, and keeps the program alive when the display goes away.

Xlib calls `exit` when a connection breaks or a request fails; with these handlers neither ends the program. They are
the process's, as Xlib has it, and stay for its whole life.
"""

from __future__ import annotations

import ctypes
from functools import cache
from typing import Any

_LIBRARY = "libX11.so.6"
_Display = ctypes.c_void_p
_broken: set[int] = set()
"""addresses of displays whose connection broke"""


def _note_broken(display: int) -> int:
    _broken.add(display)
    return 0


def _stay(display: int, data: int) -> None:
    """In place of `exit`."""


def _go_on(display: int, event: int) -> int:
    """A request failed, as one to a window that was just closed: of no consequence."""
    return 0


_ON_BROKEN = ctypes.CFUNCTYPE(ctypes.c_int, _Display)(_note_broken)
_ON_EXIT = ctypes.CFUNCTYPE(None, _Display, ctypes.c_void_p)(_stay)
_ON_ERROR = ctypes.CFUNCTYPE(ctypes.c_int, _Display, ctypes.c_void_p)(_go_on)


class X11Window:
    """One window of this process, by a connection of its own. OSError where there is no Xlib or no display."""

    def __init__(self) -> None:
        self._x = _library()
        self._display: int | None = self._x.XOpenDisplay(None)
        if self._display is None:
            raise OSError("the X display does not answer")
        self._focus_before = self._focus()
        self._window = 0
        self._guarded: set[int] = set()
        self._guard(self._display)

    def adopt(self, window: int, sdl_display: int) -> None:
        """SDL has opened the window, by its connection at the address `sdl_display`.

        Without a window manager it has taken the keyboard too: that goes back to whom it was with.
        """
        self._window = window
        self._guard(sdl_display)
        if self._focus()[0] == window:
            self._x.XSetInputFocus(self._display, *self._focus_before, 0)
        self.lift()

    @property
    def gone(self) -> bool:
        """Whether the display is no more. Nothing may be called on it then, not by SDL either."""
        return not _broken.isdisjoint(self._guarded)

    def lift(self) -> None:
        """Put the window on top of all others, without giving it the keyboard."""
        if self._display is not None and not self.gone:
            self._x.XRaiseWindow(self._display, self._window)
            self._x.XSync(self._display, 0)

    def close(self) -> None:
        """Close the own connection; the window is SDL's."""
        if self._display is not None and not self.gone:
            self._x.XCloseDisplay(self._display)
        self._display = None

    def _guard(self, display: int) -> None:
        self._guarded.add(display)
        _broken.discard(display)
        self._x.XSetErrorHandler(_ON_ERROR)
        self._x.XSetIOErrorHandler(_ON_BROKEN)
        if hasattr(self._x, "XSetIOErrorExitHandler"):  # from Xlib 1.7 (2020) on
            self._x.XSetIOErrorExitHandler(display, _ON_EXIT, None)

    def _focus(self) -> tuple[int, int]:
        """The window that has the keyboard, and to whom it goes when that one closes."""
        window, back = ctypes.c_ulong(), ctypes.c_int()
        self._x.XGetInputFocus(self._display, ctypes.byref(window), ctypes.byref(back))
        return window.value, back.value


@cache
def _library() -> Any:
    x = ctypes.CDLL(_LIBRARY)
    x.XOpenDisplay.restype = _Display
    x.XOpenDisplay.argtypes = [ctypes.c_char_p]
    x.XRaiseWindow.argtypes = [_Display, ctypes.c_ulong]
    x.XGetInputFocus.argtypes = [_Display, ctypes.POINTER(ctypes.c_ulong), ctypes.POINTER(ctypes.c_int)]
    x.XSetInputFocus.argtypes = [_Display, ctypes.c_ulong, ctypes.c_int, ctypes.c_ulong]
    x.XSync.argtypes = [_Display, ctypes.c_int]
    x.XCloseDisplay.argtypes = [_Display]
    if hasattr(x, "XSetIOErrorExitHandler"):
        x.XSetIOErrorExitHandler.argtypes = [_Display, ctypes.c_void_p, ctypes.c_void_p]
    return x
