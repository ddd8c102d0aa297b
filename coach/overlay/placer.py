"""Places the overlay by what a hand does with mouse, keyboard or game controller: pure, and without a clock.

Positions are px of the whole desktop. Whatever comes in, the plate stays wholly on one monitor, as far as it fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import copysign, hypot, isfinite
from typing import Literal, NamedTuple

from coach.overlay.gestures import ARROWS, Button, Drag, Drop, Grab, Input, Key, Pad, Stick, Tick, Wheel
from coach.overlay.monitors import Monitor, pick
from coach.overlay.placing import LARGEST, LEAST, Placing

STEP = 2.0
"""arcmin of one step in size: at a desk a pixel or two of a character's height (choice)."""
NUDGE, LEAP = 0.01, 0.05
"""Share of the free room that an arrow moves by, and with Shift (choice)."""
SNAP = 12
"""px from the middle or an edge at which a dragged plate goes there of itself: a plate is 200 px wide (choice)."""
SPEED = 0.25
"""Monitor widths a second that a held stick or d-pad moves by: across in four seconds (choice)."""
DEAD = 0.25
"""Deflection of a stick up to which it rests: worn ones do not come back to nothing (common practice; choice)."""
HOLD = 0.4
"""s that a d-pad is held before it moves on by itself (choice: as keyboards do)."""
LONGEST = 0.1
"""s of one tick that count: after a standstill of the program the plate must not jump (choice)."""
DOUBLE = 0.4
"""s between the two presses of a double press (choice: desktops have 0.4 to 0.5)."""
STILL = 4
"""px that a hand moves while it only presses (choice)."""
MIDDLE = 0.5

Outcome = Literal["open", "done", "left"]
Size = tuple[int, int]

DONE_BUTTON, LEAVE_BUTTON, NEXT_BUTTON, RESET_BUTTON, SMALLER_BUTTON, LARGER_BUTTON = 0, 1, 2, 3, 4, 5
"""By number, as most pads with two shoulder buttons count them (from memory); keys do the same."""


class Rect(NamedTuple):
    """px of the desktop."""

    left: int
    top: int
    width: int
    height: int


class Placer:
    """`take` every input in order; `placing` and `rect` follow from them, and `outcome` says when it is over.

    `plate`: px of the plate on a monitor at a size in arcmin; `readable`: whether text is, at it. A placing on a
    monitor that is not there begins on the main one. One monitor at least is needed.
    """

    def __init__(
        self,
        monitors: Sequence[Monitor],
        plate: Callable[[Monitor, float], Size],
        placing: Placing,
        readable: Callable[[Monitor, float], bool] = lambda monitor, size: True,
    ) -> None:
        self._monitors = list(monitors)
        self._plate, self._readable = plate, readable
        self._named: bool
        """whether the monitor was chosen, so that its name is kept: it is the main one otherwise, whichever that is"""
        self._set(placing)
        self.outcome: Outcome = "open"
        self._grab: tuple[float, float] | None = None
        """where the plate is held, as shares of its width and height"""
        self._pressed: Grab | None = None
        """the last press, as long as the hand has stayed where it was"""
        self._twice = False
        self._pad, self._held = (0, 0), 0.0
        self._stick = (0.0, 0.0)

    @property
    def monitor(self) -> Monitor:
        """Where the plate stands."""
        return self._monitors[self._at]

    @property
    def placing(self) -> Placing:
        """What would be kept now."""
        return Placing(self.monitor.name if self._named else None, self._across, self._down, self._size)

    @property
    def rect(self) -> Rect:
        """Where the plate is, as the overlay will stand."""
        return Rect(*self.monitor.corner(self._plate_here, self.placing), *self._plate_here)

    def take(self, given: Input) -> None:
        """Take one input; once it is over, none counts."""
        if self.outcome != "open":
            return
        match given:
            case Grab():
                self._grabbed(given)
            case Drag(x, y):
                self._dragged(x, y)
            case Drop():
                self._dropped()
            case Wheel(steps):
                self._resize(steps)
            case Key(name, shift):
                self._key(name, shift)
            case Button(number):
                self._button(number)
            case Pad(right, down):
                self._pad, self._held = (_sign(right), _sign(down)), 0.0
                self._nudge(*self._pad, NUDGE)
            case Stick(right, down):
                self._stick = _beyond_rest(right, down)
            case Tick(seconds):
                self._pass(seconds)

    def _set(self, placing: Placing) -> None:
        monitor, asked = pick(self._monitors, placing.monitor)
        self._at = self._monitors.index(monitor)
        self._named = asked and placing.monitor is not None
        self._across, self._down = placing.across, placing.down
        self._wish = self._size = placing.size
        self._fit()

    def _fit(self) -> None:
        """The wish; larger where pixels are too coarse for it, smaller where the plate would leave the monitor."""
        self._size = max(LEAST, min(LARGEST, self._wish))
        while self._size < LARGEST and not self._readable(self.monitor, self._size):
            self._size = min(LARGEST, self._size + STEP)
        while self._size > LEAST and not self._fits(self._plate(self.monitor, self._size)):
            self._size = max(LEAST, self._size - STEP)
        self._plate_here = self._plate(self.monitor, self._size)

    def _fits(self, plate: Size) -> bool:
        return plate[0] <= self.monitor.width and plate[1] <= self.monitor.height

    @property
    def _free(self) -> Size:
        """px beside and above or below the plate."""
        width, height = self._plate_here
        return max(0, self.monitor.width - width), max(0, self.monitor.height - height)

    def _grabbed(self, grab: Grab) -> None:
        rect, last = self.rect, self._pressed
        self._grab = ((grab.x - rect.left) / rect.width, (grab.y - rect.top) / rect.height)
        near = last is not None and hypot(grab.x - last.x, grab.y - last.y) <= STILL
        self._twice = last is not None and near and 0.0 <= grab.t - last.t <= DOUBLE
        self._pressed = grab

    def _dragged(self, x: int, y: int) -> None:
        if self._pressed is not None:
            if hypot(x - self._pressed.x, y - self._pressed.y) <= STILL:
                return
            self._pressed, self._twice = None, False
        if self._grab is None:
            return
        self._go(next((i for i, monitor in enumerate(self._monitors) if monitor.holds(x, y)), self._at))
        (right, below), (width, height), (free_width, free_height) = self._grab, self._plate_here, self._free
        self._across = _share(x - right * width - self.monitor.left, free_width)
        self._down = _share(y - below * height - self.monitor.top, free_height)

    def _dropped(self) -> None:
        self._grab = None
        if self._twice:
            self.outcome = "done"

    def _key(self, name: str, shift: bool) -> None:
        if name in ARROWS:
            self._nudge(*ARROWS[name], LEAP if shift else NUDGE)
        elif name == "tab":
            self._next(-1 if shift else 1)
        elif name in ("+", "-"):
            self._resize(1 if name == "+" else -1)
        elif name == "home":
            self._set(Placing())
        elif name in ("return", "escape"):
            self.outcome = "done" if name == "return" else "left"

    def _button(self, number: int) -> None:
        if number in (DONE_BUTTON, LEAVE_BUTTON):
            self.outcome = "done" if number == DONE_BUTTON else "left"
        elif number == NEXT_BUTTON:
            self._next(1)
        elif number == RESET_BUTTON:
            self._set(Placing())
        elif number in (SMALLER_BUTTON, LARGER_BUTTON):
            self._resize(1 if number == LARGER_BUTTON else -1)

    def _resize(self, steps: int) -> None:
        self._wish = self._size + STEP * steps
        self._fit()
        self._wish = self._size  # what does not fit is not stored up

    def _next(self, steps: int) -> None:
        if len(self._monitors) > 1:
            self._go((self._at + steps) % len(self._monitors))

    def _go(self, to: int) -> None:
        if to != self._at:
            self._at, self._named = to, True
            self._fit()

    def _nudge(self, right: int, down: int, share: float) -> None:
        self._across = _stepped(self._across, right * share)
        self._down = _stepped(self._down, down * share)

    def _pass(self, seconds: float) -> None:
        passed = max(0.0, min(LONGEST, seconds))
        right, down = self._stick
        if self._pad != (0, 0):
            moving = min(passed, max(0.0, self._held + passed - HOLD)) / passed if passed else 0.0
            self._held += passed
            right, down = right + moving * self._pad[0], down + moving * self._pad[1]
        px = SPEED * self.monitor.width * passed
        free_width, free_height = self._free
        self._across = _held_in(self._across + right * px / free_width) if free_width else self._across
        self._down = _held_in(self._down + down * px / free_height) if free_height else self._down


def _share(wanted: float, free: int) -> float:
    """The share of `free` px that `wanted` px are; near the middle and the edges, these."""
    if free <= 0:
        return MIDDLE
    near = next((share for share in (MIDDLE, 0.0, 1.0) if abs(wanted - share * free) <= SNAP), None)
    return _held_in(wanted / free) if near is None else near


def _stepped(share: float, by: float) -> float:
    """One step on; it stops in the middle rather than pass it, and does not leave crumbs of binary fractions."""
    after = _held_in(round(share + by, 6)) if by else share
    return MIDDLE if (share - MIDDLE) * (after - MIDDLE) < 0.0 else after


def _beyond_rest(right: float, down: float) -> tuple[float, float]:
    """The part of a deflection beyond where a stick rests, each way by itself."""

    def beyond(value: float) -> float:
        if not isfinite(value) or abs(value) <= DEAD:
            return 0.0
        return copysign((min(1.0, abs(value)) - DEAD) / (1.0 - DEAD), value)

    return beyond(right), beyond(down)


def _held_in(share: float) -> float:
    return max(0.0, min(1.0, share))


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)
