"""Eased movement: what is shown follows what is so, without a jump, whatever the frame rate."""

from __future__ import annotations

from math import exp

from coach.overlay.view import View

_MOVE = 0.15
"""s, time constant of place, brightness and trend: quick enough to be now, slow enough not to startle (choice)."""
_FADE = 0.1
"""s, time constant with which a number comes and goes (choice)."""
_GONE = 0.02
"""Alpha under which a number is no longer seen."""


class Easing:
    """Follows a goal to the first order. The clock is the caller's: any that runs in s."""

    def __init__(self) -> None:
        self._shown: View | None = None
        self._now = 0.0

    def at(self, goal: View, now: float) -> View:
        """What is shown at `now` (s). A goal without a number takes it away at once; one of alpha 0 lets it fade."""
        shown = self._shown
        if shown is None:
            shown = goal
        elif goal != shown:
            passed = max(0.0, now - self._now)
            move, fade = 1.0 - exp(-passed / _MOVE), 1.0 - exp(-passed / _FADE)
            alpha = shown.number_alpha if shown.number == goal.number else 0.0
            alpha += fade * (goal.number_alpha - alpha)
            seen = goal.number is not None and (alpha >= _GONE or goal.number_alpha > 0.0)
            shown = View(
                goal.state,
                shown.offset + move * (goal.offset - shown.offset),
                shown.brightness + move * (goal.brightness - shown.brightness),
                shown.trend + move * (goal.trend - shown.trend),
                goal.number if seen else None,
                alpha if seen else 0.0,
            )
        self._shown, self._now = shown, now
        return shown
