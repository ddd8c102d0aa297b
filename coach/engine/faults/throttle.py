"""Throttle on the way out of a corner.

Back on the throttle, the weight goes to the rear, the car can take more of the road and every metre of the straight
begins at a higher speed: a late pickup costs from its place to the end of the straight. Throttle tau s late at 20 m/s
before a 500 m straight at 4 m/s^2 costs 0.070 s for each 0.1 s (closed form, in the tests).

First touch and committed throttle are told apart: a corner may be driven with balance throttle first and power later,
and what is given before the reference's place counts against what comes later (common practice: back on the throttle
before the apex, so that the weight is on the rear). A foot that came in time but did not stay has lifted, and is not
late. A foot that goes down and up again is a stab; their number is in the evidence.

Channels: throttle; brake and gear where sent, for blips and the cut of a shift. Traction control changes nothing here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from coach.engine.faults.base import BAND, CornerPass, Finding
from coach.engine.faults.pedals import COMMITTED, PICKUP, PICKUP_HOLD, Throttle, braking_rows, near_upshift
from coach.engine.held import BRAKING, held
from coach.engine.stretch import Stretch

LEAST_LATE = 0.15
"""s: a lateness that a driver can feel and mend; a simple reaction to sound takes about as long (checks 1.33)."""
MOST_LATE, PAYS = 0.4, 0.05
"""s late, and s lost by it: a throttle that comes and goes by more than this from lap to lap and costs that much is a
fault, however usual it is for this driver (choice)."""
PRIOR_PLACE = 1.5
"""m, standard deviation of the place of committed throttle before the driver's own is known (choice)."""
NEARLY = 0.4
"""Throttle: who is above it all the way from the reference's place hovers about `COMMITTED` with the same foot."""
LIFTED = 0.35
"""Throttle: a lift goes under it, and lasts until `COMMITTED` is passed again; less is a breath."""
STAB = 0.1
"""s over `COMMITTED`: shorter is a blip (choice)."""
LOW = 0.6
"""Throttle: whose foot is under it has not lifted where another one lifts from more (choice: `COMMITTED` and a bit)."""
LEAST_LIFT, PRIOR_LIFT = 0.25, 0.06
"""s: what a hesitating foot does, and its standard deviation before the driver's own is known (choice)."""
COMMITTED_AT, LIFT = "committed_at", "lift"


class ThrottleFamily:
    """`late_throttle`: committed throttle after the reference's place and past the apex. `throttle_lift`: a lift after
    it. Both in s.
    """

    name: ClassVar[str] = "throttle"
    faults: ClassVar[tuple[str, ...]] = ("late_throttle", "throttle_lift")
    needs: ClassVar[tuple[str, ...]] = ("throttle",)
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """Committed for so long that it is no stab, and not lifting, or nothing to wait for."""
        if not self._judges(p):
            return True
        if _lifting(p):
            return False
        committed = p.way(p.own).committed
        return committed is not None and p.own.t[-1] - committed[0] >= PICKUP_HOLD

    def judge(self, p: CornerPass) -> list[Finding]:
        """Late where the driver commits behind the reference's place by more than the own scatter there.

        A bend in which either of them only held part throttle has no pickup to be late with.
        """
        late, lift = self._late(p), self._lift(p)
        if late and lift and _touched(p) <= late[0].begins + late[0].evidence["allowed"]:
            return lift  # the foot came in time, and did not stay
        return [*late, *lift]

    def _late(self, p: CornerPass) -> list[Finding]:
        if not self._judges(p) or p.reference is None:
            return []
        reference, own = p.way(p.reference), p.way(p.own)
        there = reference.committed
        if there is None or not (reference.off and own.off):
            return []
        place = p.at_least_usual(COMMITTED_AT, there[1]) + max(0.0, p.common(COMMITTED_AT))
        at_place = p.own.time_at(place)
        if at_place is None:
            return []
        committed = own.committed if own.committed is not None else (p.own.t[-1], p.own.d[-1])
        if _braked_between(p.own, at_place, committed[0]):
            return []  # the next corner's brakes came first: what was early there was not late here
        late = committed[0] - at_place
        speed = p.reference.value_at("speed", place) or 20.0
        allowed = max(LEAST_LATE, BAND * p.spread(COMMITTED_AT, PRIOR_PLACE) / max(speed, 5.0))
        if p.beyond(("exit", "straight")) >= PAYS:
            allowed = min(allowed, MOST_LATE)
        credit = _given_before(p.own, p.reference, place)
        if late - credit <= allowed or committed[1] <= p.bounds.apex or _nearly_there(p.own, place, committed[1]):
            return []
        evidence = {"committed_at": committed[1], "reference_at": place, "allowed": allowed, "credit": credit}
        evidence |= _how(p, own, committed)
        found = Finding("late_throttle", place, at_place, late, "s", ("exit", "straight"), evidence, late / allowed)
        found.since = _idle_since(p.own, committed[0])
        return [found]

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The place of committed throttle, and the longest lift behind it."""
        committed = p.way(p.own).committed
        if committed is not None:
            yield COMMITTED_AT, committed[1]
            yield LIFT, _lifted(p)[0]

    def _lift(self, p: CornerPass) -> list[Finding]:
        """The longest lift from committed throttle on, but for the time that the reference's foot is low there too."""
        if p.reference is None or not p.by_marks:
            return []
        own, row, end = _lifted(p)
        longer = own - _low_between(p.reference, p.own.d[row], p.own.d[end])
        allowed = max(LEAST_LIFT, BAND * p.spread(LIFT, PRIOR_LIFT))
        if longer <= allowed:
            return []
        evidence = {"lifted": own, "reference": own - longer, "allowed": allowed}
        phases = ("exit", "straight")
        place, t = p.own.d[row], p.own.t[row]
        return [Finding("throttle_lift", place, t, longer, "s", phases, evidence, longer / allowed)]

    def _judges(self, p: CornerPass) -> bool:
        """Between two corners of a linked run a touch of throttle only balances the car: judged where power follows."""
        if not p.by_marks or p.reference is None:
            return False
        return not p.linked or _powers_on(p.reference, p.way(p.reference))


def _touched(p: CornerPass) -> float:
    """s when throttle first passed `COMMITTED` for `STAB` s behind the brakes, whether it stayed or not; else the end.

    Without brakes, when it came back for good.
    """
    rows, way = p.own, p.way(p.own)
    ends = way.committed[0] if way.committed is not None else rows.t[-1]
    since = _idle_since(rows, ends)
    if since is None or since < rows.t[min(rows.index(p.bounds.braking), len(rows) - 1)]:
        return ends
    throttle, first = rows["throttle"], rows.index_at_time(since) + 1
    up = held((throttle[i] > COMMITTED for i in range(first, len(rows))), rows.t[first:], STAB)
    return next((rows.t[first + i] for i, on in enumerate(up) if on), ends)


def _how(p: CornerPass, own: Throttle, committed: tuple[float, float]) -> dict[str, float]:
    """How the foot came: pickup behind the last apex (s and m, negative before it), from there to committed, stabs."""
    numbers: dict[str, float] = {}
    apex = p.own.time_at(p.bounds.apex)
    if own.picked_up is not None:
        t, d = own.picked_up
        numbers = {"picked_up_at": d, "rise": committed[0] - t}
        if apex is not None:
            numbers |= {"after_apex_s": t - apex, "after_apex_m": d - p.bounds.apex}
    first = p.own.index_at_time(_idle_since(p.own, committed[0]) or p.own.t[0])
    throttle, up = p.own["throttle"], False
    stabs = 0
    for i in range(first, p.own.index_at_time(committed[0])):
        if not up and throttle[i] > COMMITTED:
            up = True
        elif up and throttle[i] < PICKUP:
            up, stabs = False, stabs + 1
    return numbers | {"stabs": stabs}


def _given_before(own: Stretch, reference: Stretch, place: float) -> float:
    """s of full throttle that were given more than by the reference between the brakes and `place`.

    Who balances the car with some throttle from before the apex on has the weight on the rear already, and part of the
    speed that comes of it, when the power follows a little later.
    """
    t, d, throttle = own.t, own.d, own["throttle"]
    at = own.time_at(place)
    if at is None:
        return 0.0
    first, more = own.index_at_time(_idle_since(own, at) or at), 0.0
    for i in range(first, own.index_at_time(at) - 1):
        there = reference.value_at("throttle", d[i])
        if there is not None and throttle[i] > there:
            more += (throttle[i] - there) * (t[i + 1] - t[i])
    return more


def _braked_between(rows: Stretch, start: float, end: float) -> bool:
    braked = braking_rows(rows)
    return any(braked[i] for i in range(rows.index_at_time(start), min(rows.index_at_time(end), len(rows))))


def _idle_since(rows: Stretch, until: float) -> float | None:
    """s when the brakes were left for the last time before `until` s; None where there were none."""
    braked = braking_rows(rows)
    last = next((i for i in range(rows.index_at_time(until) - 1, -1, -1) if braked[i]), None)
    return None if last is None else rows.t[last]


def _lifted(p: CornerPass) -> tuple[float, int, int]:
    """s, first row and the row behind the longest lift that begins between committed throttle and the exit."""
    rows = p.own
    until = min(rows.index(p.bounds.end), len(rows) - 1)
    throttle, cut, braked = rows["throttle"], near_upshift(rows), braking_rows(rows)
    best, start = (0.0, 0, 0), rows.index_at_time(_touched(p))
    while start < min(rows.index(p.bounds.exit), until):
        end = start
        while end < until and throttle[end] < COMMITTED and not cut[end] and not braked[end]:
            end += 1
        lasted = rows.t[end] - rows.t[start]
        if lasted > best[0] and min(throttle[start:end]) < LIFTED and not braked[end]:
            best = lasted, start, end
        start = max(end, start + 1)
    return best


def _lifting(p: CornerPass) -> bool:
    """Whether throttle was committed and is low now."""
    throttle = p.own["throttle"]
    return p.way(p.own).committed is not None and throttle[-1] < COMMITTED and p.own["brake"][-1] < BRAKING


def _low_between(rows: Stretch, start: float, end: float) -> float:
    """s that throttle is under `LOW` between two places."""
    first, last = rows.index(start), min(rows.index(end), len(rows) - 1)
    t, throttle = rows.t, rows["throttle"]
    return sum(t[i + 1] - t[i] for i in range(first, last) if throttle[i] < LOW)


def _powers_on(rows: Stretch, way: Throttle) -> bool:
    """Throttle stays over `COMMITTED` for `PICKUP_HOLD` s from its place on."""
    if way.committed is None:
        return False
    throttle, begins = rows["throttle"], way.committed[0]
    since, until = rows.index_at_time(begins) + 1, rows.index_at_time(begins + PICKUP_HOLD)
    return all(throttle[i] > COMMITTED for i in range(since, until))


def _nearly_there(rows: Stretch, start: float, end: float) -> bool:
    throttle = rows["throttle"]
    return all(throttle[i] >= NEARLY for i in range(rows.index(start), rows.index(end)))
