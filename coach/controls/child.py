"""The process that hears game controllers: `python -m coach.controls.child [--axes]`.

It says on standard output what is pressed, plugged in and unplugged, one JSON object a line, and nothing else; it ends
with its standard input. It needs no window, no focus and no keyboard.

SDL asks drivers, keeps Python's lock while it does, and takes signals: a driver that hangs would stop the coach with
it. Here it stops only this process, which can be ended and started again.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from typing import BinaryIO

from coach.controls.button import Alive, Failed, Message, Ready, line_of
from coach.vocabulary.errors import WorkError

LOOK = 0.03
"""s between two looks: a press waits 15 ms in the mean, and SDL's own waiting would look a thousand times a second."""
BEAT = 2.0
"""s between two signs of life, where nothing else is said."""

Say = Callable[[Message], None]


def prepare() -> None:
    """Set what SDL reads when it is initialised: no window, no signals, events without focus."""
    os.environ["SDL_VIDEODRIVER"] = "dummy"
    os.environ["SDL_NO_SIGNAL_HANDLERS"] = "1"  # else it takes SIGTERM, and nothing happens at one
    os.environ["SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS"] = "1"
    if sys.platform == "win32":
        os.environ["SDL_JOYSTICK_THREAD"] = "1"  # plugging is told to a window's thread, and there is no window
    # These drivers switch a controller's lights and modes, and the simulator uses it at the same time.
    os.environ.setdefault("SDL_JOYSTICK_HIDAPI", "0")


def serve(say: Say, axes: bool, between: Callable[[], None] = lambda: None) -> None:
    """Say what happens, for ever; `between` is done before each look."""
    try:
        from coach.controls.listener import Listener
        from coach.overlay.toolkit import pygame
    except WorkError as error:
        say(Failed(str(error)))
        return
    try:
        listener = Listener(axes, time.monotonic())
    except pygame.error as error:
        say(Failed(f"the system has no game controllers ({error})"))
        return
    for message in listener.look(time.monotonic()):
        say(message)
    say(Ready())
    said = time.monotonic()
    while True:
        between()
        now = time.monotonic()
        messages = listener.look(now)
        if not messages and now - said >= BEAT:
            messages = [Alive()]
        for message in messages:
            say(message)
            said = now
        time.sleep(LOOK)


def end_with_standard_input() -> None:
    """End this process as soon as standard input ends: whoever started it has gone."""

    def wait() -> None:
        while os.read(0, 1024):
            pass
        os._exit(0)  # the first thread may stand still in a driver

    threading.Thread(target=wait, name="leash", daemon=True).start()


def answers() -> BinaryIO:
    """Standard output, for our lines alone; what libraries print there goes nowhere."""
    own = os.fdopen(os.dup(1), "wb", buffering=0)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return own


def main() -> int:
    """Until standard input ends."""
    parser = argparse.ArgumentParser(prog="python -m coach.controls.child", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--axes", action="store_true", help="listen to axes as well")
    options = parser.parse_args()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    prepare()
    end_with_standard_input()
    pipe = answers()
    try:
        serve(lambda message: _write(pipe, message), options.axes)
    except BrokenPipeError:
        return 1  # the coach has gone
    return 0


def _write(pipe: BinaryIO, message: Message) -> None:
    pipe.write(line_of(message))


if __name__ == "__main__":
    sys.exit(main())
