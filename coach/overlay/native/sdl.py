"""SDL's own calls that pygame has no name for, on the very SDL that pygame has loaded."""

from __future__ import annotations

import ctypes
import sys
from dataclasses import dataclass
from functools import cache
from typing import Any

from coach.overlay.toolkit import pygame

_WINDOWS_LIBRARY = "SDL2.dll"
_MM = 25.4
"""millimetres of an inch"""
_WINDOWS_TRIED = 256
"""SDL numbers the windows of a process from 1 on; pygame has one at a time, and opens another to change its kind."""


@dataclass(frozen=True, slots=True)
class Screen:
    """One display as SDL knows it: bounds in px of the desktop, `pitch` mm of a pixel or None."""

    name: str
    left: int
    top: int
    width: int
    height: int
    pitch: float | None


def screens() -> list[Screen]:
    """All displays, in SDL's order, the first of them the main one. Empty without a video driver."""
    sdl = _library()
    return [screen for index in range(sdl.SDL_GetNumVideoDisplays()) if (screen := _screen(sdl, index)) is not None]


def window_place() -> tuple[int, int]:
    """px from the desktop's corner to the upper left corner of the window's inside. OSError where there is none."""
    left, top = ctypes.c_int(), ctypes.c_int()
    _library().SDL_GetWindowPosition(_window(), ctypes.byref(left), ctypes.byref(top))
    return left.value, top.value


def move_window(left: int, top: int) -> None:
    """Put the upper left corner of the window's inside there (px of the desktop). OSError where there is none."""
    if window_place() != (left, top):  # SDL would wait for an answer that does not come
        _library().SDL_SetWindowPosition(_window(), left, top)


def keep_on_top() -> None:
    """Ask the window system to keep the window above others. OSError where SDL is too old (2.0.16) to ask."""
    sdl = _library()
    if not hasattr(sdl, "SDL_SetWindowAlwaysOnTop"):
        raise OSError("this SDL cannot keep a window on top")
    sdl.SDL_SetWindowAlwaysOnTop(_window(), 1)


def _screen(sdl: Any, index: int) -> Screen | None:
    bounds, dpi = (ctypes.c_int * 4)(), ctypes.c_float()
    if sdl.SDL_GetDisplayBounds(index, bounds) != 0:
        return None
    said = sdl.SDL_GetDisplayDPI(index, None, ctypes.byref(dpi), None) == 0 and dpi.value > 0.0
    name = (sdl.SDL_GetDisplayName(index) or b"").decode(errors="replace")
    left, top, width, height = bounds
    return Screen(name, left, top, width, height, _MM / dpi.value if said else None)


def _window() -> int:
    sdl = _library()
    for number in range(1, _WINDOWS_TRIED):
        window: int | None = sdl.SDL_GetWindowFromID(number)
        if window is not None:
            return window
    raise OSError("SDL has no window")


@cache
def _library() -> Any:
    """A module of pygame's is linked to SDL, so the names of SDL are found by its file; on Windows by SDL's own name.
    OSError where it is not so."""
    sdl = ctypes.CDLL(_WINDOWS_LIBRARY if sys.platform == "win32" else pygame.base.__file__)
    number, pointer = ctypes.c_int, ctypes.c_void_p
    try:
        sdl.SDL_GetNumVideoDisplays.restype = number
        sdl.SDL_GetDisplayBounds.argtypes = [number, pointer]
        sdl.SDL_GetDisplayName.argtypes, sdl.SDL_GetDisplayName.restype = [number], ctypes.c_char_p
        sdl.SDL_GetDisplayDPI.argtypes = [number, pointer, pointer, pointer]
        sdl.SDL_GetWindowFromID.argtypes, sdl.SDL_GetWindowFromID.restype = [ctypes.c_uint32], pointer
        sdl.SDL_GetWindowPosition.argtypes = [pointer, pointer, pointer]
        sdl.SDL_SetWindowPosition.argtypes = [pointer, number, number]
        if hasattr(sdl, "SDL_SetWindowAlwaysOnTop"):
            sdl.SDL_SetWindowAlwaysOnTop.argtypes = [pointer, number]
    except AttributeError as error:
        raise OSError(f"SDL's own calls are not to be found ({error})") from error
    return sdl
