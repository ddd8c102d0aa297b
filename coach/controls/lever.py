"""An axis that is pressed like a button: a paddle, a trigger, a thumb stick. Pure: time comes from the caller."""

from __future__ import annotations

from coach.controls.button import Direction

PRESSED = 0.6
"""Share of the way from rest to the end at which it counts as pressed: over the half, so that a thumb that rests on it
does not (choice)."""
RELEASED = 0.4
"""Share of the way under which it counts as released: a worn sensor that flickers by a fifth presses once (choice)."""
HELD = 3.0
"""s after which what was taken for a press was none: the axis rests there. Some pedals tell of their true place only
once they are moved (choice)."""


class Lever:
    """One axis, -1 to 1. Where it stands first is where it rests: at one end (a trigger) or in the middle (a stick)."""

    def __init__(self) -> None:
        self._rest: float | None = None
        self._value = 0.0
        self._pressed: Direction | None = None
        self._since = 0.0
        """s at which it was"""

    def moved(self, value: float, now: float) -> Direction | None:
        """It stands at `value` since `now` (s); returns the direction in which that presses it, if it does."""
        if self._rest is None:
            self._rest = _end_or_middle(value)
        if self._pressed is not None and now - self._since > HELD:
            self._rest, self._pressed = _end_or_middle(self._value), None
        self._value = value
        way = value - self._rest
        share = abs(way) / (2.0 if self._rest else 1.0)
        direction: Direction = "+" if way > 0.0 else "-"
        if share >= PRESSED and direction != self._pressed:
            self._pressed, self._since = direction, now
            return direction
        if share <= RELEASED:
            self._pressed = None
        return None


def _end_or_middle(value: float) -> float:
    return float(max(-1, min(1, round(value))))
