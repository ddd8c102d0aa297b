"""Where the mouse is on the desktop, and whether it is pressed, as SDL asks the window system: pygame tells it only
within a window, which is of no use while that window moves along."""

from __future__ import annotations

import ctypes
import sys
from functools import cache
from typing import Any, NamedTuple

from coach.overlay.toolkit import pygame

_LEFT = 1
"""SDL_BUTTON_LMASK"""


class Pointer(NamedTuple):
    """px of the desktop; `pressed`: the main button is."""

    x: int
    y: int
    pressed: bool


def pointer() -> Pointer:
    """Now. OSError where SDL's call is not to be found."""
    x, y = ctypes.c_int(), ctypes.c_int()
    buttons = _call()(ctypes.byref(x), ctypes.byref(y))
    return Pointer(x.value, y.value, bool(buttons & _LEFT))


@cache
def _call() -> Any:
    """On the SDL that pygame has loaded, as sdl.py finds it."""
    library = ctypes.CDLL("SDL2.dll" if sys.platform == "win32" else pygame.base.__file__)
    try:
        call = library.SDL_GetGlobalMouseState
    except AttributeError as error:
        raise OSError(f"SDL does not tell where the mouse is ({error})") from error
    call.argtypes, call.restype = [ctypes.c_void_p, ctypes.c_void_p], ctypes.c_uint32
    return call
