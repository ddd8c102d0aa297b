"""Processes of the tests, and patience with them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty, Queue

TOP = Path(__file__).parents[2]
PATIENCE = 20.0


class Child:
    """A running module of the tests."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self._lines: Queue[str | None] = Queue()
        self._errors: list[str] = []
        self._readers = [threading.Thread(target=work, daemon=True) for work in (self._listen, self._collect)]
        for reader in self._readers:
            reader.start()

    def say(self, word: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(word + "\n")
        self.process.stdin.flush()

    def line(self) -> str:
        """The next that it prints; none where it ended before."""
        try:
            line = self._lines.get(timeout=PATIENCE)
        except Empty:
            raise AssertionError("it says nothing") from None
        assert line is not None, "".join(self._errors) or "it ended"
        return line.rstrip("\n")

    def ask(self, word: str) -> str:
        self.say(word)
        return self.line()

    def end(self) -> tuple[str, str, int]:
        """What else it printed, what it printed as errors, its exit code."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        code = self.process.wait(PATIENCE)
        for reader in self._readers:
            reader.join(PATIENCE)
        rest = list(iter(self._lines.get_nowait, None))
        return "".join(line for line in rest if line is not None), "".join(self._errors), code

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line)
        self._lines.put(None)

    def _collect(self) -> None:
        assert self.process.stderr is not None
        self._errors += self.process.stderr


@contextmanager
def running(module: str, environment: dict[str, str], **options: object) -> Iterator[Child]:
    """`tests.overlay.<module>` with its options as JSON."""
    command = [sys.executable, "-m", f"tests.overlay.{module}", json.dumps(options)]
    pipe = subprocess.PIPE
    full = {**environment, "PYTHONPATH": str(TOP)}
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe, text=True, env=full, cwd=TOP) as process:
        try:
            yield Child(process)
        finally:
            process.kill()


def plain_environment(**more: str) -> dict[str, str]:
    left_out = ("SDL_", "DISPLAY", "WAYLAND_")
    return {**{name: value for name, value in os.environ.items() if not name.startswith(left_out)}, **more}


def comes(what: Callable[[], bool], within: float = PATIENCE) -> bool:
    until = time.monotonic() + within
    while time.monotonic() < until:
        if what():
            return True
        time.sleep(0.05)
    return False
