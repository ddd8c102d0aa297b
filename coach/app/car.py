"""The built-in car in a process of its own: it drives, sends, and ends with whoever started it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

import feeds
from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError

LOOK = 0.05
"""s between two looks at whether it has ended."""
GRACE = 2.0
"""s for it to end by itself once it is let go."""


class CarProcess:
    """`python -m feeds.car` with these arguments. Close it, or use it with `with`."""

    def __init__(self, arguments: Sequence[str]) -> None:
        top = str(Path(next(iter(feeds.__path__))).parent)
        path = os.pathsep.join(part for part in (top, os.environ.get("PYTHONPATH")) if part)
        self._process = subprocess.Popen(
            [sys.executable, "-m", "feeds.car", *arguments, "--leash"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": path},
            start_new_session=True,  # Ctrl-C is for us; it is let go by its leash
        )

    @property
    def pid(self) -> int:
        """The system's number of the process."""
        return self._process.pid

    @property
    def ended(self) -> bool:
        """Whether it drives no more."""
        return self._process.poll() is not None

    def wait(self, stop: Stop) -> str:
        """Wait for its end, or until `stop` asks for ours; returns what it said on standard output.

        Raises KeyboardInterrupt where `stop` asked first; InputError or WorkError with its own line where it failed.
        """
        while not self.ended:
            if stop.asked:
                raise KeyboardInterrupt
            stop.sleep(LOOK)
        return self.said()

    def said(self) -> str:
        """What an ended process said on standard output. Raises InputError or WorkError where it failed."""
        out, errors = self._process.communicate()
        code = self._process.returncode
        if code == 0:
            return out.decode(errors="replace")
        line = errors.decode(errors="replace").strip().rpartition("\n")[2].removeprefix("feeds.car: ")
        if code == InputError.exit_code:
            raise InputError(line)
        raise WorkError(f"the built-in car stopped ({line or f'exit code {code}'}): please report it")

    def close(self) -> None:
        """Let it go, and make sure that it goes."""
        process = self._process
        if process.stdin is not None and not process.stdin.closed:
            process.stdin.close()
        for harder in (process.terminate, process.kill):
            try:
                process.wait(GRACE)
                break
            except subprocess.TimeoutExpired:
                harder()
        process.wait()
        for pipe in (process.stdout, process.stderr):
            if pipe is not None:
                pipe.close()

    def __enter__(self) -> CarProcess:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
