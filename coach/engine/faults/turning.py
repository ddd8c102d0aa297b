"""Where a corner is begun.

The same arc begun d metres later along the straight is the same arc moved d metres on: where it has turned by th it
lies d sin(th) further out, so the apex is missed by d sin(th), and the exit overrun by as much. Begun earlier, it meets
the inside edge too soon, and has to be opened behind it. So a turn-in at another place is a choice until the
apex or the exit shows that it was the wrong one, and only what its own shift explains is put down to it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import pi, sin
from typing import ClassVar

from coach.engine.faults.base import CornerPass, Finding
from coach.engine.faults.line import left_unused
from coach.engine.faults.room import room_of
from coach.engine.stretch import Stretch

STEERED = 0.3
"""of the corner's steering: from here on the car is being turned in (choice)."""
FIRM, WITHIN = 0.6, 0.6
"""of the corner's steering, reached within so many s of the turn-in: who winds the lock on slowly, or in two steps, has
no turn-in to be early or late with (choice)."""
PEAK = 0.9
"""of the rows up to the apex steer less than what counts as the corner's steering: one jerk is not it."""
HOLD = 0.3
"""s for which less is steered where the corner is not begun yet: a correction takes the lock off for less."""
SMOOTH = 0.1
"""s, half-width of the mean over the steering: hands are not still."""
LEAST = 0.2
"""s of driving: nearer than this no driver places the turn-in (choice)."""
PRIOR = 2.0
"""m, standard deviation of the turn-in before the driver's own is known (choice)."""
BAND = 2.5
"""standard deviations of the driver's own scatter that are no fault."""
EXPLAINED = 0.5
"""of what was missed or overrun: so much the shift must explain."""
SLOWEST = 5.0
"""m/s: below this yaw rate over speed is noise."""
PHASES = ("entry", "exit", "straight")

TURN_IN_AT = "turn_in_at"


@dataclass(slots=True, frozen=True)
class Followed:
    """What the corner suffered: m, and rad turned from the turn-in to there."""

    what: str
    size: float
    turned: float


class TurnInFamily:
    """`early_turn_in`, `late_turn_in`: m from the reference's, where the apex or the exit suffered for it."""

    name: ClassVar[str] = "turn-in"
    faults: ClassVar[tuple[str, ...]] = ("early_turn_in", "late_turn_in")
    needs: ClassVar[tuple[str, ...]] = ("road", "steering")
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """The line family waits for the exit."""
        return True

    def judge(self, p: CornerPass) -> list[Finding]:
        """The turn-in, where it is off by more than the driver's own scatter and the corner suffered."""
        if not (p.by_marks and p.by_line) or p.reference is None:
            return []
        own, theirs = turn_in(p, p.own), turn_in(p, p.reference)
        if own is None or theirs is None:
            return []
        late = own > theirs
        there = p.at_least_usual(TURN_IN_AT, theirs) if late else p.at_most_usual(TURN_IN_AT, theirs)
        size = own - there if late else there - own
        speed = p.own.value_at("speed", own) or 0.0
        allowed = max(LEAST * speed, BAND * p.spread(TURN_IN_AT, PRIOR))
        if size <= allowed:
            return []
        shift = [f for f in _suffered(p, late, there) if size * sin(min(f.turned, 0.5 * pi)) >= EXPLAINED * f.size]
        at, begins = min(own, there), p.own.time_at(min(own, there))
        if not shift or begins is None:
            return []
        worst = max(shift, key=lambda f: f.size)
        evidence = {"turn_in_at": own, "reference_at": there, "allowed": allowed, worst.what: worst.size}
        fault = "late_turn_in" if late else "early_turn_in"
        return [Finding(fault, at, begins, size, "m", PHASES, evidence, size / allowed)]

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The place of the turn-in."""
        place = turn_in(p, p.own)
        if place is not None:
            yield TURN_IN_AT, place


def turn_in(p: CornerPass, rows: Stretch) -> float | None:
    """m: the last place before the corner at which less than `STEERED` of its steering was used.

    Steering is the steering angle, else the curvature that yaw rate and speed show. None where it is wound on
    slowly, the corner before flows into this one, or nothing tells.
    """
    b = p.bounds
    steering = _steering(p, rows)
    first, last = rows.index(b.approach), min(rows.index(b.apex) + 1, len(rows))
    begins = rows.index(b.entry)
    if steering is None or last - begins < 3:
        return None
    ranked = sorted(steering[i] for i in range(begins, last) if steering[i] == steering[i])
    if not ranked or ranked[-1] <= 0.0:
        return None
    peak = ranked[int(PEAK * (len(ranked) - 1))]
    level = STEERED * peak
    i = max(range(begins, last), key=lambda j: steering[j] if steering[j] <= peak else -1.0)
    straight_since: int | None = None
    while i > first:
        i -= 1
        if steering[i] < level:
            straight_since = i if straight_since is None else straight_since
            if rows.t[straight_since] - rows.t[i] >= HOLD:
                firm = steering[straight_since : rows.index_at_time(rows.t[straight_since] + WITHIN)]
                return _crossed(rows, steering, straight_since, level) if max(firm) >= FIRM * peak else None
        else:
            straight_since = None
    return None


def _crossed(rows: Stretch, steering: list[float], i: int, level: float) -> float:
    low, high = steering[i], steering[i + 1]
    part = (level - low) / (high - low) if high > low else 1.0
    return rows.d[i] + min(1.0, part) * (rows.d[i + 1] - rows.d[i])


def _steering(p: CornerPass, rows: Stretch) -> list[float] | None:
    """Into the corner positive; by the channel that own and reference both have."""
    sign = 1.0 if p.bounds.mark.direction == "left" else -1.0
    other = rows if p.reference is None else p.reference
    if rows.has("steer") and other.has("steer") and p.own.has("steer"):
        return _smooth(rows, [sign * value for value in rows["steer"]])
    if rows.has("yaw_rate", "speed") and other.has("yaw_rate", "speed"):
        pairs = zip(rows["yaw_rate"], rows["speed"], strict=True)
        return _smooth(rows, [sign * rate / max(speed, SLOWEST) for rate, speed in pairs])
    return None


def _smooth(rows: Stretch, values: list[float]) -> list[float]:
    """The mean over `SMOOTH` s to both sides of what was sent."""
    t, smooth, low, high = rows.t, [], 0, 0
    for i in range(len(values)):
        while t[i] - t[low] > SMOOTH:
            low += 1
        while high < len(values) and t[high] - t[i] <= SMOOTH:
            high += 1
        sent = [value for value in values[low:high] if value == value]
        smooth.append(sum(sent) / len(sent) if sent else values[i])
    return smooth


def _suffered(p: CornerPass, late: bool, since: float) -> Iterable[Followed]:
    """What was wrong behind the turn-in, by more than is allowed there.

    Who begins late comes out wide, and not narrow.
    """
    room = room_of(p)
    if room is None or p.reference is None:
        return
    apex, way_out = left_unused(p, room, "missed_apex"), left_unused(p, room, "narrow_exit")
    if apex is not None and apex.size > apex.allowed:
        yield Followed("missed_apex", apex.size, _turned(p.reference, since, p.bounds.apex))
    if way_out is None:
        return
    turned = _turned(p.reference, since, p.bounds.exit)
    if way_out.size > way_out.allowed and not late:
        yield Followed("narrow_exit", way_out.size, turned)
    if -way_out.size > way_out.allowed:
        yield Followed("overrun", -way_out.size, turned)


def _turned(rows: Stretch, start: float, end: float) -> float:
    """rad that the path turns from `start` to `end` m: the integral of lateral acceleration over speed."""
    pull, rate = rows["ay"], rows["yaw_rate"]
    turned, t, speed = 0.0, rows.t, rows["speed"]
    for i in range(rows.index(start) + 1, min(rows.index(end) + 1, len(rows))):
        turning = rate[i] if rate[i] == rate[i] else pull[i] / max(speed[i], SLOWEST)
        turned += abs(turning) * (t[i] - t[i - 1]) if turning == turning else 0.0
    return turned
