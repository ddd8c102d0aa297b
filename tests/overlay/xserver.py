"""An X server without a screen, whose picture can be read: for the tests of the overlay's window."""

from __future__ import annotations

import os
import shutil
import signal
import struct
import subprocess
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np
import numpy.typing as npt

WIDTH, HEIGHT = 1280, 720
PROGRAM = "Xvfb"
STARTS = 10.0
"""s that a window manager may take to start"""
DESKTOPS: dict[str, list[list[str]]] = {
    "bare": [],
    "openbox": [["openbox"]],
    "openbox and picom": [["openbox"], ["picom", "--backend", "xrender", "--config", "picom.conf"]],
    "xfwm4": [["dbus-run-session", "--", "xfwm4", "--compositor=on", "--vblank=off"]],
}
"""What runs beside the server: nothing, a window manager, one with a compositor, one that is both."""
_FILES = {"picom.conf": "shadow = false;\nfading = false;\n"}
"""what they read, in the folder that they run in"""
_PROGRAMS = ("openbox", "picom", "dbus-run-session", "xfwm4")
COMPOSITED = ("openbox and picom", "xfwm4")


class XServer:
    """A running Xvfb; `display` is what a client's DISPLAY is, `desktop` one of DESKTOPS."""

    def __init__(self, process: subprocess.Popen[bytes], display: str, picture: Path, desktop: str = "bare") -> None:
        self.process, self.display, self.desktop = process, display, desktop
        self._picture = picture

    @property
    def composited(self) -> bool:
        """Whether a compositor runs."""
        return self.desktop in COMPOSITED

    def pixels(self) -> npt.NDArray[np.uint8]:
        """The screen now, rows x columns x (red, green, blue): Xvfb maps it as an X window dump (XWDFile.h)."""
        data = self._picture.read_bytes()
        head = struct.unpack(">25I", data[:100])
        size, width, height, line, colours = head[0], head[4], head[5], head[12], head[19]
        rows = np.frombuffer(data, np.uint8, line * height, size + 12 * colours).reshape(height, line)
        return rows.reshape(height, -1, 4)[:, :width, 2::-1]

    def environment(self) -> dict[str, str]:
        """For a client."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("SDL_", "WAYLAND_"))}
        return {**kept, "DISPLAY": self.display}


def missing(desktop: str = "bare") -> list[str]:
    """The programs that the machine lacks for it."""
    programs = [PROGRAM, *(word for command in DESKTOPS[desktop] for word in command if word in _PROGRAMS)]
    return [program for program in programs if shutil.which(program) is None]


def there() -> bool:
    """Whether the machine has the server."""
    return not missing()


@contextmanager
def x_server(folder: Path, desktop: str = "bare") -> Iterator[XServer]:
    """Start one on a display that is free, with this beside it; all end with the block."""
    read, write = os.pipe()
    command = [PROGRAM, "-displayfd", str(write), "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-fbdir", str(folder)]
    command += ["-nolisten", "tcp", "-noreset"]
    with subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL) as process, ExitStack() as beside:
        try:
            os.close(write)
            with os.fdopen(read) as numbers:
                number = numbers.readline().strip()
            assert number, "Xvfb did not start"
            server = XServer(process, f":{number}", folder / "Xvfb_screen0", desktop)
            for name, text in _FILES.items():
                (folder / name).write_text(text)
            for command in DESKTOPS[desktop]:
                beside.enter_context(_started(command, server, folder))
            _wait_for(server)
            yield server
        finally:
            beside.close()
            process.kill()


@contextmanager
def _started(command: list[str], server: XServer, home: Path) -> Iterator[None]:
    """A program on the server, with nothing of this machine's settings."""
    environment = {**server.environment(), "HOME": str(home), "XDG_CONFIG_HOME": str(home), "XDG_CACHE_HOME": str(home)}
    environment["NO_AT_BRIDGE"] = "1"  # no accessibility services are started for it
    quiet = subprocess.DEVNULL
    with subprocess.Popen(
        command, env=environment, cwd=home, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True
    ) as process:
        try:
            yield
            assert process.poll() is None or server.process.poll() is not None, f"{command[0]} ended by itself"
        finally:
            os.killpg(process.pid, signal.SIGKILL)  # the whole session: it may have started others


def _wait_for(server: XServer) -> None:
    """Until the window manager and the compositor own what the EWMH says that they own."""
    if server.desktop == "bare":
        return
    from Xlib.display import Display

    display = Display(server.display)
    try:
        root, until = display.screen().root, time.monotonic() + STARTS
        check, compositor = (display.intern_atom(name) for name in ("_NET_SUPPORTING_WM_CHECK", "_NET_WM_CM_S0"))
        while time.monotonic() < until:
            managed = root.get_full_property(check, 0) is not None
            if managed and (not server.composited or display.get_selection_owner(compositor)):
                return
            time.sleep(0.02)
        raise AssertionError(f"{server.desktop} did not start")
    finally:
        display.close()
