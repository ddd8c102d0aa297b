"""The real listening process with controllers that SDL plays itself: `python -m tests.controls.virtual SCRIPT`.

It does what the lines of the file SCRIPT ask for, as they are appended, one before each look: JSON lists such as
`["plug", "a", "Pellow wheel", 4, 3, 1]` (name, axes, buttons, hats), `["button", "a", 2, 1]`, `["axis", "a", 0, 0.5]`,
`["hat", "a", 0, 1, 0]`, `["unplug", "a"]`, `["hang"]`, `["die"]`. SDL >= 2.0.14 has virtual joysticks, 2.24 such with a
name; `lacks()` says why there are none.
"""

from __future__ import annotations

import ctypes
import json
import os
import sys
import time
from itertools import takewhile
from pathlib import Path
from typing import Any

from coach.controls import child
from coach.overlay.toolkit import pygame

_LARGEST = 32767
_HATS = {(0, 0): 0, (0, 1): 1, (1, 0): 2, (0, -1): 4, (-1, 0): 8, (1, 1): 3, (1, -1): 6, (-1, -1): 12, (-1, 1): 9}
"""SDL_joystick.h: SDL_HAT_UP 1, RIGHT 2, DOWN 4, LEFT 8, and what they add up to."""
_WHEEL = 2
"""SDL_joystick.h: SDL_JOYSTICK_TYPE_WHEEL."""


class _Description(ctypes.Structure):
    """SDL_joystick.h: SDL_VirtualJoystickDesc, version 1."""

    _fields_ = (
        *((name, ctypes.c_uint16) for name in ("version", "type", "axes", "buttons", "hats")),
        *((name, ctypes.c_uint16) for name in ("vendor", "product", "padding")),
        *((name, ctypes.c_uint32) for name in ("button_mask", "axis_mask")),
        ("name", ctypes.c_char_p),
        *((name, ctypes.c_void_p) for name in ("data", "update", "player", "rumble", "triggers", "led", "effect")),
    )


def library() -> Any:
    """pygame's own SDL, for ctypes: its module's handle finds the functions of what the module is linked with."""
    folder = Path(pygame.__file__).parent
    beside = folder / "SDL2.dll"
    return ctypes.CDLL(str(beside if beside.exists() else pygame.joystick.__file__))


def lacks() -> str | None:
    """Why there can be no virtual controllers here; None where there can."""
    try:
        library().SDL_JoystickAttachVirtualEx  # noqa: B018
    except (AttributeError, OSError) as error:
        return f"this SDL has no virtual joysticks with names (2.24): {error}"
    return None


class Hands:
    """Plugs and presses."""

    def __init__(self, script: Path) -> None:
        self._script = script
        self._place = 0
        self._held: dict[str, tuple[int, int]] = {}
        """by our name: SDL's instance number, and the open joystick"""
        self._sdl = library()
        self._sdl.SDL_JoystickOpen.restype = ctypes.c_void_p
        self._sdl.SDL_JoystickInstanceID.argtypes = [ctypes.c_void_p]
        self._sdl.SDL_JoystickClose.argtypes = [ctypes.c_void_p]
        for what in ("Button", "Axis", "Hat"):
            getattr(self._sdl, f"SDL_JoystickSetVirtual{what}").argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_int]

    def step(self) -> None:
        """Do the next thing that the script asks for, if there is one."""
        with self._script.open("rb") as file:
            file.seek(self._place)
            line = file.readline()
        if line.endswith(b"\n"):
            self._place += len(line)
            what, *arguments = json.loads(line)
            getattr(self, what)(*arguments)

    def before(self) -> None:
        """Plug in what the script begins with: it is there before the listening begins."""
        lines = self._script.read_bytes().splitlines()
        for _ in takewhile(lambda line: json.loads(line)[0] == "plug", lines):
            self.step()

    def plug(self, which: str, name: str, axes: int, buttons: int, hats: int) -> None:
        encoded = name.encode()
        given = _Description(1, _WHEEL, axes, buttons, hats, 0x1234, 0x5678, 0, 0, 0, encoded)
        index = self._sdl.SDL_JoystickAttachVirtualEx(ctypes.byref(given))
        assert index >= 0, pygame.get_error()
        joystick = self._sdl.SDL_JoystickOpen(index)
        self._held[which] = self._sdl.SDL_JoystickInstanceID(joystick), joystick

    def unplug(self, which: str) -> None:
        number, joystick = self._held.pop(which)
        count = self._sdl.SDL_NumJoysticks()
        index = next(i for i in range(count) if self._sdl.SDL_JoystickGetDeviceInstanceID(i) == number)
        assert self._sdl.SDL_JoystickDetachVirtual(index) == 0, pygame.get_error()
        self._sdl.SDL_JoystickClose(joystick)

    def button(self, which: str, number: int, value: int) -> None:
        assert self._sdl.SDL_JoystickSetVirtualButton(self._held[which][1], number, value) == 0

    def axis(self, which: str, number: int, value: float) -> None:
        assert self._sdl.SDL_JoystickSetVirtualAxis(self._held[which][1], number, round(value * _LARGEST)) == 0

    def hat(self, which: str, number: int, right: int, up: int) -> None:
        assert self._sdl.SDL_JoystickSetVirtualHat(self._held[which][1], number, _HATS[right, up]) == 0

    def wait(self, seconds: float) -> None:
        time.sleep(seconds)

    def hang(self) -> None:
        """As a driver that does not return, and keeps Python's lock: no thread of this process runs on."""
        ctypes.PyDLL(None).pause() if sys.platform != "win32" else time.sleep(3600.0)

    def die(self) -> None:
        os._exit(3)


def main() -> None:
    script, *more = sys.argv[1:]
    child.prepare()
    pygame.display.init()
    pygame.joystick.init()
    hands = Hands(Path(script))
    hands.before()
    child.end_with_standard_input()
    pipe = child.answers()
    child.serve(lambda message: child._write(pipe, message), axes="--axes" in more, between=hands.step)


if __name__ == "__main__":
    main()
