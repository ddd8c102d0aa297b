"""Mouse and keyboard that the X server takes for real ones, by its XTEST extension, move by move."""

from __future__ import annotations

import time
from types import TracebackType

from Xlib import XK, X
from Xlib.display import Display
from Xlib.ext import xtest
from Xlib.protocol.event import ClientMessage

PAUSE = 0.03
"""s between two moves: two frames"""


class Fingers:
    """On one display; a context manager."""

    def __init__(self, display: str) -> None:
        self.display = Display(display)

    def __enter__(self) -> Fingers:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.display.close()

    def move(self, left: int, top: int) -> None:
        self._send(X.MotionNotify, 0, left, top)

    def press(self, button: int = 1) -> None:
        self._send(X.ButtonPress, button)

    def release(self, button: int = 1) -> None:
        self._send(X.ButtonRelease, button)

    def drag(self, begin: tuple[int, int], end: tuple[int, int], steps: int = 12, release: bool = True) -> None:
        self.move(*begin)
        self.press()
        for step in range(1, steps + 1):
            self.move(*(a + (b - a) * step // steps for a, b in zip(begin, end, strict=True)))
        if release:
            self.release()

    def wheel(self, up: bool) -> None:
        button = 4 if up else 5
        self.press(button)
        self.release(button)

    def key(self, name: str, shift: bool = False) -> None:
        """By its X11 name."""
        codes = [self.display.keysym_to_keycode(XK.string_to_keysym(one)) for one in ("Shift_L", name)]
        pressed = codes if shift else codes[1:]
        for code in pressed:
            self._send(X.KeyPress, code)
        for code in reversed(pressed):
            self._send(X.KeyRelease, code)

    def close_window(self) -> None:
        """As the cross of a title bar does: ask the window that has the keyboard to close (ICCCM, 4.2.8.1)."""
        window = self.display.get_input_focus().focus
        protocols, delete = (self.display.intern_atom(name) for name in ("WM_PROTOCOLS", "WM_DELETE_WINDOW"))
        message = ClientMessage(window=window, client_type=protocols, data=(32, [delete, X.CurrentTime, 0, 0, 0]))
        window.send_event(message)
        self.display.sync()

    def _send(self, kind: int, detail: int, left: int = 0, top: int = 0) -> None:
        xtest.fake_input(self.display, kind, detail, x=left, y=top)
        self.display.sync()
        time.sleep(PAUSE)
