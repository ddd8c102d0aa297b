"""The monitors of an X11 display, by RandR 1.5: as they are now, where SDL keeps those of the time it was started."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

_LIBRARY, _VERSION = "libXrandr.so.2", (1, 5)


class _Info(ctypes.Structure):
    """XRRMonitorInfo of X11/extensions/Xrandr.h."""

    _fields_ = (
        ("name", ctypes.c_ulong),
        ("primary", ctypes.c_int),
        ("automatic", ctypes.c_int),
        ("outputs_count", ctypes.c_int),
        ("x", ctypes.c_int),
        ("y", ctypes.c_int),
        ("width", ctypes.c_int),
        ("height", ctypes.c_int),
        ("width_mm", ctypes.c_int),
        ("height_mm", ctypes.c_int),
        ("outputs", ctypes.c_void_p),
    )


@dataclass(frozen=True, slots=True)
class Output:
    """One monitor: bounds in px of the desktop, and what it says of its size (mm)."""

    name: str
    left: int
    top: int
    width: int
    height: int
    width_mm: int
    height_mm: int
    main: bool


def outputs(x: Any, display: int) -> list[Output]:
    """The active monitors of the display at this address, `x` being Xlib. OSError where they cannot be told."""
    randr = _library()
    major, minor = ctypes.c_int(), ctypes.c_int()
    known = randr.XRRQueryVersion(display, ctypes.byref(major), ctypes.byref(minor))
    if not known or (major.value, minor.value) < _VERSION:
        raise OSError("the X server has no RandR 1.5")
    count = ctypes.c_int()
    found = randr.XRRGetMonitors(display, x.XDefaultRootWindow(display), 1, ctypes.byref(count))
    if not found:
        raise OSError("the X server names no monitors")
    try:
        return list(_read(x, display, found, count.value))
    finally:
        randr.XRRFreeMonitors(found)


def _read(x: Any, display: int, found: Any, count: int) -> Iterator[Output]:
    for info in found[:count]:
        text = x.XGetAtomName(display, info.name)
        name = ctypes.string_at(text).decode(errors="replace") if text else ""
        if text:
            x.XFree(text)
        yield Output(name, info.x, info.y, info.width, info.height, info.width_mm, info.height_mm, bool(info.primary))


@cache
def _library() -> Any:
    randr = ctypes.CDLL(_LIBRARY)
    display, number = ctypes.c_void_p, ctypes.POINTER(ctypes.c_int)
    try:
        randr.XRRQueryVersion.argtypes = [display, number, number]
        randr.XRRGetMonitors.argtypes = [display, ctypes.c_ulong, ctypes.c_int, number]
        randr.XRRGetMonitors.restype = ctypes.POINTER(_Info)
        randr.XRRFreeMonitors.argtypes, randr.XRRFreeMonitors.restype = [ctypes.POINTER(_Info)], None
    except AttributeError as error:
        raise OSError(f"{_LIBRARY} is too old ({error})") from error
    return randr
