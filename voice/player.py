"""The coach's end of the process that holds the sound device."""

from __future__ import annotations

import contextlib
import json
import subprocess
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from queue import SimpleQueue
from typing import IO, Any

from voice import process

LONGEST_LINE = 65_536
"""bytes of an answer; a longer one is none."""
_ENDING = 1.0
"""s for this object's threads to end after the process has."""


@dataclass(frozen=True, slots=True)
class Ready:
    """The device is open since `at` (s, perf_counter); `facts` of it for the diagnostics."""

    at: float
    facts: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Failed:
    """There is no device that opens; `why` in the driver's words."""

    why: str


@dataclass(frozen=True, slots=True)
class Started:
    """Sound `number` was handed to the device at `at` (s, perf_counter). `late`: the one before still sounded."""

    number: int
    at: float
    late: bool


@dataclass(frozen=True, slots=True)
class Gone:
    """The process has ended, or talks nonsense."""


Answer = Ready | Failed | Started | Gone


class Player:
    """One such process. `hear` gets its answers from a thread of this object's; the last is always `Gone`.

    No method waits for a process that hangs, but for `close` within its timeout: a pipe holds 64 kB or less, which is
    less than a phrase of 1.5 s, so another thread writes to it. OSError passes through where it cannot be started.
    """

    def __init__(
        self,
        hear: Callable[[Answer], None],
        command: Sequence[str] = tuple(process.module("voice.mixer")),
        device: str | None = None,
    ) -> None:
        """`device`: the sound device's name or a part of it; None for the system's own."""
        self._hear = hear
        chosen = [] if device is None else [f"--device={device}"]
        self._process = process.start([*command, *chosen], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self._stdin, self._stdout = _pipes(self._process)
        self._commands: SimpleQueue[bytes | None] = SimpleQueue()
        self._reader = threading.Thread(target=self._read, name="voice-answers", daemon=True)
        self._writer = threading.Thread(target=self._write, name="voice-commands", daemon=True)
        self._reader.start()
        self._writer.start()

    @property
    def process_id(self) -> int:
        """The process's number in the system."""
        return self._process.pid

    def play(self, number: int, samples: bytes, volume: float) -> None:
        """Play these samples at once; whatever sounds is cut off."""
        self._commands.put(b"play %d %.3f %d\n" % (number, volume, len(samples)) + samples)

    def stop(self) -> None:
        """Fade out what sounds."""
        self._commands.put(b"stop\n")

    def close(self, timeout: float) -> None:
        """End it: in good order within `timeout` s, else at once. Nothing is heard of it afterwards."""
        self._commands.put(None)
        try:
            self._process.wait(timeout)
        except subprocess.TimeoutExpired:
            self.kill()
        self._writer.join(_ENDING)
        self._reader.join(_ENDING)
        if not self._reader.is_alive():
            self._stdout.close()

    def kill(self) -> None:
        """End it at once; from any thread."""
        process.kill(self._process)

    def _write(self) -> None:
        try:
            while (command := self._commands.get()) is not None:
                self._stdin.write(command)
                self._stdin.flush()
        except OSError:
            self._process.kill()  # the reader then sees its end, and says so
        with contextlib.suppress(OSError):  # what it did not read goes nowhere
            self._stdin.close()

    def _read(self) -> None:
        while line := self._stdout.readline(LONGEST_LINE):
            answer = _answer(line)
            if isinstance(answer, Gone):
                break
            self._hear(answer)
        self._hear(Gone())


def _pipes(started: subprocess.Popen[bytes]) -> tuple[IO[bytes], IO[bytes]]:
    assert started.stdin is not None and started.stdout is not None, "it was started with both"
    return started.stdin, started.stdout


def _answer(line: bytes) -> Answer:
    try:
        plain = json.loads(line)
        what = plain.pop("what")
        if what == "ready":
            return Ready(float(plain.pop("at")), plain)
        if what == "started":
            return Started(int(plain["number"]), float(plain["at"]), bool(plain["late"]))
        return Failed(str(plain["why"]))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return Gone()
