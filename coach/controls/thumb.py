"""What of a controller's raw changes is a press. Pure: time comes from the caller."""

from __future__ import annotations

from coach.controls.button import Direction, Kind
from coach.controls.lever import Lever

BOUNCE = 0.05
"""s since its last change within which a button is not pressed again: contacts bounce for some ms, and no thumb presses
twenty times a second (choice)."""
SETTLED = 0.5
"""s after it was plugged in from which a controller's presses count: what is held then, a gear lever or a switch that
stays down, is told of as if it were pressed (choice)."""

_HATS: dict[tuple[int, int], Direction] = {(0, 1): "up", (0, -1): "down", (-1, 0): "left", (1, 0): "right"}
_CENTRE = (0, 0)

Press = tuple[Kind, int, Direction]


class Thumb:
    """The presses of one controller that was plugged in at `now` (s)."""

    def __init__(self, now: float) -> None:
        self._from = now + SETTLED
        self._changed: dict[tuple[Kind, int], float] = {}
        self._hats: dict[int, tuple[int, int]] = {}
        self._levers: dict[int, Lever] = {}

    def button(self, number: int, is_down: bool, now: float) -> Press | None:
        """A button changed."""
        return self._unless_bounced(("button", number, "") if is_down else None, ("button", number), now)

    def hat(self, number: int, value: tuple[int, int], now: float) -> Press | None:
        """A hat changed to right and up, each -1 to 1. Only out of the centre, and not between two directions."""
        before = self._hats.get(number, _CENTRE)
        self._hats[number] = value
        direction = _HATS.get(value) if before == _CENTRE else None
        return self._unless_bounced(None if direction is None else ("hat", number, direction), ("hat", number), now)

    def axis(self, number: int, value: float, now: float) -> Press | None:
        """An axis moved to `value`, -1 to 1."""
        direction = self._levers.setdefault(number, Lever()).moved(value, now)
        return None if direction is None or now < self._from else ("axis", number, direction)

    def _unless_bounced(self, press: Press | None, what: tuple[Kind, int], now: float) -> Press | None:
        last = self._changed.get(what)
        self._changed[what] = now
        if now < self._from or (last is not None and now - last < BOUNCE):
            return None
        return press
