"""How hard this driver has slowed this car, by speed."""

from __future__ import annotations

from collections import deque

from coach.engine.held import BRAKING
from coach.vocabulary.sample import Sample

BAND = 10.0
"""m/s: brakings from speeds this near each other compare; drag and downforce differ beyond."""
KEPT = 30
"""Brakings a band; the oldest is forgotten."""
ENOUGH = 5
"""Brakings before a band is known."""
OVER = 0.3
"""s over which a deceleration is read from the speed."""
SHARE = 0.75
"""The quantile taken for what was shown: what the driver does time and again, not the luckiest braking (choice)."""


class Brakes:
    """Learns from each braking its greatest mean deceleration over `OVER` s and the speed it began at."""

    def __init__(self) -> None:
        self._shown: dict[int, deque[float]] = {}
        self._rows: deque[tuple[float, float]] = deque()
        self._begun: float | None = None
        self._hardest = 0.0

    def watch(self, sample: Sample) -> None:
        """Takes one sample in."""
        if sample.brake is None or sample.speed is None:
            return
        if sample.brake <= BRAKING:
            if self._begun is not None:
                self._keep()
            return
        t, speed, rows = sample.t, sample.speed, self._rows
        if rows and not 0.0 < t - rows[-1][0] < OVER:
            rows.clear()
            self._begun = None
        if self._begun is None:
            self._begun, self._hardest = speed, 0.0
        rows.append((t, speed))
        while t - rows[0][0] > OVER + 1e-6:
            rows.popleft()
        if t - rows[0][0] > 0.8 * OVER:
            self._hardest = max(self._hardest, (rows[0][1] - speed) / (t - rows[0][0]))

    def _keep(self) -> None:
        if self._hardest > 0.0 and self._begun is not None:
            self._shown.setdefault(int(self._begun / BAND), deque(maxlen=KEPT)).append(self._hardest)
        self._rows.clear()
        self._begun = None

    def hardest(self, speed: float) -> float | None:
        """m/s^2 that this driver shows time and again in brakings from about `speed` m/s; None until seen enough."""
        shown = self._shown.get(int(speed / BAND))
        if shown is None or len(shown) < ENOUGH:
            return None
        ranked = sorted(shown)
        return ranked[int(SHARE * (len(ranked) - 1))]
