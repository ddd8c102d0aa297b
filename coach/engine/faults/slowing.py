"""Time in which the car neither slows nor pulls, and speed given away.

A car that coasts uses neither what the brakes nor what the engine could do: each second of it is driven at less than
the grip allows, on the way in as a longer, slower approach, after the brakes as a later exit. A lower minimum speed
than needed is paid twice, in the corner and on the straight behind it, which begins slower (checks, section 3: a 5 %
lower corner speed on the stadium lap costs 0.68 s in the corners and 0.41 s on the straights): unless the exit is
quicker for it, which is the reason to go in slowly, and no fault.

Channels: throttle and brake for coasting, speed for the rest. Slope and wind are in both laps alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import exp, log
from typing import ClassVar

from coach.engine.faults.base import BAND, CornerPass, Finding
from coach.engine.faults.braking import LEAST_EARLY, SOFT, braking_of
from coach.engine.faults.pedals import CLOSED, COMMITTED, braking_rows, longest, near_upshift, slowest
from coach.engine.held import held
from coach.engine.stretch import Stretch

LEAST_COASTING = 0.27
"""s: the foot's way from one pedal to the other takes about 0.2 s (choice)."""
PRIOR_COASTING = 0.07
"""s, standard deviation before the driver's own is known (choice)."""
FOOT = 0.1
"""s from one pedal to the other (choice)."""
LITTLE = 0.5
"""of what braking so early would have cost: the car was not slowed by much there (choice)."""
COASTED, SLOWEST = "coasted", "slowest"
LEAST_SLOW, PRIOR_SLOW, BAND_SLOW = 0.05, 0.015, 3.0
"""of the speed: less than 5 % cannot be placed by feel; 1.5 % is a practised driver's scatter (choice; checks 7.4).
The least speed is what all that was done before comes to, so it is called low later than the foot is called late."""
LOST = 0.08
"""s lost in the corner over the day's pace, before its speed is called too low (choice)."""
GAINED = 0.005
"""of the exit speed: a gain that pays for a slower corner."""


class CoastingFamily:
    """`coasting`: neither pedal for longer than the reference there, up to where its throttle is due, in s."""

    name: ClassVar[str] = "coasting"
    faults: ClassVar[tuple[str, ...]] = ("coasting",)
    needs: ClassVar[tuple[str, ...]] = ("throttle", "brake")
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """Nothing is waited for."""
        return True

    def judge(self, p: CornerPass) -> list[Finding]:
        """What was coasted on the way in; what lies behind the throttle's place is late throttle."""
        if p.reference is None or not p.by_marks:
            return []
        due = self._due(p)
        own, there = _coasted(p, p.own, due), _coasted(p, p.reference, due)
        longer = own[0] - p.at_least_usual(COASTED, there[0]) - max(0.0, p.common(COASTED))
        allowed = max(LEAST_COASTING, BAND * p.spread(COASTED, PRIOR_COASTING))
        if longer <= allowed:
            return []
        row = own[1]
        evidence = {"coasted": own[0], "reference": there[0], "allowed": allowed}
        phases = ("braking", "entry") if p.own.d[row] < p.bounds.entry else ("entry", "exit")
        found = Finding("coasting", p.own.d[row], p.own.t[row], longer, "s", phases, evidence, longer / allowed)
        since = self._rolled_in_since(p, longer)
        if since is not None:
            found.since, found.phases = since, ("braking", "entry", "exit")
            found.not_from = ("early_braking", "soft_braking")
        return [found]

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """What was coasted in the pass, up to where throttle was due."""
        yield COASTED, _coasted(p, p.own, self._due(p))[0]

    def _rolled_in_since(self, p: CornerPass, longer: float) -> float | None:
        """s when the brakes began, where they began early or were soft only because the car was to roll in.

        Braked as hard as ever but e m early, a car has e m to roll at the corner's speed v rather than at the speed u
        of the approach: it coasts e / v at most and loses e (1 / v - 1 / u). Who coasts for longer or loses far less,
        or brakes softly and still has to coast, has been rolling in since the brakes.
        """
        own, there = braking_of(p, p.own), None if p.reference is None else braking_of(p, p.reference)
        row = slowest(p.own, p.bounds.entry, p.bounds.exit)
        if own is None or there is None or row is None:
            return None
        early, eased = there.begins[1] - own.begins[1], own.hardest < (1.0 - SOFT) * there.hardest
        slow = p.own["speed"][row]
        explained = longer <= early / slow and not self._lost_little(p, early, slow, own.speed)
        rolled = early > LEAST_EARLY * own.speed and not explained
        return own.begins[0] if eased or rolled else None

    def _lost_little(self, p: CornerPass, early: float, slow: float, speed: float) -> bool:
        expected = early * (1.0 / slow - 1.0 / max(speed, slow))
        return p.losses is not None and p.beyond(("braking", "entry")) < LITTLE * expected

    def _due(self, p: CornerPass) -> float:
        """m where the reference picks the throttle up; without one, where the driver does."""
        way = p.way(p.own if p.reference is None else p.reference)
        if way.picked_up is not None:
            return way.picked_up[1]
        return p.bounds.exit


class SpeedFamily:
    """`over_slowed`: a lower minimum speed than the target's, and no exit speed for it, in m/s."""

    name: ClassVar[str] = "speed"
    faults: ClassVar[tuple[str, ...]] = ("over_slowed",)
    needs: ClassVar[tuple[str, ...]] = ("speed",)
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """Nothing is waited for."""
        return True

    def judge(self, p: CornerPass) -> list[Finding]:
        """Too slow where the corner and what follows lost time and the exit gained nothing."""
        if p.target is None or not p.by_marks or p.losses is None:
            return []
        own, there = _slowest(p, p.own), _slowest(p, p.target)
        if own is None or there is None:
            return []
        usual = exp(p.at_most_usual(SLOWEST, log(there[0])) + min(0.0, p.common(SLOWEST)))
        less = usual - own[0]
        allowed = usual * max(LEAST_SLOW, BAND_SLOW * p.spread(SLOWEST, PRIOR_SLOW))
        mine, theirs = p.own.value_at("speed", p.bounds.exit), p.target.value_at("speed", p.bounds.exit)
        gained = mine is None or theirs is None or mine > (1.0 + GAINED) * theirs
        if less <= allowed or gained or p.beyond(("entry", "exit", "straight")) < LOST or p.slow_for_its_line():
            return []
        evidence = {"slowest": own[0], "target": usual, "allowed": allowed, "exit_speed": mine, "target_exit": theirs}
        place, t = p.own.d[own[1]], p.own.t[own[1]]
        phases = ("entry", "exit", "straight")
        return [Finding("over_slowed", place, t, less, "m/s", phases, evidence, less / allowed)]

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The logarithm of the least speed in the corner, so that all corners' scatter compares."""
        own = _slowest(p, p.own)
        if own is not None:
            yield SLOWEST, log(own[0])


def _coasted(p: CornerPass, rows: Stretch, due: float) -> tuple[float, int]:
    """s with neither pedal up to `due` m, and the first row of the longest stretch of it; a shift's cut is none.

    All stretches together, since a touch of a pedal would cut the longest in two. Those under `FOOT` s are the foot's
    way from one pedal to the other.
    From where the corner before was last left on power, if brakes follow: between two near corners its exit is this
    one's approach.
    """
    throttle, braked, cut = rows["throttle"], braking_rows(rows), near_upshift(rows)
    neither = [value < CLOSED and not braked[i] and not cut[i] for i, value in enumerate(throttle)]
    behind, approach = rows.index(p.bounds.behind), min(rows.index(p.bounds.approach), len(rows))
    since = approach  # back to power, as long as what lies between was rolling towards the brakes
    while since > behind and not throttle[since - 1] > COMMITTED:
        since -= 1
    if since == behind or not any(braked[i] for i in range(since, min(rows.index(p.bounds.entry), len(rows)))):
        since = approach
    until = min(rows.index(due) + 1, len(rows))
    _, where = longest(rows, neither, since, until)
    kept = held(neither[since:until], rows.t[since:until], FOOT)
    t = rows.t
    return sum(t[since + i + 1] - t[since + i] for i, on in enumerate(kept) if on and since + i + 1 < len(t)), where


def _slowest(p: CornerPass, rows: Stretch) -> tuple[float, int] | None:
    """m/s and row of the least speed from the corner's turn-in to its exit."""
    row = slowest(rows, p.bounds.entry, p.bounds.exit)
    return None if row is None else (rows["speed"][row], row)
