"""The day's common pace: what is lost in every corner alike is the day, and not a fault of one of them."""

from __future__ import annotations

from collections import deque
from statistics import median

PASSES = 12
"""The last passes that count: about a lap."""
ENOUGH = 4
"""Passes before a median of them says anything of the day (choice)."""


class CommonPace:
    """The median loss of the last passes, as a share of the time that they should have taken."""

    def __init__(self) -> None:
        self._shares: deque[float] = deque(maxlen=PASSES)

    def add(self, net: float, target: float) -> None:
        """One more pass: it lost `net` s on a stretch of road that should take `target` s."""
        if target > 0.0:
            self._shares.append(net / target)

    def share(self) -> float:
        """Seconds lost for each second of driving, wherever one looks; 0 on a day that is as quick or quicker."""
        if len(self._shares) < ENOUGH:
            return 0.0
        return max(0.0, median(self._shares))
