"""Where there is room to read: on a straight, as the driver drives it and as the reference does."""

from __future__ import annotations

from itertools import pairwise
from math import isfinite

from coach.vocabulary.events import Moment
from coach.vocabulary.trace import LapTrace

_FULL = 0.95
"""Throttle that counts as full (contract, section 5)."""
_EASED = 0.8
"""Throttle under which full throttle has ended (choice, as for the reference in the design)."""
_CUT = 0.3
"""s that the throttle may dip for, as in a gear change (common practice)."""
_HELD = 0.3
"""s that full throttle must have lasted before a dip can be that of a gear change (choice, as for speech)."""
_BRAKE = 0.05
"""Brake up to which a foot only rests on it (choice)."""
_LATERAL_SHARE = 0.99
_LATERAL_OF_MOST = 0.45
"""Share of the reference's 99th percentile of lateral acceleration that ends a straight: under the design's half of
the greatest, and by percentile so that one noisy sample does not raise it (choice)."""
_LATERAL_BEGIN = 0.8
"""Share of that bound under which a straight begins: the space between the two keeps it from flickering (choice)."""
_GAP = 0.5
"""s between two samples after which nothing is known of what the driver held (choice)."""


class ReadingRoom:
    """Fed the reference's trace and one Moment a sample.

    `since`: s of the source, when the straight that the car is on began; None where it is on none. `full`: since when
    the throttle is full, but for gear changes, as speech counts it; None where it is not. `left`: s at the reference's
    pace until the reference brakes, lifts or turns again; 0.0 where it does so here, or is not known.
    """

    def __init__(self) -> None:
        self.since: float | None = None
        self.full: float | None = None
        self.left = 0.0
        self._trace: LapTrace | None = None
        self._bound: float | None = None
        self._ahead: list[float] = []
        self._eased_at = self._full_at = 0.0
        self._t: float | None = None

    def know(self, trace: LapTrace | None) -> None:
        """The reference, or None where there is none any more."""
        self._trace = trace if trace is not None and _usable(trace) else None
        self._bound = None if self._trace is None else _bound(self._trace.lateral)
        self._ahead = [] if self._trace is None else _seconds_ahead(self._trace, self._bound)
        self.leave()

    def leave(self) -> None:
        """The car was moved, or the stream jumped: it is on no straight until it is seen on one."""
        self.since, self.full, self.left, self._t = None, None, 0.0, None

    def update(self, moment: Moment) -> None:
        """Take one sample."""
        t = moment.t
        if self._t is not None and not 0.0 <= t - self._t <= _GAP:
            self.leave()
        self._t = t
        self._press(moment)
        self.left = self._left(moment.distance)
        if self.left <= 0.0 or moment.quiet not in ("", "race") or not self._holds(moment):
            self.since = None
        elif self.since is None:
            self.since = t

    def _holds(self, moment: Moment) -> bool:
        """Whether the driver is on a straight: it takes more to begin one than to stay on it."""
        begun = self.since is not None
        throttle, lateral, bound = moment.throttle, moment.lateral, self._bound
        if throttle is None or (moment.brake is not None and not moment.brake <= _BRAKE):
            return False
        if lateral is not None and bound is not None:
            most = bound if begun else _LATERAL_BEGIN * bound
            if not abs(lateral) <= most:
                return False
        if throttle >= (_EASED if begun else _FULL):
            self._eased_at = moment.t
            return True
        return begun and moment.t - self._eased_at <= _CUT

    def _press(self, moment: Moment) -> None:
        """A driver who feels for grip with the throttle has not had it full since the first touch."""
        t, throttle = moment.t, moment.throttle
        if throttle is not None and throttle >= _FULL:
            self.full = t if self.full is None else self.full
            self._full_at = t
        elif self.full is not None and (self._full_at - self.full < _HELD or t - self._full_at > _CUT):
            self.full = None

    def _left(self, distance: float | None) -> float:
        trace = self._trace
        if trace is None or distance is None:
            return 0.0
        place = int(distance % trace.length / trace.step)
        return self._ahead[min(place, len(self._ahead) - 1)]


def _usable(trace: LapTrace) -> bool:
    grid = len(trace.time)
    channels = (trace.throttle, trace.brake, trace.lateral)
    return trace.length > 0 and trace.step > 0 and grid >= 2 and all(len(channel) == grid for channel in channels)


def _bound(lateral: list[float]) -> float | None:
    known = sorted(value for value in lateral if isfinite(value))
    most = known[int(_LATERAL_SHARE * (len(known) - 1))] if known else 0.0
    return _LATERAL_OF_MOST * most if most > 0.0 else None


def _seconds_ahead(trace: LapTrace, bound: float | None) -> list[float]:
    """For each step of the grid, the s from its start until the reference is busy: round the lap, backwards."""
    steps = [later - sooner for sooner, later in pairwise(trace.time)]
    hard = [
        not (brake <= _BRAKE and (bound is None or not isfinite(lateral) or lateral <= bound))
        for brake, lateral in zip(trace.brake, trace.lateral, strict=True)
    ]
    ahead, left, dip = [0.0] * len(steps), 0.0, 0.0
    for _ in range(2):  # the second time round knows what comes after the line
        for index in reversed(range(len(steps))):
            dip = dip + steps[index] if not trace.throttle[index] >= _EASED else 0.0
            left = 0.0 if hard[index] or hard[index + 1] or dip > _CUT else left + steps[index]
            ahead[index] = left
    return ahead
