"""Which button does what. Pure; the file it is kept in is the app's matter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from coach.controls.button import Button


@dataclass(frozen=True, slots=True)
class Bindings:
    """`actions`: a button's action. A button has one action, an action any number of buttons."""

    actions: Mapping[Button, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.actions)

    def of(self, action: str) -> list[Button]:
        """The buttons that do this, in the order in which they were bound."""
        return [button for button, does in self.actions.items() if does == action]

    def devices(self) -> dict[str, str]:
        """The controllers that they are on, with their names."""
        return {button.device: button.name for button in self.actions}

    def on(self, devices: Iterable[str]) -> int:
        """How many actions can be done with these controllers."""
        there = set(devices)
        return len({action for button, action in self.actions.items() if button.device in there})

    @property
    def axes(self) -> bool:
        """Whether an axis is among them."""
        return any(button.kind == "axis" for button in self.actions)

    def without(self, action: str) -> Bindings:
        """These, with no button for this action."""
        return Bindings({button: does for button, does in self.actions.items() if does != action})

    def bound(self, button: Button, action: str) -> Bindings:
        """These, and this button does this, whatever it did before."""
        others = {other: does for other, does in self.actions.items() if other != button}
        return Bindings(others | {button: action})
