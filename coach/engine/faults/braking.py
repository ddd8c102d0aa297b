"""Brakes: where they begin and how hard they bite.

A car slows at a rate that the tyres set, about mu g: from v1 to v2 it takes (v1^2 - v2^2) / (2 mu g), 107.0 m from 50
to 20 m/s at mu 1 (checks 3.5, closed form in the tests). Brakes that begin s m too early leave the car at the corner's
speed s m too soon, and these metres are driven slowly: 10 m early from 60 to 20 m/s cost 10 (1/20 - 1/60) = 0.333 s.
Brakes that begin too late are a fault only where the corner then suffers, and soft ones where this driver has shown
that the car can do more from that speed.

Channels: brake, speed. Anti-lock brakes change nothing here: when and how hard is still the driver's.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from coach.engine.conduct import CAR_WIDTH
from coach.engine.faults.base import BAND, CornerPass, Finding
from coach.engine.faults.pedals import Braking, braking
from coach.engine.stretch import Stretch

LEAST_EARLY = 0.15
"""s before the reference's brake point: what a driver can place a foot by (choice; checks 1.33)."""
LEAST_LATE, PLAINLY = 0.12, 0.1
"""s behind the reference's brake point, less than before it: what follows shows whether it was too late. And s lost
by it, from which on the driver's own scatter does not excuse more than `MOST_EARLY` (choice)."""
LEAST_METRES, MOST_METRES = 5.0, 9.0
"""m before or behind it: a car's length is as near as a driver sees a mark on the road; two are plainly another mark,
however much this driver scatters (choice)."""
MOST_EARLY = 0.25
"""s: a brake point that moves by more than this from lap to lap and costs time is a fault, however usual (choice)."""
PRIOR_POINT = 2.0
"""m, standard deviation of the brake point before the driver's own is known (choice)."""
SUFFERED = 0.05
"""s lost from turn-in on, over the day's pace: a corner that suffers from late brakes (choice)."""
SOFT = 0.15
"""of the deceleration shown: brakes this much softer are plainly softer (choice)."""
VERY_SOFT = 0.25
"""of the deceleration shown: brakes that begin early as well are early unless they are this much softer (choice)."""
PRIOR_SOFT = 0.05
"""of the deceleration, standard deviation before the driver's own is known (choice)."""
LONG = 1.0
"""s of braking before its peak says anything of what the driver dares."""
SLOWEST = 5.0
"""m/s: a foot is placed no better in a car that is slower than that (choice)."""
POINT, HARDEST = "brakes_at", "hardest_braking"


class BrakingFamily:
    """`early_braking`, `late_braking` in m, `soft_braking` in m/s2."""

    name: ClassVar[str] = "braking"
    faults: ClassVar[tuple[str, ...]] = ("early_braking", "late_braking", "soft_braking")
    needs: ClassVar[tuple[str, ...]] = ("brake", "speed")
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """Nothing is waited for: the brakes lie before the exit."""
        return True

    def judge(self, p: CornerPass) -> list[Finding]:
        """Early or late against the reference's brake point, or soft against what was shown.

        Who brakes softly must begin earlier for it: then the softness is the fault and the brake point follows. But who
        begins early needs a little less, too.
        """
        own = braking_of(p, p.own)
        if own is None:
            return []
        point, soft = self._point(p, own), self._soft(p, own)
        if soft is None or (point is not None and soft.size < VERY_SOFT * soft.evidence["shown"]):
            return [] if point is None else [point]
        soft.also = () if point is None else (point.fault,)
        return [soft]

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The brake point, and how hard the car was slowed as a share of the reference's."""
        own = braking_of(p, p.own)
        if own is None:
            return
        yield POINT, own.begins[1]
        if own.seconds >= LONG:
            yield HARDEST, own.hardest

    def _point(self, p: CornerPass, own: Braking) -> Finding | None:
        there = None if p.reference is None or not p.by_marks else braking_of(p, p.reference)
        if there is None or p.reference is None:
            return None
        (t, place), speed = own.begins, own.speed
        allowed = placed_within(p, LEAST_EARLY, speed)
        if p.beyond(("braking", "entry")) >= SUFFERED:
            allowed = min(allowed, plainly_elsewhere(speed))
        early = p.at_most_usual(POINT, there.begins[1]) + min(0.0, p.common(POINT)) - place
        if early > allowed:
            evidence = {"brakes_at": place, "reference_at": there.begins[1], "allowed": allowed}
            touched = ("braking", "entry")
            return Finding("early_braking", place, t, early, "m", touched, evidence, early / allowed)
        suffered = p.beyond(("entry", "exit", "straight"))
        allowed = placed_within(p, LEAST_LATE, speed)
        if suffered >= PLAINLY:
            allowed = min(allowed, plainly_elsewhere(speed))
        late = place - p.at_least_usual(POINT, there.begins[1]) - max(0.0, p.common(POINT))
        if late > allowed and p.losses is not None:
            if (suffered < SUFFERED or p.losses.net < SUFFERED) and not _ran_off(p):
                return None
            evidence = {"brakes_at": place, "reference_at": there.begins[1], "allowed": allowed, "lost": suffered}
            phases = ("entry", "exit", "straight")
            return Finding("late_braking", place, t, late, "m", phases, evidence, late / allowed)
        return None

    def _soft(self, p: CornerPass, own: Braking) -> Finding | None:
        """Softer than shown; who comes slower has less to slow from, by the square of the speed."""
        if own.seconds < LONG:
            return None
        there = None if p.reference is None or not p.by_marks else braking_of(p, p.reference)
        if there is not None:
            shown = p.at_most_usual(HARDEST, there.hardest) + min(0.0, p.common(HARDEST))
        elif p.reference is not None:
            return None  # it does not brake here, or this is an out-lap or a cold one, where nobody brakes hard
        else:
            known = p.shown.brakes.hardest(own.speed)
            if known is None:
                return None
            shown = known
        arrives = None if p.reference is None or there is None else p.reference.value_at("speed", own.begins[1])
        if arrives is not None and own.speed < arrives:
            shown *= (own.speed / arrives) ** 2
        less = shown - own.hardest
        allowed = max(SOFT * shown, BAND * p.spread(HARDEST, PRIOR_SOFT * shown))
        if less <= allowed:
            return None
        if there is not None and p.beyond(("braking", "entry")) < SUFFERED:
            return None
        (t, place), evidence = own.begins, {"hardest": own.hardest, "shown": shown, "allowed": allowed}
        return Finding("soft_braking", place, t, less, "m/s2", ("braking", "entry"), evidence, less / allowed)


def placed_within(p: CornerPass, least: float, speed: float) -> float:
    """m to which this driver can place the brake point here at `speed` m/s: `least` s, and the own scatter."""
    return max(least * max(speed, SLOWEST), LEAST_METRES, BAND * p.spread(POINT, PRIOR_POINT))


def plainly_elsewhere(speed: float) -> float:
    """m from the mark that are another mark, however much this driver scatters."""
    return max(MOST_EARLY * max(speed, SLOWEST), MOST_METRES)


def _ran_off(p: CornerPass) -> bool:
    """Whether the whole car was beyond an edge behind the turn-in: then the corner suffered, whatever it cost."""
    rows = p.own
    first = rows.index(p.bounds.entry)
    return any(edge < -0.5 * CAR_WIDTH for name in ("edge_left", "edge_right") for edge in rows[name][first:])


def braking_of(p: CornerPass, rows: Stretch) -> Braking | None:
    """The braking for this corner: from the last apex of the corner before to its own last apex."""
    return rows.once(braking, p.bounds.behind, p.bounds.apex)
