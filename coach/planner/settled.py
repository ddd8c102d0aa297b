"""Whether the car is settled again after an incident."""

from __future__ import annotations

from coach.planner import rules
from coach.vocabulary.events import Fault, Moment

INCIDENTS = ("spin", "off_track")
"""Faults after which nothing is said until the car is settled."""
AT_PACE = 0.8
"""Share of the reference's speed here at which a car is driven again and not brought back (choice)."""


class Settling:
    """Fed the findings and the moments. `wait`: s since the incident; then the car must be at pace as well."""

    def __init__(self, wait: float) -> None:
        self._wait = wait
        self._upset: float | None = None
        self.since: float | None = None
        """s: when it was settled last, None where it never was upset"""

    def reset(self) -> None:
        """The car was put elsewhere."""
        self._upset = self.since = None

    def found(self, fault: Fault) -> None:
        """A finding: an incident upsets."""
        if fault.fault in INCIDENTS:
            self._upset = fault.t

    def update(self, moment: Moment, reference: float | None) -> None:
        """`reference`: m/s of the reference here, None where it is not known."""
        if moment.quiet == "off":
            self._upset = moment.t
            return
        if self._upset is None or moment.t - self._upset < self._wait - rules.ROUNDING:
            return
        slow = moment.speed is not None and reference is not None and moment.speed < AT_PACE * reference
        if not slow:
            self._upset, self.since = None, moment.t

    @property
    def is_upset(self) -> bool:
        """Whether nothing may be said."""
        return self._upset is not None
