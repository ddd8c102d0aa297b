"""An X server without a screen, whose picture can be read: for the tests of the overlay's window."""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import numpy.typing as npt

WIDTH, HEIGHT = 1280, 720
PROGRAM = "Xvfb"


class XServer:
    """A running Xvfb; `display` is what a client's DISPLAY is."""

    def __init__(self, process: subprocess.Popen[bytes], display: str, picture: Path) -> None:
        self.process, self.display = process, display
        self._picture = picture

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


def there() -> bool:
    """Whether the machine has it."""
    return shutil.which(PROGRAM) is not None


@contextmanager
def x_server(folder: Path) -> Iterator[XServer]:
    """Start one on a display that is free; it ends with the block."""
    read, write = os.pipe()
    command = [PROGRAM, "-displayfd", str(write), "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-fbdir", str(folder)]
    command += ["-nolisten", "tcp", "-noreset"]
    with subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL) as process:
        try:
            os.close(write)
            with os.fdopen(read) as numbers:
                number = numbers.readline().strip()
            assert number, "Xvfb did not start"
            yield XServer(process, f":{number}", folder / "Xvfb_screen0")
        finally:
            process.kill()
