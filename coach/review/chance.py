"""How likely a difference is by luck alone: two tests that make no assumption of how laps spread. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import comb, erfc, sqrt

HAIR = 1e-7
"""of a probability: two tables as likely as each other differ by rounding."""
EXACT = 400
"""products of both sizes up to which the ranks are counted out; beyond, the normal curve is as good (choice)."""


def fisher(hits: int, passes: int, hits_after: int, passes_after: int) -> float:
    """The chance that two shares differ as much as these by luck alone: Fisher's exact test, two-sided.

    Source: R. A. Fisher, "On the interpretation of chi^2 from contingency tables", J. R. Stat. Soc. 85 (1922); all
    tables with the same sums that are no likelier than this one. 1.0 where a side has no pass.
    """
    every, found = passes + passes_after, hits + hits_after
    if not passes or not passes_after:
        return 1.0
    ways = comb(every, found)
    least, most = max(0, found - passes_after), min(passes, found)
    chances = [comb(passes, k) * comb(passes_after, found - k) / ways for k in range(least, most + 1)]
    own = chances[hits - least]
    return min(1.0, sum(chance for chance in chances if chance <= own * (1.0 + HAIR)))


def mann_whitney(first: Sequence[float], second: Sequence[float]) -> float:
    """The chance that two samples lie as far apart in rank as these by luck alone: Mann-Whitney U, two-sided.

    Source: H. B. Mann and D. R. Whitney, Ann. Math. Stat. 18 (1947). Counted out for small samples without ties, else
    by the normal curve with corrections for ties and continuity. 1.0 where either is empty.
    """
    n, m = len(first), len(second)
    if not n or not m:
        return 1.0
    u = sum((a > b) + 0.5 * (a == b) for a in first for b in second)
    ties = Counter([*first, *second])
    if n * m <= EXACT and max(ties.values()) == 1:
        return _counted(n, m, int(min(u, n * m - u)))
    total = n + m
    tied = sum(count**3 - count for count in ties.values())
    spread = sqrt(n * m / 12.0 * (total + 1 - tied / (total * (total - 1))))
    if spread == 0.0:
        return 1.0
    off = max(0.0, abs(u - 0.5 * n * m) - 0.5)
    return min(1.0, erfc(off / spread / sqrt(2.0)))


def _counted(n: int, m: int, low: int) -> float:
    """Two-sided chance of a U of `low` or less: the ways to lay the ranks, by their own recursion."""
    ways = [[1] + [0] * low for _ in range(m + 1)]  # no member of the first sample placed yet: U is 0
    for _ in range(n):
        following: list[list[int]] = []
        for j in range(m + 1):
            row = [0] * (low + 1)
            for u in range(low + 1):
                without = following[j - 1][u] if j else 0
                row[u] = without + (ways[j][u - j] if u >= j else 0)
            following.append(row)
        ways = following
    return min(1.0, 2.0 * sum(ways[m]) / comb(n + m, n))
