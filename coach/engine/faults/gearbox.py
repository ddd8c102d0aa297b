"""Gear changes.

A lower gear taken too early needs more engine speed than the engine has: until the car has slowed enough, the engine
drags the driven wheels, and while braking has the weight on the nose a driven rear axle carries little and locks. The
engine speed in a gear is n = 60 v i / (2 pi r) without slip; per gear the car shows n / v itself. With an overall ratio
of 6.63, 0.33 m radius and a limit of 8,000 rev/min the gear may be taken below 41.698 m/s (closed form, in the tests).

Channels: gear and speed; wheel_speed, yaw_rate and ay for the axle's answer; engine_speed_max, or engine_speed and
throttle from which the limit is learned. Off with an automatic gearbox. Source: checks 3.13 and 3.14.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from coach.engine.faults.base import CornerPass, Finding
from coach.engine.faults.pedals import shifts
from coach.engine.stretch import Stretch
from coach.vocabulary.events import PHASES

SENT_MARGIN, LEARNED_MARGIN = 1.01, 1.03
"""The limit may be passed by the ratio's own uncertainty; a learned limit is less certain than a sent one."""
NEAR_LIMIT = 0.9
"""of the limit: a shift that needs less is a choice of gear and not a strain, however early."""
FAR_ABOVE = 0.15
"""of the reference's road speed for the same shift: a change of gear a whole step too early is 20 to 30 % (choice)."""
PRIOR_SPEED = 1.0
"""m/s, standard deviation of the road speed of a shift before the driver's own is known (choice)."""
BAND = 3.0
"""standard deviations of the driver's own scatter that are no fault."""
AFTER = 0.6
"""s after the shift in which the driven axle answers it."""
AXLE_SLIP, AXLE_STEP = -0.12, 0.07
"""Slip of the driven axle after the shift, and how much more than before it: the engine holds the wheels (choice;
a tyre brakes hardest near 0.1 to 0.15, checks 3.9)."""
YAW_MORE = 0.1
"""rad/s more than the path turns, |yaw rate| - |ay| / v: the rear comes round (checks 3.12)."""
ANSWER = 0.1
"""s for which slip and yaw must hold: a kerb shakes both for a row or two, a locked axle holds them."""
EARLIER = 0.05
"""of the reference's road speed: a shift that the reference makes at the same speed is not early, slip or not."""


class GearboxFamily:
    """`early_downshift`: rev/min over the limit, or m/s above the reference's road speed for that shift."""

    name: ClassVar[str] = "gearbox"
    faults: ClassVar[tuple[str, ...]] = ("early_downshift",)
    needs: ClassVar[tuple[str, ...]] = ("gear", "speed")
    off_with: ClassVar[str | None] = "gearbox"

    def settled(self, p: CornerPass) -> bool:
        """Nothing is waited for: the shifts lie before the exit."""
        return True

    def judge(self, p: CornerPass) -> list[Finding]:
        """The worst downshift of the pass: over the limit first, then by the axle's answer, then against the marks."""
        found: list[tuple[int, float, Finding]] = []
        for row, _, gear in _downshifts(p.own, p.bounds.exit):
            finding = (
                self._over_limit(p, row, gear) or self._axle_answers(p, row, gear) or self._far_above(p, row, gear)
            )
            if finding is not None:
                found.append((finding.unit == "rev/min", finding.size, finding))
        return [max(found, key=lambda f: f[:2])[2]] if found else []

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The road speed of each downshift."""
        for row, _, gear in _downshifts(p.own, p.bounds.exit):
            yield _feature(gear), p.own["speed"][row]

    def _over_limit(self, p: CornerPass, row: int, gear: int) -> Finding | None:
        limit, needed = p.gearing.limit, _needed(p, row, gear)
        if limit is None or needed is None:
            return None
        margin = SENT_MARGIN if p.gearing.limit_is_sent else LEARNED_MARGIN
        if needed <= margin * limit:
            return None
        there = _reference_speed(p, gear)
        if not p.gearing.limit_is_sent and there is not None and p.own["speed"][row] <= (1.0 + EARLIER) * there:
            return None  # who always shifts up early has not shown the limit yet, and the reference does the same
        strength = (needed - limit) / ((margin - 1.0) * limit)
        return _finding(p, row, gear, needed - limit, "rev/min", strength, {"needed": needed, "limit": limit})

    def _axle_answers(self, p: CornerPass, row: int, gear: int) -> Finding | None:
        axle = p.gearing.driven_axle
        if axle is None or not p.own.has(axle, "yaw_rate", "ay"):
            return None
        own, speed = p.own, p.own["speed"][row]
        there = _reference_speed(p, gear)
        if there is not None and speed <= (1.0 + EARLIER) * there:
            return None
        t = own.t[row]
        before = _mean([_slip(own, axle, i) for i in _span(own, t - 2 * ANSWER, t)])
        worst: tuple[float, float] | None = None
        span = _span(own, t, t + AFTER + ANSWER)
        slips = [_slip(own, axle, i) for i in span]
        yaws = [_yaw_more(own, i) for i in span]
        for i in _span(own, t, t + AFTER):
            held = _span(own, own.t[i], own.t[i] + ANSWER)
            if len(held) < 2:
                break
            a, b = held.start - span.start, held.stop - span.start
            slip, yaw = max(slips[a:b]), min(yaws[a:b])
            if slip < AXLE_SLIP and slip < before - AXLE_STEP and yaw > YAW_MORE and (worst is None or slip < worst[0]):
                worst = (slip, yaw)
        if worst is None:
            return None
        evidence = {"axle": axle, "slip": worst[0], "yaw": worst[1]}
        return _finding(p, row, gear, -worst[0] * speed, "m/s", worst[0] / AXLE_SLIP, evidence)

    def _far_above(self, p: CornerPass, row: int, gear: int) -> Finding | None:
        if not p.by_marks:
            return None
        there, speed = _reference_speed(p, gear), p.own["speed"][row]
        if there is None:
            return None
        there = p.at_least_usual(_feature(gear), there)
        allowed = max(FAR_ABOVE * there, BAND * p.spread(_feature(gear), PRIOR_SPEED))
        if speed - there <= allowed:
            return None
        limit, needed = p.gearing.limit, _needed(p, row, gear)
        if limit is not None and needed is not None and needed < NEAR_LIMIT * limit:
            return None
        evidence = {"reference_speed": there, "allowed": allowed}
        return _finding(p, row, gear, speed - there, "m/s", (speed - there) / allowed, evidence)


def _downshifts(rows: Stretch, until: float) -> list[tuple[int, int, int]]:
    """Those up to `until` m whose road speed is known."""
    last, speed = rows.index(until), rows["speed"]
    return [(row, old, new) for row, old, new in shifts(rows) if new < old and row <= last and speed[row] > 0.0]


def _reference_speed(p: CornerPass, gear: int) -> float | None:
    """m/s at which the reference shifts down to `gear` here."""
    if p.reference is None or not p.by_gears:
        return None
    speeds = [p.reference["speed"][i] for i, _, g in _downshifts(p.reference, p.bounds.exit) if g == gear]
    return max(speeds, default=None)


def _span(rows: Stretch, start: float, end: float) -> range:
    return range(rows.index_at_time(start), min(rows.index_at_time(end), len(rows)))


def _mean(values: list[float]) -> float:
    return sum(values) / len(values) if values else 0.0


def _yaw_more(rows: Stretch, i: int) -> float:
    """rad/s that the car turns more than its path."""
    more = abs(rows["yaw_rate"][i]) - abs(rows["ay"][i]) / max(rows["speed"][i], 5.0)
    return more if more == more else 0.0


def _needed(p: CornerPass, row: int, gear: int) -> float | None:
    """rev/min that the gear asks for at the road speed of the shift."""
    ratio = p.gearing.ratio(gear)
    return None if ratio is None else ratio * p.own["speed"][row]


def _slip(rows: Stretch, axle: str, i: int) -> float:
    """Omega R / v - 1, straight ahead (SAE J670 with a small slip angle); -1 is locked."""
    speed = rows["speed"][i]
    slip = rows[axle][i] / speed - 1.0 if speed > 3.0 else 0.0
    return slip if slip == slip else 0.0


def _finding(
    p: CornerPass, row: int, gear: int, size: float, unit: str, strength: float, evidence: dict[str, Any]
) -> Finding:
    own = p.own
    evidence = {"gear": gear, "speed": own["speed"][row], **evidence}
    return Finding("early_downshift", own.d[row], own.t[row], size, unit, PHASES, evidence, strength)


def _feature(gear: int) -> str:
    return f"downshift_{gear}_speed"
