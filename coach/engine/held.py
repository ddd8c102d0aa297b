"""States that hold, apart from the flicker of a noisy channel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

BRAKING = 0.05
"""Brake: above is braking, wherever it is read."""
BRAKE_HELD = 0.1
"""s: a foot that brakes stays on for longer; a single reading over the threshold is a noisy pedal (choice)."""


def held(states: Iterable[bool], time: Sequence[float], least: float) -> list[bool]:
    """The states, with every run of True that lasts for less than `least` s taken out.

    A run lasts from its first place to the first place behind it; one at the end, to the last place.

    >>> held([False, True, False, True, True, True], [0.0, 0.1, 0.2, 0.3, 0.4, 0.5], 0.15)
    [False, False, False, True, True, True]
    """
    kept = list(states)
    start: int | None = None
    for i in range(len(kept) + 1):
        on = i < len(kept) and kept[i]
        if on and start is None:
            start = i
        elif not on and start is not None:
            if time[min(i, len(kept) - 1)] - time[start] < least - 1e-9:
                kept[start:i] = [False] * (i - start)
            start = None
    return kept
