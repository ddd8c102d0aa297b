"""Windows: a layered window that stays topmost, through which clicks go, and which never has the keyboard.

The calls are those of winuser.h and shellscalingapi.h. Nothing here was ever run on a machine: the tests hold the
calls, their order and their arguments against a fake.
"""

from __future__ import annotations

import ctypes
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from coach.overlay.toolkit import pygame

EX_STYLE = -20
LAYERED, TRANSPARENT, TOOL_WINDOW, NO_ACTIVATE = 0x80000, 0x20, 0x80, 0x08000000
"""GWL_EXSTYLE and WS_EX_...: with opacity of its own, no target of the mouse, not in the taskbar, never active"""
BY_ALPHA = 2
"""LWA_ALPHA"""
TOPMOST = -1
"""HWND_TOPMOST"""
NO_SIZE, NO_MOVE, NOT_ACTIVE, FRAME_CHANGED, SHOW = 0x1, 0x2, 0x10, 0x20, 0x40
"""SWP_..."""
HIDE = 0
"""SW_HIDE"""
RAW_DPI = 2
"""MDT_RAW_DPI: of the panel itself, where others hold what the person scaled it to"""
NEAREST = 2
"""MONITOR_DEFAULTTONEAREST"""
LEAST_OPACITY = 0.9
"""Words are dimmed with the plate here. What stands at 3:1 on the opaque plate keeps it on every grey down to this."""
_MM = 25.4


@dataclass(frozen=True, slots=True)
class WindowCalls:
    """The system's libraries, or a fake of them: user32, and how its last error is cleared and read."""

    user32: Any
    clear_error: Callable[[], object]
    last_error: Callable[[], int]

    def __post_init__(self) -> None:
        window, number, flags, pointer = ctypes.c_void_p, ctypes.c_int, ctypes.c_uint, ctypes.c_ssize_t
        u = self.user32
        u.GetWindowLongPtrW.argtypes, u.GetWindowLongPtrW.restype = [window, number], pointer
        u.SetWindowLongPtrW.argtypes, u.SetWindowLongPtrW.restype = [window, number, pointer], pointer
        u.SetLayeredWindowAttributes.argtypes = [window, ctypes.c_uint32, ctypes.c_ubyte, ctypes.c_uint32]
        u.SetLayeredWindowAttributes.restype = number
        u.SetWindowPos.argtypes = [window, window, number, number, number, number, flags]
        u.SetWindowPos.restype = number
        u.ShowWindow.argtypes, u.ShowWindow.restype = [window, number], number


class WindowsEdge:
    """For the window that pygame has open. `opacity` 0..1 of the whole window, not under LEAST_OPACITY.

    A call that fails costs one line and what it was for; the others are made all the same.
    """

    def __init__(
        self,
        calls: WindowCalls,
        opacity: float,
        say: Callable[[str], None],
        handle: Callable[[], int] = lambda: pygame.display.get_wm_info()["window"],
    ) -> None:
        self._calls = calls
        self._alpha = round(255 * min(1.0, max(LEAST_OPACITY, opacity)))
        self._say = say
        self._handle = handle
        self._window = 0
        self._told: set[str] = set()

    def hints(self) -> dict[str, str]:
        """SDL shows it without taking the keyboard."""
        return {"SDL_WINDOW_NO_ACTIVATION_WHEN_SHOWN": "1"}

    def adopt(self) -> None:
        """Its style changes while it is hidden: the taskbar keeps its button otherwise."""
        self._window = self._handle()
        user32 = self._calls.user32
        user32.ShowWindow(self._window, HIDE)
        style = self._try("GetWindowLongPtrW", EX_STYLE, zero_is_fine=True)
        if style is not None:
            style |= LAYERED | TRANSPARENT | TOOL_WINDOW | NO_ACTIVATE
            self._try("SetWindowLongPtrW", EX_STYLE, style, zero_is_fine=True)
        self._try("SetLayeredWindowAttributes", 0, self._alpha, BY_ALPHA)
        self._top(FRAME_CHANGED | SHOW)

    def lift(self) -> None:
        """Put it on top of all others, topmost ones too, where it stands and without the keyboard."""
        self._top(0)

    def _top(self, more: int) -> None:
        self._try("SetWindowPos", TOPMOST, 0, 0, 0, 0, NO_SIZE | NO_MOVE | NOT_ACTIVE | more)

    def _try(self, name: str, *arguments: int, zero_is_fine: bool = False) -> int | None:
        """What the call returns; None where it failed, which is told the first time.

        A failed one returns 0 and sets the last error; some return 0 for good reason too and leave it.
        """
        self._calls.clear_error()
        answer: int = getattr(self._calls.user32, name)(self._window, *arguments)
        code = 0 if answer else self._calls.last_error()
        if answer or (zero_is_fine and code == 0):
            return answer
        if name not in self._told:
            self._told.add(name)
            self._say(f"the overlay's window: {_LOST[name]} (Windows: {name} failed, error {code})")
        return None


_LOST = {
    "GetWindowLongPtrW": "clicks may not go through it",
    "SetWindowLongPtrW": "clicks may not go through it",
    "SetLayeredWindowAttributes": "it is not transparent, or not seen at all",
    "SetWindowPos": "it may be covered by the simulator's",
}
"""What a person misses where the call failed."""


def window_calls() -> WindowCalls:
    """The system's own. OSError on any other system."""
    if sys.platform != "win32":
        raise OSError("not Windows")
    user32 = ctypes.WinDLL("user32", use_last_error=True)
    for name in ("GetWindowLong", "SetWindowLong"):
        if not hasattr(user32, f"{name}PtrW"):  # 32-bit Windows has only the older name
            setattr(user32, f"{name}PtrW", getattr(user32, f"{name}W"))
    return WindowCalls(user32, lambda: ctypes.set_last_error(0), ctypes.get_last_error)


class _Point(ctypes.Structure):
    """POINT of windef.h."""

    _fields_ = (("x", ctypes.c_long), ("y", ctypes.c_long))


def pitch_at(left: int, top: int, user32: Any, shcore: Any) -> float | None:
    """mm of a pixel of the monitor that shows this place (px of the desktop), None where it does not say."""
    user32.MonitorFromPoint.argtypes, user32.MonitorFromPoint.restype = [_Point, ctypes.c_uint32], ctypes.c_void_p
    across, down = ctypes.c_uint(), ctypes.c_uint()
    asked = shcore.GetDpiForMonitor
    asked.argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.POINTER(ctypes.c_uint), ctypes.POINTER(ctypes.c_uint)]
    asked.restype = ctypes.c_long
    monitor = user32.MonitorFromPoint(_Point(left, top), NEAREST)
    if not monitor or asked(monitor, RAW_DPI, ctypes.byref(across), ctypes.byref(down)) != 0 or not across.value:
        return None
    return _MM / across.value


def panel_pitch(left: int, top: int) -> float | None:
    """`pitch_at` by the system's own calls. OSError on any other system."""
    if sys.platform != "win32":
        raise OSError("not Windows")
    return pitch_at(left, top, ctypes.WinDLL("user32"), ctypes.WinDLL("shcore"))
