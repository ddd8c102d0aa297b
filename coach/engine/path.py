"""Projection of a position onto a closed path."""

from __future__ import annotations

from math import hypot

import numpy as np

PATIENCE = 4
"""Segments in a row that lie further away before the walk turns back."""
ASTRAY = 60.0
"""m from the path: the car is not on this circuit's road (a paddock, another layout)."""


class ClosedPath:
    """A closed path through points at an even distance along the lap; finds the station of a position.

    The search walks from the last segment, so that a circuit that passes near itself does not make it jump: a global
    nearest point was up to 55 m off on such a path where a walk was at most 9 m off.
    """

    __slots__ = ("_last", "_places", "_step", "_x", "_y", "length", "offset")

    def __init__(self, x: list[float], y: list[float], length: float) -> None:
        """`x`, `y` m: points at 0, `length`/n, ... without the closing one; `length` m of the whole lap."""
        self._x = x
        self._y = y
        self._places = np.array([x, y])
        self._step = length / len(x)
        self.length = length
        self._last: int | None = None
        self.offset = 0.0
        """m from the path at the last `locate`"""

    def forget(self) -> None:
        """The next position may be anywhere: after a reset or a jump."""
        self._last = None

    def locate(self, x: float, y: float) -> float | None:
        """Station (m, 0 to `length`) of the nearest point of the path; None where it is over 60 m away."""
        index = self._last
        if index is None:
            index = self._nearest_point(x, y)
        best, part, square = self._walk(index, x, y)
        if square > ASTRAY * ASTRAY:
            best, part, square = self._walk(self._nearest_point(x, y), x, y)
        self.offset = square**0.5
        if square > ASTRAY * ASTRAY:
            self._last = None
            return None
        self._last = best
        return (best + part) * self._step % self.length

    def _walk(self, start: int, x: float, y: float) -> tuple[int, float, float]:
        """The nearest segment downhill from `start`: its index, the part of it, and the distance squared."""
        best = start
        part, square = self._project(start, x, y)
        for direction in (1, -1):
            index, worse = start, 0
            for _ in range(len(self._x)):
                index = (index + direction) % len(self._x)
                p, q = self._project(index, x, y)
                if q < square:
                    best, part, square, worse = index, p, q, 0
                else:
                    worse += 1
                    if worse == PATIENCE:
                        break
        return best, part, square

    def _project(self, index: int, x: float, y: float) -> tuple[float, float]:
        xs, ys = self._x, self._y
        ax, ay = xs[index], ys[index]
        following = index + 1 if index + 1 < len(xs) else 0
        dx, dy = xs[following] - ax, ys[following] - ay
        square = dx * dx + dy * dy
        part = ((x - ax) * dx + (y - ay) * dy) / square if square > 0.0 else 0.0
        part = 0.0 if part < 0.0 else min(part, 1.0)
        ex, ey = ax + part * dx - x, ay + part * dy - y
        return part, ex * ex + ey * ey

    def _nearest_point(self, x: float, y: float) -> int:
        with np.errstate(over="ignore"):  # a position of 1e200 m is simply far away
            away = (self._places[0] - x) ** 2 + (self._places[1] - y) ** 2
        return int(away.argmin())


class StartLine:
    """A start line found on the way: a place and a heading, where the source has no distance.

    It is laid where the source's `lap` first rises, or, where it counts none, where the car first drives at speed.
    """

    __slots__ = ("_heading", "_x", "_y")

    WIDTH = 25.0
    """m to each side"""

    def __init__(self, x: float, y: float, dx: float, dy: float) -> None:
        """Laid at `x`, `y` (m) across the direction of travel (`dx`, `dy`)."""
        size = hypot(dx, dy)
        self._x, self._y = x, y
        self._heading = (dx / size, dy / size)

    def ahead(self, x: float, y: float) -> float:
        """m from the line to the position, positive beyond it."""
        return (x - self._x) * self._heading[0] + (y - self._y) * self._heading[1]

    def crossed(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """Whether the step from 0 to 1 passes the line in the direction of travel."""
        if not self.ahead(x0, y0) < 0.0 <= self.ahead(x1, y1):
            return False
        across = (x1 - self._x) * -self._heading[1] + (y1 - self._y) * self._heading[0]
        return abs(across) <= self.WIDTH
