"""From seconds to what is shown: compressive, so that a twentieth of a second is seen and three seconds still fit."""

from __future__ import annotations

from math import asinh

_KNEE = 0.08
"""s of delta up to which the float moves nearly in proportion; beyond, ever less (choice)."""
_END = 3.0
"""s of delta at which it has reached its end (choice)."""
_RATE_FLOOR = 0.006
"""s a second under which the delta counts as standing: position and clock of a source are no better (choice)."""
_RATE_KNEE = 0.03
_RATE_END = 0.3
"""s a second: a corner driven a little slower loses some hundredths a second, a spin most of each (choice)."""
_TENTHS_FROM = 0.995
"""s from which a second decimal is left out: at a second nobody reads hundredths (choice)."""
_LARGEST = 99.9


def offset_of(delta: float) -> float:
    """Where the float rides for a delta (s, positive = slower): -1..1, above 0 = ahead. Monotone and odd."""
    return _compressed(-delta, _KNEE, _END)


def trend_of(slope: float) -> float:
    """The trend for a slope of the delta (s a second, positive = losing): -1..1, above 0 = gaining."""
    beyond = max(0.0, abs(slope) - _RATE_FLOOR)
    return _compressed(beyond if slope < 0 else -beyond, _RATE_KNEE, _RATE_END)


def number_of(delta: float) -> str:
    """The delta (s) as it is read: its sign and two decimals, from a second on one; `0.00` has no sign."""
    size = min(abs(delta), _LARGEST)
    digits = f"{size:.2f}" if size < _TENTHS_FROM else f"{size:.1f}"
    if float(digits) == 0.0:
        return digits
    return ("+" if delta > 0 else "\N{MINUS SIGN}") + digits


def _compressed(value: float, knee: float, end: float) -> float:
    return max(-1.0, min(1.0, asinh(value / knee) / asinh(end / knee)))
