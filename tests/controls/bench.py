"""The listening process with virtual controllers, for the tests: what is plugged and pressed, and what is heard."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

import pytest

from coach.controls.button import Alive, Message, Pressed
from coach.controls.controls import Controls
from tests.controls import virtual
from voice import process

TOP = Path(__file__).parents[2]
PATIENCE = 10.0
"""s for what has to be heard."""
SETTLES = ["wait", 0.55]
"""A controller that was plugged in counts from then on."""


def needs_virtual() -> None:
    """Skip where there are no virtual controllers; with CI_SCREEN=1 they must be there."""
    why = virtual.lacks()
    if why is not None:
        assert os.environ.get("CI_SCREEN") != "1", why
        pytest.skip(why)


class Script:
    """What the hands do: lines that the process reads as they come."""

    def __init__(self, path: Path, *lines: list[Any]) -> None:
        self.path = path
        self.path.touch()
        self.add(*lines)

    def add(self, *lines: list[Any]) -> None:
        """To be done behind all the others."""
        with self.path.open("ab") as file:
            file.write(b"".join(json.dumps(line).encode() + b"\n" for line in lines))

    def press(self, which: str, number: int) -> None:
        """A thumb on a button for a tenth of a second, and off."""
        self.add(["button", which, number, 1], ["wait", 0.1], ["button", which, number, 0], ["wait", 0.06])

    @property
    def command(self) -> Sequence[str]:
        """What runs it."""
        return [sys.executable, "-m", "tests.controls.virtual", str(self.path)]


class Ear:
    """What the process says, as it comes."""

    def __init__(self) -> None:
        self.heard: SimpleQueue[Message] = SimpleQueue()
        self.controls: Controls | None = None

    def next(self, patience: float = PATIENCE) -> Message:
        """The next that is not a sign of life."""
        until = time.monotonic() + patience
        while True:
            message = self.heard.get(timeout=max(0.0, until - time.monotonic()))
            if not isinstance(message, Alive):
                return message

    def until(self, kind: type[Message]) -> list[Message]:
        """All up to the first of a kind."""
        came = [self.next()]
        while not isinstance(came[-1], kind):
            came.append(self.next())
        return came

    def pressed(self) -> str:
        """The next press, without its controller: `button 2`."""
        message = self.next()
        assert isinstance(message, Pressed), message
        return message.button.words.partition(" of ")[0]

    def nothing(self, seconds: float = 0.3) -> bool:
        """Whether nothing comes for a while."""
        try:
            self.next(seconds)
        except Empty:
            return True
        return False


@contextmanager
def listening(command: Sequence[str]) -> Iterator[Ear]:
    """Controls that run a command of the test's own."""
    ear = Ear()

    def start() -> subprocess.Popen[bytes]:
        return process.start(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    with closing(Controls(ear.heard.put, start, process.kill)) as controls:
        ear.controls = controls
        yield ear


def eventually(true: Callable[[], bool], patience: float = PATIENCE) -> bool:
    """Whether something becomes true in time."""
    until = time.monotonic() + patience
    while not true():
        if time.monotonic() > until:
            return False
        time.sleep(0.02)
    return True
