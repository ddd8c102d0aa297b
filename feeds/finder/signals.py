"""Small tools on columns of numbers over time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feeds.finder.fields import Floats

Mask = NDArray[np.bool_]

SAME = 0.01
"""of the span: values no further apart are the same (the brief's measure of right)"""
SAME_SHARE = 0.985
"""of the rows in which they are"""


def same(a: Floats, b: Floats) -> bool:
    """Whether two columns hold the same channel, but for rounding and a packet at a jump."""
    span = float(np.ptp(a))
    return bool(np.mean(np.abs(a - b) <= SAME * span) >= SAME_SHARE)


def exact(a: Floats, b: Floats) -> float:
    """Share of the rows in which two columns are within SAME of the span."""
    return float(np.mean(np.abs(a - b) <= SAME * float(np.ptp(a))))


LATEST = 24
"""Rows by which a copy may be late (choice)."""
EXPLAINED = 0.3
"""Share of the difference that is left when one is shifted to the other (choice)."""


def leads(a: Floats, b: Floats) -> float:
    """Near 1 where `b` follows `a` (late or smoothed), near -1 the other way round, near 0 where they just differ."""
    if len(a) < 4 * LATEST:
        return 0.0
    apart = float(np.abs(a - b).mean())
    middle = a[LATEST:-LATEST]
    off = {
        lag: float(np.abs(middle - b[LATEST + lag : len(b) - LATEST + lag]).mean())
        for lag in range(-LATEST, LATEST + 1)
    }
    lag = min(off, key=lambda one: off[one])
    if lag != 0 and off[lag] <= EXPLAINED * apart:
        return 1.0 if lag > 0 else -1.0
    rows = np.arange(len(a))
    ahead, behind = np.minimum(rows + 4, len(a) - 1), np.maximum(rows - 4, 0)
    change = a[ahead] - a[behind] + b[ahead] - b[behind]
    size = float(np.sqrt(((a - b) @ (a - b)) * (change @ change)))
    return float((a - b) @ change) / size if size > 0.0 else 0.0


def alike(a: Floats, b: Floats) -> float:
    """Correlation; 0 for a constant."""
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0.0 else 0.0


def slope(values: Floats, t: Floats, reach: int) -> Floats:
    """Change a second, over `reach` rows to each side; the ends repeat."""
    ahead = np.minimum(np.arange(len(t)) + reach, len(t) - 1)
    behind = np.maximum(np.arange(len(t)) - reach, 0)
    return (values[ahead] - values[behind]) / np.maximum(t[ahead] - t[behind], 1e-6)


def mean_over(values: Floats, t: Floats, reach: int) -> Floats:
    """Mean by time over `reach` rows to each side, as `slope` sees them."""
    steps = np.concatenate([[0.0], np.cumsum((values[1:] + values[:-1]) / 2.0 * np.diff(t))])
    return slope(steps, t, reach)


def ratio(a: Floats, b: Floats) -> tuple[float, float, float]:
    """(k, mean and 90th percentile of |a / (k b) - 1|), k the median of a / b; b > 0. Above 0.2 it counts as 0.2."""
    parts = a / b
    k = float(np.median(parts))
    if k == 0.0 or not np.isfinite(k):
        return 0.0, float("inf"), float("inf")
    off = np.abs(parts / k - 1.0)
    return k, float(np.minimum(off, 0.2).mean()), float(np.quantile(off, 0.9))
