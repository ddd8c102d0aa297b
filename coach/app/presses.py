"""The buttons in a session: what is pressed waits in a queue until the session's loop takes it."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from queue import SimpleQueue

from coach.app.console import Console
from coach.controls.bindings import Bindings
from coach.controls.button import Message
from coach.controls.controls import Controls
from coach.controls.panel import Panel
from coach.vocabulary.actions import DRIVER
from voice import process

LISTENER: Sequence[str] = process.module("coach.controls.child")
"""The command of the process that hears the controllers."""


@dataclass(frozen=True, slots=True)
class Asked:
    """An action, and by whom."""

    action: str
    by: str = DRIVER


Presses = SimpleQueue[Asked]


def controls(hear: Callable[[Message], None], axes: bool) -> Controls:
    """The process that hears the controllers, running; close it."""
    command = [*LISTENER, "--axes"] if axes else LISTENER

    def start() -> subprocess.Popen[bytes]:
        return process.start(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    return Controls(hear, start, process.kill)


@contextmanager
def pressed(bindings: Bindings, console: Console) -> Iterator[Presses]:
    """The actions of the buttons that are pressed, as they are; nothing runs where none is bound."""
    presses: Presses = SimpleQueue()
    if not bindings:
        yield presses
        return
    panel = Panel(bindings, lambda action: presses.put(Asked(action)), console.say)
    with closing(controls(panel.take, bindings.axes)):
        yield presses
