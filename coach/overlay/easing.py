"""Eased movement: what is shown follows what is so, without a jump, whatever the frame rate."""

from __future__ import annotations

from dataclasses import replace
from math import exp

from coach.overlay.view import View

_MOVE = 0.15
"""s, time constant of place, brightness and trend: quick enough to be now, slow enough not to startle (choice)."""
_FADE = 0.1
"""s, time constant with which a text comes and goes, and the mark of a press comes (choice)."""
_NOTED, _NOTED_FADE = 0.5, 0.2
"""s that the mark of a press stands, and time constant with which it goes: 1.3 s in all (choice)."""
_GONE = 0.02
"""Alpha under which a text or a mark is no longer seen."""


class Easing:
    """Follows a goal to the first order. The clock is the caller's: any that runs in s."""

    def __init__(self) -> None:
        self._shown: View | None = None
        self._now = 0.0
        self._pressed = float("-inf")

    def at(self, goal: View, now: float) -> View:
        """What is shown at `now` (s). A goal without a text takes it away at once; one of alpha 0 lets it fade.
        The mark of a press comes and goes by itself."""
        shown = self._shown
        if shown is None:
            shown = goal
        elif goal != shown:
            passed = max(0.0, now - self._now)
            if goal.presses != shown.presses:
                self._pressed = now
            move, fade = 1.0 - exp(-passed / _MOVE), 1.0 - exp(-passed / _FADE)
            alpha = shown.text_alpha if shown.text == goal.text else 0.0
            alpha += fade * (goal.text_alpha - alpha)
            seen = goal.text is not None and (alpha >= _GONE or goal.text_alpha > 0.0)
            shown = replace(
                goal,
                offset=shown.offset + move * (goal.offset - shown.offset),
                brightness=shown.brightness + move * (goal.brightness - shown.brightness),
                trend=shown.trend + move * (goal.trend - shown.trend),
                text=goal.text if seen else None,
                text_alpha=alpha if seen else 0.0,
                noted=self._noted(shown.noted, now, passed),
            )
        self._shown, self._now = shown, now
        return shown

    def _noted(self, noted: float, now: float, passed: float) -> float:
        if now - self._pressed < _NOTED:
            return noted + (1.0 - exp(-passed / _FADE)) * (1.0 - noted)
        noted *= exp(-passed / _NOTED_FADE)
        return noted if noted >= _GONE else 0.0
