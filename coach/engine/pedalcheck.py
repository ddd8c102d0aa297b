"""Pedals that never reach their ends: said once, since much is judged by full throttle and by brakes that are off."""

from __future__ import annotations

from coach.vocabulary.events import Detector, Event
from coach.vocabulary.sample import Sample

LISTEN = 120.0
"""s of driving, more than most laps take, in which a driver is flat out and off the brakes at some time."""
MOVING = 10.0
"""m/s: a car that stands or crawls says nothing of its pedals."""
FULL, OFF = 0.95, 0.05
"""Throttle that is full, brake that is off (contract, section 5)."""


class PedalCheck:
    """Watches how far the pedals go while the car drives."""

    def __init__(self) -> None:
        self._driven = 0.0
        self._full = self._off = False
        self._throttle: float | None = None
        self._brake: float | None = None
        self._told: set[str] = set()

    def watch(self, sample: Sample, step: float | None, lap: int) -> list[Event]:
        """Takes one sample in, `step` s after the last; returns what is to be said of a pedal."""
        if self._full and self._off and not self._told:
            return []
        if step is None or sample.speed is None or sample.speed < MOVING:
            return []
        self._driven += min(step, 1.0)
        if sample.throttle is not None:
            self._throttle = sample.throttle if self._throttle is None else max(self._throttle, sample.throttle)
            self._full = self._throttle >= FULL
        if sample.brake is not None:
            self._brake = sample.brake if self._brake is None else min(self._brake, sample.brake)
            self._off = self._brake <= OFF
        if self._driven < LISTEN:
            return []
        return [
            *self._say(sample.t, lap, "full_throttle", self._throttle, self._full, "never over"),
            *self._say(sample.t, lap, "brake_off", self._brake, self._off, "never under"),
        ]

    def _say(self, t: float, lap: int, name: str, end: float | None, reached: bool, way: str) -> list[Event]:
        if end is None or reached == (name not in self._told):
            return []
        if reached:
            self._told.remove(name)
            return [Detector(t, lap, name, True, None)]
        self._told.add(name)
        pedal = "throttle" if name == "full_throttle" else "brake"
        mend = "let the source send 0 for a pedal at rest and 1 for one fully pressed"
        return [Detector(t, lap, name, False, f"{pedal} {way} {end:.2f}: {mend}")]
