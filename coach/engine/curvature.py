"""The curvature of the path that a lap drove."""

from __future__ import annotations

import numpy as np

from coach.engine.lap import Floats, GridLap

SMOOTH = 4.0
"""m, standard deviation of the Gaussian that smooths the path: a driver's corrections go, a chicane stays."""
SLOWEST = 3.0
"""m/s: below this yaw rate over speed is noise."""


def path_curvature(lap: GridLap) -> Floats | None:
    """1/m on the lap's grid, positive to the left (ISO 8855); None where nothing tells.

    From the position, else yaw rate / speed, else lateral acceleration / speed^2. Curvature of a plane path is
    d(heading)/d(arc length); a circle of 50 m radius gives 0.02.
    """
    path, speed = lap.closed_path(), lap.get("speed")
    if path is not None:
        return _from_path(_smooth(path[0], lap.step), _smooth(path[1], lap.step))
    if speed is None:
        return None
    rate, pull = lap.get("yaw_rate"), lap.get("ay")
    quick = np.maximum(speed, SLOWEST)
    if rate is not None:
        return _smooth(rate / quick, lap.step)
    if pull is not None:
        return _smooth(pull / quick**2, lap.step)
    return None


def _from_path(x: Floats, y: Floats) -> Floats:
    """The grid closes on itself: the last point is the first of the next lap."""
    dx, dy = _slope(x), _slope(y)
    ddx, ddy = _slope(dx), _slope(dy)
    square = dx * dx + dy * dy
    return (dx * ddy - dy * ddx) / np.maximum(square, 1e-12) ** 1.5


def _slope(values: Floats) -> Floats:
    ring = values[:-1]
    slope = 0.5 * (np.roll(ring, -1) - np.roll(ring, 1))
    return np.append(slope, slope[0])


def _smooth(values: Floats, step: float) -> Floats:
    """Gaussian over the closed lap; the closing point is kept equal to the first."""
    reach = max(1, round(3 * SMOOTH / step))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step / SMOOTH) ** 2)
    weights /= weights.sum()
    ring = values[:-1]
    padded = np.concatenate([ring[-reach:], ring, ring[:reach]])
    smooth = np.convolve(padded, weights, mode="valid")
    return np.append(smooth, smooth[0])
