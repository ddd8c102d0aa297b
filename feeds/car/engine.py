"""The engine: torque by speed and throttle, idle governor and limiter."""

from __future__ import annotations

from feeds.car.spec import RPM, EngineSpec

STEP = 50.0
"""rev/min between the table's entries"""


class Engine:
    """Torques in Nm at an engine speed in rad/s. A closed throttle leaves the friction, an open one adds combustion."""

    __slots__ = ("_fade", "_friction", "_full", "_governed", "_idle", "_last", "_limit", "spec")

    def __init__(self, spec: EngineSpec) -> None:
        self.spec = spec
        count = int(spec.curve[-1][0] / STEP) + 2
        self._full = [_between(spec.curve, STEP * i) for i in range(count)]
        self._last = count - 2
        self._friction = spec.friction
        self._limit, self._fade = spec.limit, spec.fade
        self._idle = spec.idle
        self._governed = 1.05 * spec.idle

    def full(self, spin: float) -> float:
        """At full throttle, without the limiter."""
        place = spin * (RPM / STEP)
        i = int(place)
        if i >= self._last:
            return self._full[self._last]
        return self._full[i] + (self._full[i + 1] - self._full[i]) * (place - i)

    def friction(self, spin: float) -> float:
        """What it takes to turn the engine; nothing at rest."""
        rpm = spin * RPM
        still, linear, square = self._friction
        return (still + (linear + square * rpm) * rpm) * (rpm * 0.01 if rpm < 100.0 else 1.0)

    def combustion(self, spin: float, throttle: float) -> float:
        """What the burning fuel gives: the share `throttle` of full; more where the idle governor asks; none over the
        limit.
        """
        rpm = spin * RPM
        if rpm < self._governed:
            asked = 2.0 * (self._governed - rpm) / self._idle
            throttle = max(throttle, min(asked, 1.0))
        over = (rpm - self._limit) / self._fade
        if over > -1.0:
            throttle *= 0.5 * (1.0 - over) if over < 1.0 else 0.0
        return throttle * (self.full(spin) + self.friction(spin)) if throttle > 0.0 else 0.0


def _between(curve: tuple[tuple[float, float], ...], at: float) -> float:
    """Straight between the points, flat beyond them."""
    before = curve[0]
    for point in curve:
        if at < point[0]:
            share = (at - before[0]) / (point[0] - before[0]) if point is not before else 0.0
            return before[1] + (point[1] - before[1]) * share
        before = point
    return before[1]
