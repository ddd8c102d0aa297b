"""A mouse that the X server takes for a real one, by its XTEST extension."""

from __future__ import annotations

import time
from types import TracebackType

from Xlib import X
from Xlib.display import Display
from Xlib.ext import xtest


class Mouse:
    """One on the display; a context manager."""

    def __init__(self, display: str) -> None:
        self._display = Display(display)

    def __enter__(self) -> Mouse:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._display.close()

    def click(self, left: int, top: int) -> None:
        """Press and release the first button there (px of the desktop), as slowly as a hand."""
        for kind, detail in ((X.MotionNotify, 0), (X.ButtonPress, 1), (X.ButtonRelease, 1)):
            xtest.fake_input(self._display, kind, detail, x=left, y=top)
            self._display.sync()
            time.sleep(0.04)
