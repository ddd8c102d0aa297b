"""What a hand does to place the overlay, with mouse, keyboard or game controller. Positions are px of the desktop."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Grab:
    """The mouse is pressed on the plate, at `t` s of any steady clock."""

    x: int
    y: int
    t: float


@dataclass(frozen=True, slots=True)
class Drag:
    """The mouse moved, pressed or not."""

    x: int
    y: int


@dataclass(frozen=True, slots=True)
class Drop:
    """The mouse is let go."""


@dataclass(frozen=True, slots=True)
class Wheel:
    """Notches, above 0: away from the hand, larger."""

    steps: int


@dataclass(frozen=True, slots=True)
class Key:
    """A key by its name, see `KEYS`; others do nothing."""

    name: str
    shift: bool = False


@dataclass(frozen=True, slots=True)
class Button:
    """A controller's button was pressed."""

    number: int


@dataclass(frozen=True, slots=True)
class Pad:
    """Where a d-pad is held: each -1, 0 or 1, to the right and downwards."""

    right: int
    down: int


@dataclass(frozen=True, slots=True)
class Stick:
    """How far a stick is held: each -1..1, to the right and downwards."""

    right: float
    down: float


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed, s: what is held moves on."""

    seconds: float


Input = Grab | Drag | Drop | Wheel | Key | Button | Pad | Stick | Tick

ARROWS = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}
KEYS = (*ARROWS, "tab", "+", "-", "home", "return", "escape")
"""The keys there are. Tab: the next monitor, with Shift the one before; Home: as it comes."""
