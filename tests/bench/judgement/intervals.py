"""95 % intervals for shares and for rates."""

from __future__ import annotations

import math

Z = 1.959964
"""the normal distribution's 97.5 % point"""


def wilson(hits: int, tries: int) -> tuple[float, float]:
    """The interval of a share (Wilson 1927, Journal of the American Statistical Association 22, 209; `from memory`)."""
    if not tries:
        return 0.0, 1.0
    share, square = hits / tries, Z * Z / tries
    middle = (share + square / 2) / (1 + square)
    half = Z / (1 + square) * math.sqrt(share * (1 - share) / tries + square / (4 * tries))
    return max(middle - half, 0.0), min(middle + half, 1.0)


def poisson(count: int) -> tuple[float, float]:
    """The interval of an expected count, by Byar's approximation (Breslow and Day 1987, `from memory`)."""
    low = count * (1 - 1 / (9 * count) - Z / (3 * math.sqrt(count))) ** 3 if count else 0.0
    more = count + 1
    return low, more * (1 - 1 / (9 * more) + Z / (3 * math.sqrt(more))) ** 3
