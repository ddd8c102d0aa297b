"""X11: a connection of our own, which knows the display and keeps the program alive when it goes away.

Xlib calls `exit` when a connection breaks or a request fails; with these handlers neither ends the program. They are
the process's, as Xlib has it, and stay for its whole life.
"""

from __future__ import annotations

import ctypes
from functools import cache
from typing import Any

from coach.overlay.native import randr
from coach.overlay.toolkit import pygame

_LIBRARY = "libX11.so.6"
_Display = ctypes.c_void_p
_ALPHA_DEPTH, _TRUE_COLOUR = 32, 4
"""bits of a pixel that has alpha besides 8 a colour; TrueColor in X.h"""
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


class _VisualInfo(ctypes.Structure):
    """XVisualInfo of X11/Xutil.h."""

    _fields_ = (
        ("visual", ctypes.c_void_p),
        ("id", ctypes.c_ulong),
        ("screen", ctypes.c_int),
        ("depth", ctypes.c_int),
        ("kind", ctypes.c_int),
        ("red", ctypes.c_ulong),
        ("green", ctypes.c_ulong),
        ("blue", ctypes.c_ulong),
        ("colours", ctypes.c_int),
        ("bits", ctypes.c_int),
    )


class X11:
    """A connection to the display that DISPLAY names. OSError where there is no Xlib or no display.

    `x` is Xlib, `display` the connection's address for it.
    """

    def __init__(self) -> None:
        self.x = _library()
        display: int | None = self.x.XOpenDisplay(None)
        if display is None:
            raise OSError("the X display does not answer")
        self.display = display
        self._open = True
        self._guarded: set[int] = set()
        self._guard(display)

    @property
    def gone(self) -> bool:
        """Whether the display is no more. Nothing may be called on it then, not by SDL either."""
        return not _broken.isdisjoint(self._guarded)

    @property
    def answers(self) -> bool:
        """Whether calls can be made."""
        return self._open and not self.gone

    def guard_window(self) -> int:
        """SDL has opened a window: guards SDL's connection as well, and returns the window's id."""
        info = pygame.display.get_wm_info()
        self._guard(_address(info["display"]))
        window: int = info["window"]
        return window

    def monitors(self) -> list[randr.Output]:
        """The monitors now. OSError where they cannot be told."""
        if not self.answers:
            raise OSError("the display went away")
        return randr.outputs(self.x, self.display)

    def composited(self) -> bool:
        """Whether a compositor runs: it owns the selection that the EWMH names, _NET_WM_CM_Sn."""
        screen = self.x.XDefaultScreen(self.display)
        selection = self.x.XInternAtom(self.display, b"_NET_WM_CM_S%d" % screen, 0)
        return bool(self.x.XGetSelectionOwner(self.display, selection))

    def alpha_visual(self) -> int | None:
        """The id of a visual whose pixels have alpha, None where there is none."""
        info = _VisualInfo()
        screen = self.x.XDefaultScreen(self.display)
        found = self.x.XMatchVisualInfo(self.display, screen, _ALPHA_DEPTH, _TRUE_COLOUR, ctypes.byref(info))
        return info.id if found else None

    def focus(self) -> tuple[int, int]:
        """The window that has the keyboard, and to whom it goes when that one closes."""
        window, back = ctypes.c_ulong(), ctypes.c_int()
        self.x.XGetInputFocus(self.display, ctypes.byref(window), ctypes.byref(back))
        return window.value, back.value

    def close(self) -> None:
        """Close the own connection; the window is SDL's."""
        if self.answers:
            self.x.XCloseDisplay(self.display)
        self._open = False

    def _guard(self, display: int) -> None:
        if display not in self._guarded:
            _broken.discard(display)  # an address that an earlier one had
        self._guarded.add(display)
        self.x.XSetErrorHandler(_ON_ERROR)
        self.x.XSetIOErrorHandler(_ON_BROKEN)
        if hasattr(self.x, "XSetIOErrorExitHandler"):  # from Xlib 1.7 (2020) on
            self.x.XSetIOErrorExitHandler(display, _ON_EXIT, None)


def _address(capsule: object) -> int:
    """What a capsule of pygame's points to."""
    name, pointer = ctypes.pythonapi.PyCapsule_GetName, ctypes.pythonapi.PyCapsule_GetPointer
    name.restype, name.argtypes = ctypes.c_char_p, [ctypes.py_object]
    pointer.restype, pointer.argtypes = ctypes.c_void_p, [ctypes.py_object, ctypes.c_char_p]
    address: int = pointer(capsule, name(capsule))
    return address


@cache
def _library() -> Any:
    x = ctypes.CDLL(_LIBRARY)
    number, xid, text, where = ctypes.c_int, ctypes.c_ulong, ctypes.c_char_p, ctypes.c_void_p
    x.XOpenDisplay.argtypes, x.XOpenDisplay.restype = [text], _Display
    x.XCloseDisplay.argtypes = [_Display]
    x.XDefaultScreen.argtypes = [_Display]
    x.XDefaultRootWindow.argtypes, x.XDefaultRootWindow.restype = [_Display], xid
    x.XInternAtom.argtypes, x.XInternAtom.restype = [_Display, text, number], xid
    x.XGetAtomName.argtypes, x.XGetAtomName.restype = [_Display, xid], where
    x.XGetSelectionOwner.argtypes, x.XGetSelectionOwner.restype = [_Display, xid], xid
    x.XMatchVisualInfo.argtypes = [_Display, number, number, number, where]
    x.XRaiseWindow.argtypes = [_Display, xid]
    x.XGetInputFocus.argtypes = [_Display, where, where]
    x.XSetInputFocus.argtypes = [_Display, xid, number, xid]
    x.XSync.argtypes = [_Display, number]
    x.XFree.argtypes = [where]
    if hasattr(x, "XSetIOErrorExitHandler"):
        x.XSetIOErrorExitHandler.argtypes = [_Display, where, where]
    return x
