"""Corner passes: when one is over, what it cost, and what the fault families say of it."""

from __future__ import annotations

from dataclasses import dataclass

from coach.engine.course import APPROACH, Course
from coach.engine.faults.base import CornerPass, Family, Finding
from coach.engine.gearing import Gearing
from coach.engine.order import GAP
from coach.engine.scatter import Scatter
from coach.engine.straight import loss_from_speed
from coach.engine.stretch import Stretch, from_tapes
from coach.engine.tape import STANDING, Tape
from coach.vocabulary.events import Event, Fault

PATIENCE = 1.0
"""s after the exit that a pass waits for what a family still has to see."""
LOOK_AGAIN = 0.1
"""s between two looks at a pass that waits: a look reads the whole pass, which at 360 Hz no sample has time for."""


@dataclass(slots=True)
class Losses:
    """Seconds lost by phase in one pass; `straight` holds what is measured of it and what its speed will still cost."""

    braking: float
    entry: float
    exit: float
    straight: float

    @property
    def net(self) -> float:
        """s from the corner's brake point to the end of the straight behind it."""
        return self.braking + self.entry + self.exit + self.straight


@dataclass(slots=True)
class Now:
    """Where the car is, for a pass: the running tape, the one before it if it joins on, and the lap's state."""

    t: float
    lap: int
    tape: Tape
    progress: float
    before: Tape | None
    before_length: float
    flying: bool
    """neither a standing start, an out-lap nor a lap joined on the way"""
    quiet: bool
    """in the pits or otherwise not to be judged"""


class PassWatcher:
    """Follows the car from corner to corner of one map; `step` returns the faults of each pass when it is over."""

    def __init__(
        self,
        course: Course,
        priced: bool,
        same_car: bool,
        gearing: Gearing,
        scatter: Scatter,
        usual: dict[tuple[int, str], float],
    ) -> None:
        """`priced`: the course's lap is the reference, and not just the lap that the map was read from.

        `same_car`: it was driven in this car.
        """
        self._same_car = same_car
        self._rows: tuple[Stretch, ...] | None = course.rows if priced else None
        self._bounds = course.ledger.bounds
        self._gearing = gearing
        self._scatter = scatter
        self._usual = usual
        self._next = 0
        self._exit_passed: float | None = None
        self._look_at = 0.0

    def place(self, progress: float) -> None:
        """The car is somewhere else: the next corner is the first whose exit lies ahead."""
        self._next = next((i for i, b in enumerate(self._bounds) if b.exit > progress), len(self._bounds))
        self._exit_passed = None

    def due(self, progress: float) -> bool:
        """Whether the car at `progress` m is past the exit of a corner not judged yet."""
        return self._next < len(self._bounds) and progress >= self._bounds[self._next].exit

    def step(self, now: Now, families: list[Family]) -> list[Event]:
        """The faults of the pass that is over now, if one is."""
        if not self.due(now.progress):
            return []
        if self._exit_passed is None:
            self._exit_passed = self._look_at = now.t
        if self._exit_passed <= now.t < self._look_at:
            return []
        self._look_at = now.t + LOOK_AGAIN
        bounds = self._bounds[self._next]
        patient = now.t - self._exit_passed < PATIENCE and now.progress < bounds.end
        corner_pass = self._cut(now, self._next)
        if patient and corner_pass is not None and not all(f.settled(corner_pass) for f in families):
            return []
        self._next += 1
        self._exit_passed = None
        return [] if corner_pass is None else self._judge(corner_pass, now, families)

    def line(self, now: Now, families: list[Family]) -> list[Event]:
        """The lap ended: judges what waits, then begins with the first corner again. `now` is the ended lap's."""
        events: list[Event] = []
        while self._next < len(self._bounds) and self._bounds[self._next].exit <= now.progress:
            corner_pass = self._cut(now, self._next)
            if corner_pass is not None:
                events += self._judge(corner_pass, now, families)
            self._next += 1
        self._next = 0
        self._exit_passed = None
        return events

    def _cut(self, now: Now, index: int) -> CornerPass | None:
        bounds = self._bounds[index]
        for begins in (max(bounds.approach, bounds.braking - APPROACH), bounds.braking):
            own = from_tapes(now.before, now.before_length, now.tape, begins, now.progress)
            if own is not None:
                break
        if own is None or now.quiet or len(own) < 3 or own.longest_step(bounds.braking) >= GAP or _stood(own):
            return None
        return CornerPass(
            lap=now.lap,
            bounds=bounds,
            linked=bounds.mark.linked,
            own=own,
            reference=None if self._rows is None else self._rows[index],
            by_marks=now.flying and self._rows is not None,
            by_gears=self._same_car,
            gearing=self._gearing,
            scatter=self._scatter,
            usual=self._usual,
        )

    def _judge(self, p: CornerPass, now: Now, families: list[Family]) -> list[Event]:
        losses = _losses(p)
        findings = [finding for family in families for finding in family.judge(p)]
        events: list[Event] = [self._fault(p, finding, findings, losses, now) for finding in findings]
        if now.flying:
            for family in families:
                for feature, value in family.measure(p):
                    self._scatter.add(p.corner, feature, value)
        return events

    def _fault(self, p: CornerPass, found: Finding, all_found: list[Finding], losses: Losses | None, now: Now) -> Fault:
        cost = None
        if losses is not None:
            cost = 0.0
            for phase in found.phases:
                sharers = sum(phase in other.phases for other in all_found)
                cost += getattr(losses, phase) / sharers
            cost = max(0.0, cost)
        before_line = found.distance < 0.0
        return Fault(
            t=now.t,
            lap=p.lap - 1 if before_line else p.lap,
            fault=found.fault,
            corner=p.corner,
            distance=found.distance + now.before_length if before_line else found.distance,
            begins=found.begins,
            size=found.size,
            unit=found.unit,
            net=None if losses is None else losses.net,
            cost=cost,
            evidence=found.evidence,
        )


def _losses(p: CornerPass) -> Losses | None:
    rows = p.reference
    if rows is None:
        return None
    b, own = p.bounds, p.own
    here = own.d[-1]
    deltas = []
    for place in (b.braking, b.entry, b.apex, b.exit, min(here, b.end)):
        mine, theirs = own.time_at(place), rows.time_at(place)
        if mine is None or theirs is None:
            return None
        deltas.append(mine - theirs)
    straight = deltas[4] - deltas[3]
    speed = own["speed"][-1]
    if here < b.end and speed == speed:
        straight += loss_from_speed(rows, here, b.end, speed) or 0.0
    return Losses(deltas[1] - deltas[0], deltas[2] - deltas[1], deltas[3] - deltas[2], straight)


def _stood(rows: Stretch) -> bool:
    """Whether the car stopped in this pass: what it did then is no driving of the corner."""
    return any(speed < STANDING for speed in rows["speed"])
