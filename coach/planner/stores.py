"""Fuel, laps and time: how far they go, and when that has to be said."""

from __future__ import annotations

from math import ceil, floor
from statistics import median

from coach.vocabulary.events import Advice, Stores

LAPS = 5
"""Laps whose median use of fuel is counted on: one lap behind another car is no measure."""
WARN = (5, 3, 2, 1)
"""Laps of fuel at which too little for the rest is said, each once (choice)."""


class Tank:
    """Fed the stores and the laps. All counts are of whole laps that can still be driven to their end."""

    def __init__(self) -> None:
        self._now: Stores | None = None
        self._before: float | None = None
        self._used: list[float] = []
        self._times: list[float] = []
        self._warned: int | None = None

    def update(self, stores: Stores) -> None:
        """What is left now."""
        before = None if self._now is None else self._now.fuel
        if before is not None and stores.fuel is not None and stores.fuel > before + 1.0:
            self._before, self._warned = None, None  # filled up
        self._now = stores

    def lap_over(self, time: float | None) -> None:
        """A lap ended; `time` s, None where it was not whole."""
        fuel = None if self._now is None else self._now.fuel
        if time is not None:
            self._times = [*self._times, time][-LAPS:]
            if fuel is not None and self._before is not None and self._before > fuel:
                self._used = [*self._used, self._before - fuel][-LAPS:]
        self._before = fuel

    @property
    def a_lap(self) -> float | None:
        """L that a lap takes."""
        return median(self._used) if self._used else None

    @property
    def has_fuel(self) -> bool:
        """Whether the source says how much there is."""
        return self._now is not None and self._now.fuel is not None

    @property
    def fuel_laps(self) -> int | None:
        """Whole laps that the fuel lasts from here on."""
        if self._now is None or self._now.fuel is None or self.a_lap is None:
            return None
        return floor(self._now.fuel / self.a_lap + 1e-9)

    @property
    def laps_left(self) -> int | None:
        """Laps of the session that are left: as the source counts, else what the time allows, the running one too."""
        if self._now is None:
            return None
        if self._now.laps_left is not None:
            return max(0, round(self._now.laps_left))
        if self._now.time_left is None or not self._times:
            return None
        return ceil(max(self._now.time_left, 0.0) / median(self._times))

    @property
    def minutes_left(self) -> int | None:
        """Whole minutes of the session that are left."""
        if self._now is None or self._now.time_left is None:
            return None
        return floor(max(self._now.time_left, 0.0) / 60.0)

    def advice(self, t: float, lap: int) -> Advice | None:
        """How far the fuel goes, with the numbers behind it; None where that is not known."""
        lasts, left, a_lap = self.fuel_laps, self.laps_left, self.a_lap
        if lasts is None or a_lap is None or self._now is None or self._now.fuel is None:
            return None
        numbers = {"fuel": self._now.fuel, "a_lap": a_lap, "laps": float(lasts)}
        text = f"{self._now.fuel:.1f} L of fuel at {a_lap:.2f} L a lap: {lasts} laps"
        if left is not None:
            numbers |= {"laps_left": float(left), "lacks": max(0.0, left * a_lap - self._now.fuel)}
            text += f", {left} to go, {numbers['lacks']:.1f} L short"
        return Advice(t, lap, "fuel", text, numbers)

    def warning(self) -> int | None:
        """Laps of fuel where that is too little for the rest, and it was not said of so few yet."""
        lasts, left = self.fuel_laps, self.laps_left
        if lasts is None or lasts < 1 or (left is not None and lasts >= left):
            return None
        step = _step(lasts)
        return None if step is None or (self._warned is not None and step >= self._warned) else lasts

    def warned(self) -> None:
        """The warning was said."""
        self._warned = None if self.fuel_laps is None else _step(self.fuel_laps)


def _step(lasts: int) -> int | None:
    return next((warn for warn in reversed(WARN) if lasts <= warn), None)
