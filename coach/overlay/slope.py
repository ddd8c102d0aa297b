"""Whether the driver gains or loses now: the slope of the delta over the last second."""

from __future__ import annotations

from collections import deque

_WINDOW = 1.0
"""s looked back on: long enough for ten deltas to even out, short enough to be now (choice)."""
_LEAST = 0.45
"""s that must be known before a slope is given."""
_HAIR = 1e-6


class Slope:
    """The least-squares slope of the deltas of the last second, in s a second; 0.0 while too little is known."""

    def __init__(self) -> None:
        self._points: deque[tuple[float, float]] = deque()

    def clear(self) -> None:
        """Another lap, or a jump: what was before says nothing of what comes."""
        self._points.clear()

    def add(self, t: float, delta: float) -> float:
        """Take the delta (s) at `t` (s of the source, rising); returns the slope now."""
        points = self._points
        if points and t <= points[-1][0]:
            points.clear()
        points.append((t, delta))
        while t - points[0][0] > _WINDOW + _HAIR:
            points.popleft()
        if t - points[0][0] < _LEAST:
            return 0.0
        middle = sum(point[0] for point in points) / len(points)
        up = across = 0.0
        for at, value in points:
            up += (at - middle) * value
            across += (at - middle) ** 2
        return up / across
