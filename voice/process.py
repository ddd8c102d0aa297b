"""Child processes of our own modules: started with nothing inherited, ended with all that they started."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

_PROJECT = Path(__file__).parents[1]
_ENDING = 2.0
"""s to wait for the end of a process that was killed."""
_WINDOW_LESS = 0x08000000 | 0x00000200  # CREATE_NO_WINDOW, CREATE_NEW_PROCESS_GROUP: Ctrl-C is for the coach alone


def module(name: str) -> list[str]:
    """The command that runs a module of this project; `-P`: a file in the user's folder cannot take its place."""
    return [sys.executable, "-P", "-m", name]


def start(
    command: Sequence[str], *, stdin: int, stdout: int, stderr: int = subprocess.DEVNULL
) -> subprocess.Popen[bytes]:
    """Start it apart from this process: what it prints goes nowhere, Ctrl-C at the terminal does not reach it.

    OSError passes through where it cannot be started.
    """
    paths = [str(_PROJECT), *filter(None, os.environ.get("PYTHONPATH", "").split(os.pathsep))]
    return subprocess.Popen(
        command,
        stdin=stdin,
        stdout=stdout,
        stderr=stderr,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(paths)},
        start_new_session=True,
        creationflags=_WINDOW_LESS if sys.platform == "win32" else 0,
    )


def kill(process: subprocess.Popen[bytes]) -> None:
    """End it at once, with what it started; nothing happens where it has ended already.

    Waits for its end, but not for ever: the system does not end what stands still inside a driver.
    """
    if process.poll() is not None:
        return
    if sys.platform != "win32":
        with contextlib.suppress(ProcessLookupError, PermissionError):  # it has ended in this very moment
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(_ENDING)
