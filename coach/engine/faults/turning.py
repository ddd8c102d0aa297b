"""Where a corner is begun.

The same arc begun d metres later along the straight is the same arc moved d metres on: where it has turned by th it
lies d sin(th) further out, so the apex is missed by d sin(th), and the exit overrun by as much. Begun earlier, it meets
the inside edge too soon, and has to be opened behind it. Where it is begun is read from how the car turns: there a
tenth of the turning up to the apex is done. A turn-in at another place is a choice until the apex or the exit shows
that it was the wrong one, and only what its own shift explains is put down to it.

Channels: yaw_rate or ay, and the edges or x and y for what came of it. Source: geometry of the moved arc (closed form).
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

BEGUN = 0.1
"""of what the reference turns up to the apex: from here on the corner is begun. The lock itself says it worse, since it
is wound on in steps, and taken off and on again (its place scatters by 10 to 20 m in one steady driver's corners where
this scatters by 1 to 3 m)."""
BEFORE = 60.0
"""m before the bend from which turning counts: earlier the car still comes out of another, or crosses the road."""
LEAST = 0.2
"""s of driving: nearer than this no driver places the turn-in (choice)."""
PRIOR = 2.0
"""m, standard deviation of the turn-in before the driver's own is known (choice)."""
BAND = 2.5
"""standard deviations of the driver's own scatter that are no fault."""
EXPLAINED, TOO_MUCH = 0.5, 2.0
"""of what was missed or overrun: so much the shift must explain; and of a missed apex not more than this, or the car
was on another arc from the start, and not on the same one later (choice)."""
SLOWEST = 5.0
"""m/s: below this lateral acceleration over speed is noise."""
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
    needs: ClassVar[tuple[str, ...]] = ("road", "turning")
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
        shift = [f for f in _suffered(p, late, there) if _explains(size, late, f)]
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
    """m: where `BEGUN` of what the reference (without one: these rows) turns up to the apex is turned for good.

    None where nothing tells how the car turns, or the corner is not begun there.
    """
    b = p.bounds
    since = max(b.approach, b.entry - BEFORE)
    level = BEGUN * _turned(rows if p.reference is None else p.reference, since, b.apex)
    sign, first = 1.0 if b.mark.direction == "left" else -1.0, rows.index(since)
    heading, t, d = 0.0, rows.t, rows.d
    for i in range(first + 1, rows.index(b.apex)):
        before = heading
        step = sign * _turning(rows, i) * (t[i] - t[i - 1])
        heading = max(0.0, heading + (step if step == step else 0.0))
        if before < level <= heading:
            return d[i - 1] + (level - before) / (heading - before) * (d[i] - d[i - 1])
    return None


def _explains(size: float, late: bool, f: Followed) -> bool:
    moved = size * sin(min(f.turned, 0.5 * pi))
    same_arc = not late or f.what != "missed_apex" or moved <= TOO_MUCH * f.size
    return moved >= EXPLAINED * f.size and same_arc


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
    """rad that the car turns from `start` to `end` m, whichever way."""
    t = rows.t
    steps = (
        abs(_turning(rows, i)) * (t[i] - t[i - 1])
        for i in range(rows.index(start) + 1, min(rows.index(end) + 1, len(rows)))
    )
    return sum(step for step in steps if step == step)


def _turning(rows: Stretch, i: int) -> float:
    """rad/s, positive to the left: the yaw rate, else lateral acceleration over speed."""
    rate = rows["yaw_rate"][i]
    return rate if rate == rate else rows["ay"][i] / max(rows["speed"][i], SLOWEST)
