"""Throttle on the way out of a corner.

Back on the throttle, the weight goes to the rear, the car can take more of the road and every metre of the straight
begins at a higher speed: a late pickup costs from its place to the end of the straight. Throttle tau s late at 20 m/s
before a 500 m straight at 4 m/s^2 costs 0.070 s for each 0.1 s (closed form, in the tests).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from coach.engine.faults.base import CornerPass, Finding
from coach.engine.faults.pedals import Throttle, way_to_power
from coach.engine.stretch import Stretch

LEAST_LATE = 0.15
"""s: a lateness that a driver can feel and mend; a simple reaction to sound takes about as long (checks 1.33)."""
PRIOR_PLACE = 1.5
"""m, standard deviation of the place of committed throttle before the driver's own is known (choice)."""
BAND = 3.0
"""standard deviations of the driver's own scatter that are no fault."""

COMMITTED_AT = "committed_at"


class ThrottleFamily:
    """`late_throttle`: committed throttle after the reference's place and past the apex, in s."""

    name: ClassVar[str] = "throttle"
    faults: ClassVar[tuple[str, ...]] = ("late_throttle",)
    needs: ClassVar[tuple[str, ...]] = ("throttle",)
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """Committed, or nothing to wait for."""
        return not self._judges(p) or _own(p).committed is not None

    def judge(self, p: CornerPass) -> list[Finding]:
        """Late where the driver commits behind the reference's place by more than the own scatter there."""
        if not self._judges(p) or p.reference is None:
            return []
        there = _way(p, p.reference).committed
        if there is None:
            return []
        own, place = _own(p), p.at_least_usual(COMMITTED_AT, there[1])
        at_place = p.own.time_at(place)
        if at_place is None:
            return []
        committed = own.committed if own.committed is not None else (p.own.t[-1], p.own.d[-1])
        late = committed[0] - at_place
        speed = p.reference.value_at("speed", place) or 20.0
        allowed = max(LEAST_LATE, BAND * p.spread(COMMITTED_AT, PRIOR_PLACE) / max(speed, 5.0))
        if late <= allowed or committed[1] <= p.bounds.apex:
            return []
        evidence = {"committed_at": committed[1], "reference_at": place, "allowed": allowed}
        if own.picked_up is not None:
            evidence["picked_up_at"] = own.picked_up[1]
        return [Finding("late_throttle", place, at_place, late, "s", ("exit", "straight"), evidence)]

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The place of committed throttle."""
        committed = _own(p).committed
        if committed is not None:
            yield COMMITTED_AT, committed[1]

    def _judges(self, p: CornerPass) -> bool:
        """Between two corners of a linked run throttle only balances the car: it is judged where power follows."""
        return p.by_marks and p.reference is not None and not p.linked


def _own(p: CornerPass) -> Throttle:
    return _way(p, p.own)


def _way(p: CornerPass, rows: Stretch) -> Throttle:
    return way_to_power(rows, p.bounds.braking, p.bounds.end)
