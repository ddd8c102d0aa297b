"""`buttons`: says which button does what, and binds them by pressing each when asked."""

from __future__ import annotations

import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from queue import Empty, SimpleQueue

from coach.app import buttonfile, presses
from coach.app.config import ButtonsOptions
from coach.app.console import Console
from coach.app.stop import Stop
from coach.app.typed import read, terminal
from coach.controls.bindings import Bindings
from coach.controls.button import Button, Failed, Lost, Message, Plugged, Pressed, Ready, Unplugged, named
from coach.playbook.load import shown
from coach.vocabulary.actions import ACTIONS
from coach.vocabulary.errors import InputError, WorkError

SKIP = 15.0
"""s without a press after which an action is left as it is: no keyboard is needed (choice)."""
PLUG = 20.0
"""s to wait for a controller to be plugged in, where none is (choice)."""
STARTING = 60.0
"""s for the process that hears the controllers to name them (choice)."""
_SLICE = 0.1
"""s between two looks at whether to stop."""


@dataclass(frozen=True, slots=True)
class Entered:
    """Enter was pressed in the terminal."""


Heard = SimpleQueue[Message | Entered]


def buttons(options: ButtonsOptions, console: Console, stop: Stop) -> str:
    """List, remove or ask; returns what is bound now. InputError where there is no controller, or for a file that is
    not right; KeyboardInterrupt where `stop` asks for the end, and all is as it was."""
    where = shown(str(buttonfile.buttons_file()))
    if options.clear:
        return f"{where} is removed: no button is bound\n" if buttonfile.clear() else "no button is bound\n"
    before = buttonfile.read()
    if options.listed:
        return _listed(before, where)
    heard: Heard = SimpleQueue()
    with closing(presses.controls(heard.put, axes=True)):
        after = _Asking(heard, console, stop).all(before, options.add)
    if after == before:
        return f"nothing is changed\n\n{_listed(before, where)}"
    buttonfile.save(after)
    return _listed(after, where)


class _Asking:
    """One round of questions; `heard` is all that happens meanwhile."""

    def __init__(self, heard: Heard, console: Console, stop: Stop) -> None:
        self._heard, self._console, self._stop = heard, console, stop
        self._there: Counter[str] = Counter()

    def all(self, before: Bindings, add: bool) -> Bindings:
        """Ask for each action; returns what is bound then. `add`: beside what is bound, not in its place."""
        self._wait_for_controllers()
        enter = "Enter, or " if _hear_enter(self._heard) else ""
        self._console.say(
            f"Press the button for each of these {len(ACTIONS)}, and move nothing else: feet off the pedals, the wheel "
            f"straight. {enter}{SKIP:.0f} s without a press leaves one as it is; Ctrl-C leaves all as they were."
        )
        bound, given = before, set[Button]()
        for number, (action, does) in enumerate(ACTIONS.items(), start=1):
            now = ", ".join(button.words for button in bound.of(action))
            self._console.say(f"{number} of {len(ACTIONS)}: {does}?{f' (now {now})' if now else ''}")
            button = self._button(bound, given)
            if button is None:
                self._console.say("  left as it is")
                continue
            other = bound.actions.get(button)
            bound = (bound if add else bound.without(action)).bound(button, action)
            given.add(button)
            taken = "" if other in (None, action) else f', no longer "{ACTIONS[other or action]}"'
            self._console.say(f"  {button.words}{taken}")
        return bound

    def _wait_for_controllers(self) -> None:
        until = time.monotonic() + STARTING
        while not isinstance(message := self._next(until), Ready):
            if message is None:
                raise WorkError("the process that hears the buttons does not start: close other programs, try again")
        if self._is_one_there():
            return
        self._console.say(f"no controller is connected: plug one in, within {PLUG:.0f} s")
        until = time.monotonic() + PLUG
        while not self._is_one_there():
            if self._next(until) is None:
                raise InputError("no controller is connected: plug one in, then run `cornerword buttons` again")

    def _is_one_there(self) -> bool:
        return self._there.total() > 0

    def _button(self, bound: Bindings, given: set[Button]) -> Button | None:
        """The next button that is pressed, None where none is; one that was given in this round is not taken again."""
        until = time.monotonic() + SKIP
        while (message := self._next(until)) is not None:
            match message:
                case Entered():
                    return None
                case Pressed(button) if button not in given:
                    return button
                case Pressed(button):
                    does = ACTIONS[bound.actions[button]]
                    self._console.say(f'  {button.words} is for "{does}" already: press another one')
                    until = time.monotonic() + SKIP
        return None

    def _next(self, until: float) -> Message | Entered | None:
        """What happens next; None where nothing has up to `until` (s, monotonic)."""
        while (left := until - time.monotonic()) > 0.0:
            if self._stop.asked:
                self._console.say("the buttons stay as they were")
                raise KeyboardInterrupt
            try:
                message = self._heard.get(timeout=min(left, _SLICE))
            except Empty:
                continue
            self._note(message)
            return message
        return None

    def _note(self, message: Message | Entered) -> None:
        match message:
            case Plugged(device, name):
                self._there[device] += 1
                self._console.say(f"{named(device, name)} is connected")
            case Unplugged(device, name):
                self._there[device] -= 1
                self._console.say(f"{named(device, name)} is unplugged")
            case Failed(why):
                raise WorkError(f"no button can be heard: {why}")
            case Lost(again):
                self._there.clear()
                if not again:
                    raise WorkError("the process that hears the buttons ends again and again: please report it")


def _hear_enter(heard: Heard) -> bool:
    """Have each Enter in the terminal heard; returns whether there is a terminal to press it in."""
    source = terminal()
    if source is None:
        return False

    def take(typed: bytes) -> None:
        for _ in range(typed.count(b"\n")):
            heard.put(Entered())

    read(source, take)
    return True


def _listed(bindings: Bindings, where: str) -> str:
    lines = []
    for action, does in ACTIONS.items():
        own = ", ".join(button.words for button in bindings.of(action)) or "-"
        lines += [f"{action:<16}{does}", f"{'':<16}  {own}"]
    head = f"BUTTONS  {where}" if bindings else "BUTTONS  none is bound; `cornerword buttons` asks for them"
    return "\n".join([head, *lines]) + "\n"
