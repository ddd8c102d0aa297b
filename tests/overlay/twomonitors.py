"""Makes two monitors of one screen, for the tests: by RandR 1.5, as `xrandr --setmonitor` does."""

from __future__ import annotations

import ctypes

_LIBRARIES = ("libX11.so.6", "libXrandr.so.2")


class _Info(ctypes.Structure):
    """XRRMonitorInfo of X11/extensions/Xrandr.h."""

    _fields_ = (
        ("name", ctypes.c_ulong),
        *((name, ctypes.c_int) for name in ("primary", "automatic", "outputs_count")),
        *((name, ctypes.c_int) for name in ("x", "y", "width", "height", "width_mm", "height_mm")),
        ("outputs", ctypes.POINTER(ctypes.c_ulong)),
    )


def split(display: str, at: int, width: int, height: int) -> None:
    """ "left", the main one, and "right", side by side from `at` px, of a screen of `width` and `height` px."""
    x, randr = (ctypes.CDLL(name) for name in _LIBRARIES)
    pointer, xid = ctypes.c_void_p, ctypes.c_ulong
    x.XOpenDisplay.restype, x.XDefaultRootWindow.restype, x.XInternAtom.restype = pointer, xid, xid
    x.XInternAtom.argtypes = [pointer, ctypes.c_char_p, ctypes.c_int]
    x.XDefaultRootWindow.argtypes = x.XCloseDisplay.argtypes = [pointer]
    x.XSync.argtypes = [pointer, ctypes.c_int]
    randr.XRRGetScreenResources.restype = ctypes.POINTER(_Resources)
    randr.XRRGetScreenResources.argtypes = [pointer, xid]
    randr.XRRSetMonitor.argtypes = [pointer, xid, ctypes.POINTER(_Info)]
    opened = x.XOpenDisplay(display.encode())
    assert opened, display
    root = x.XDefaultRootWindow(opened)
    output = randr.XRRGetScreenResources(opened, root).contents.outputs[0]
    for name, left, wide, outputs in ((b"left", 0, at, [output]), (b"right", at, width - at, [])):
        listed = (xid * max(1, len(outputs)))(*outputs)
        atom = x.XInternAtom(opened, name, 0)
        size = (left, 0, wide, height, wide // 4, height // 4)
        info = _Info(atom, name == b"left", 0, len(outputs), *size, ctypes.cast(listed, ctypes.POINTER(xid)))
        randr.XRRSetMonitor(opened, root, ctypes.byref(info))
    x.XSync(opened, 0)
    x.XCloseDisplay(opened)


class _Resources(ctypes.Structure):
    """The beginning of XRRScreenResources."""

    _fields_ = (
        ("timestamp", ctypes.c_ulong),
        ("config_timestamp", ctypes.c_ulong),
        ("crtcs_count", ctypes.c_int),
        ("crtcs", ctypes.c_void_p),
        ("outputs_count", ctypes.c_int),
        ("outputs", ctypes.POINTER(ctypes.c_ulong)),
    )
