"""Throttle on the way out of a corner.

Back on the throttle, the weight goes to the rear, the car can take more of the road and every metre of the straight
begins at a higher speed: a late pickup costs from its place to the end of the straight. Throttle tau s late at 20 m/s
before a 500 m straight at 4 m/s^2 costs 0.070 s for each 0.1 s (closed form, in the tests).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from coach.engine.faults.base import CornerPass, Finding
from coach.engine.faults.pedals import COMMITTED, PICKUP_HOLD, Throttle, way_to_power
from coach.engine.stretch import Stretch

LEAST_LATE = 0.15
"""s: a lateness that a driver can feel and mend; a simple reaction to sound takes about as long (checks 1.33)."""
PRIOR_PLACE = 1.5
"""m, standard deviation of the place of committed throttle before the driver's own is known (choice)."""
NEARLY = 0.4
"""Throttle: who is above it all the way from the reference's place hovers about `COMMITTED` with the same foot."""
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
        """Committed for so long that it is no stab, or nothing to wait for."""
        if not self._judges(p):
            return True
        committed = _own(p).committed
        return committed is not None and p.own.t[-1] - committed[0] >= PICKUP_HOLD

    def judge(self, p: CornerPass) -> list[Finding]:
        """Late where the driver commits behind the reference's place by more than the own scatter there.

        A bend in which either of them only held part throttle has no pickup to be late with.
        """
        if not self._judges(p) or p.reference is None:
            return []
        reference, own = _way(p, p.reference), _own(p)
        there = reference.committed
        if there is None or not (reference.off and own.off):
            return []
        place = p.at_least_usual(COMMITTED_AT, there[1])
        at_place = p.own.time_at(place)
        if at_place is None:
            return []
        committed = own.committed if own.committed is not None else (p.own.t[-1], p.own.d[-1])
        late = committed[0] - at_place
        speed = p.reference.value_at("speed", place) or 20.0
        allowed = max(LEAST_LATE, BAND * p.spread(COMMITTED_AT, PRIOR_PLACE) / max(speed, 5.0))
        if late <= allowed or committed[1] <= p.bounds.apex or _nearly_there(p.own, place, committed[1]):
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
        """Between two corners of a linked run a touch of throttle only balances the car: judged where power follows."""
        if not p.by_marks or p.reference is None:
            return False
        return not p.linked or _powers_on(p.reference, _way(p, p.reference))


def _powers_on(rows: Stretch, way: Throttle) -> bool:
    """Throttle stays over `COMMITTED` for `PICKUP_HOLD` s from its place on."""
    if way.committed is None:
        return False
    throttle, begins = rows["throttle"], way.committed[0]
    held = range(rows.index_at_time(begins) + 1, rows.index_at_time(begins + PICKUP_HOLD))
    return all(throttle[i] > COMMITTED for i in held)


def _nearly_there(rows: Stretch, start: float, end: float) -> bool:
    throttle = rows["throttle"]
    return all(throttle[i] >= NEARLY for i in range(rows.index(start), rows.index(end)))


def _own(p: CornerPass) -> Throttle:
    return _way(p, p.own)


def _way(p: CornerPass, rows: Stretch) -> Throttle:
    return way_to_power(rows, p.bounds.braking, p.bounds.end)
