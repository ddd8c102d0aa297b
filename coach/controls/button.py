"""One thing to press, and what is said between the process that hears it and the coach: one JSON object a line."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

Kind = Literal["button", "hat", "axis"]
Direction = Literal["", "up", "down", "left", "right", "+", "-"]
DIRECTIONS: dict[Kind, tuple[Direction, ...]] = {
    "button": ("",),
    "hat": ("up", "down", "left", "right"),
    "axis": ("+", "-"),
}
"""What can be pressed of each kind."""
NAME = 80
"""characters of a controller's name that are kept."""


@dataclass(frozen=True, slots=True)
class Button:
    """One thing to press: `number` as SDL counts, from 0; `direction` of a hat or an axis.

    `device` is SDL's GUID of the kind of controller, so two that are alike have the same buttons. `name` is its name,
    for reading.
    """

    device: str
    kind: Kind
    number: int
    direction: Direction = ""
    name: str = field(default="", compare=False)

    @property
    def words(self) -> str:
        """`button 3 of 'NAME'`, for a person."""
        which = f"{self.kind} {self.number} {self.direction}".rstrip()
        return f"{which} of {named(self.device, self.name)}"


@dataclass(frozen=True, slots=True)
class Pressed:
    """A button went down."""

    button: Button


@dataclass(frozen=True, slots=True)
class Plugged:
    """A controller is there, from the start or from now on."""

    device: str
    name: str


@dataclass(frozen=True, slots=True)
class Unplugged:
    """A controller is no longer there."""

    device: str
    name: str


@dataclass(frozen=True, slots=True)
class Ready:
    """All controllers that are there have been named; from now on presses are heard."""


@dataclass(frozen=True, slots=True)
class Failed:
    """Nothing can be heard here; `why` in one line."""

    why: str


@dataclass(frozen=True, slots=True)
class Alive:
    """The process still looks."""


@dataclass(frozen=True, slots=True)
class Lost:
    """The process ended or stood still, without being asked to; `again`: another one is started."""

    again: bool


Message = Pressed | Plugged | Unplugged | Ready | Failed | Alive | Lost


def named(device: str, name: str) -> str:
    """How a controller is called in a line."""
    return repr(name) if name else f"controller {device}"


def plain(name: str) -> str:
    """A controller's own name, made safe to print: one line, no control characters, not endless."""
    return "".join(character if character.isprintable() else "?" for character in name)[:NAME].strip()


def line_of(message: Message) -> bytes:
    """A message as it goes through the pipe."""
    what: dict[str, Any] = {"what": type(message).__name__.lower()}
    match message:
        case Pressed(button):
            what |= {"device": button.device, "name": button.name, "kind": button.kind, "number": button.number}
            what |= {"direction": button.direction}
        case Plugged(device, name) | Unplugged(device, name):
            what |= {"device": device, "name": name}
        case Failed(why):
            what |= {"why": why}
        case Lost(again):
            what |= {"again": again}
    return json.dumps(what).encode() + b"\n"


def message_of(line: bytes) -> Message:
    """The message in a line. Raises ValueError where there is none in it."""
    try:
        found = json.loads(line)
        match found["what"]:
            case "pressed":
                return Pressed(_button(found))
            case "plugged":
                return Plugged(str(found["device"]), plain(str(found["name"])))
            case "unplugged":
                return Unplugged(str(found["device"]), plain(str(found["name"])))
            case "ready":
                return Ready()
            case "failed":
                return Failed(plain(str(found["why"])))
            case "alive":
                return Alive()
            case "lost":
                return Lost(bool(found["again"]))
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise ValueError(f"no message: {error}") from None
    raise ValueError("a message of a kind that nobody knows")


def _button(found: dict[str, Any]) -> Button:
    kind, number, direction = found["kind"], found["number"], found["direction"]
    if kind not in get_args(Kind) or direction not in DIRECTIONS[kind] or type(number) is not int or number < 0:
        raise ValueError("no button")
    return Button(str(found["device"]), kind, number, direction, plain(str(found["name"])))
