"""What a session makes of what is pressed, plugged and unplugged: actions, and lines for a person."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from coach.controls.bindings import Bindings
from coach.controls.button import Failed, Lost, Message, Plugged, Pressed, Ready, Unplugged, named


class Panel:
    """`act` gets the action of each bound button that is pressed, `say` the lines.

    Of controllers on which nothing is bound nothing is said. Two that are alike count as one.
    """

    def __init__(self, bindings: Bindings, act: Callable[[str], None], say: Callable[[str], None]) -> None:
        self._bindings, self._act, self._say = bindings, act, say
        self._names = bindings.devices()
        self._there: Counter[str] = Counter()
        self._is_ready = False
        self._was_lost = False

    def take(self, message: Message) -> None:
        """Take in one thing that the listening process said."""
        match message:
            case Pressed(button):
                action = self._bindings.actions.get(button)
                if action is not None:
                    self._act(action)
            case Plugged(device, name) if device in self._names:
                self._names[device] = name
                self._there[device] += 1
                if self._is_ready and self._there[device] == 1:
                    count = _actions(self._bindings.on([device]))
                    self._say(f"buttons: {named(device, name)} is plugged in, {count}")
            case Unplugged(device, name) if self._there[device]:
                self._there[device] -= 1
                if not self._there[device]:
                    self._say(f"buttons: {named(device, name)} is unplugged; they work again once it is plugged in")
            case Ready():
                self._is_ready = True
                if not self._was_lost:
                    self._say(self._greeting())
            case Failed(why):
                self._say(f"buttons: none is heard, {why}; the session goes on without them")
            case Lost(again):
                self._lose(again)

    def _lose(self, again: bool) -> None:
        if not again:
            self._say("buttons: their process ends again and again; the session goes on without them")
        elif not self._was_lost:
            self._say("buttons: their process has ended, and is started again")
        self._there.clear()
        self._is_ready, self._was_lost = False, True

    def _greeting(self) -> str:
        there = [device for device in self._names if self._there[device]]
        away = [device for device in self._names if not self._there[device]]
        parts = []
        if there:
            parts.append(f"{_actions(self._bindings.on(there))} on {self._listed(there)}")
        if away:
            are, they = ("is", "it is") if len(away) == 1 else ("are", "they are")
            count = _actions(self._bindings.on(away))
            parts.append(f"{self._listed(away)} {are} not connected: {count} once {they} plugged in")
        return f"buttons: {'; '.join(parts)}"

    def _listed(self, devices: list[str]) -> str:
        return " and ".join(named(device, self._names[device]) for device in devices)


def _actions(count: int) -> str:
    return f"{count} action{'' if count == 1 else 's'}"
