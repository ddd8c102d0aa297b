"""When the line was crossed between two samples."""

from __future__ import annotations

from math import sqrt


def crossing_part(before: float, after: float, speed_before: float | None, speed_after: float | None) -> float:
    """The part (0..1) of the step at which the line lies, under constant acceleration.

    `before`, `after`: m from the first sample to the line and from the line to the second; speeds in m/s. Only their
    ratio matters, so a distance that runs along the centre line serves as well as the path driven. Without usable
    speeds, constant speed is assumed.

    >>> crossing_part(1.0, 1.0, 20.0, 20.0)
    0.5
    >>> round(crossing_part(0.5, 1.5, 0.0, 2.0), 6)  # from rest: distance goes with the square of time
    0.5
    """
    whole = before + after
    if whole <= 0.0:
        return 0.0
    share = before / whole
    if speed_before is None or speed_after is None or speed_before < 0.0 or speed_after < 0.0:
        return share
    both = speed_before + speed_after
    if both <= 0.0:
        return share
    root = sqrt(max(0.0, speed_before * speed_before + (speed_after - speed_before) * share * both))
    return min(1.0, share * both / (speed_before + root)) if speed_before + root > 0.0 else share
