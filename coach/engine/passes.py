"""Corner passes: when one is over, what it cost, and what the fault families say of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.engine.course import APPROACH, Course
from coach.engine.faults.base import CornerPass, Family, Finding
from coach.engine.ledger import Bounds
from coach.engine.losses import losses_of
from coach.engine.marks import marks_of
from coach.engine.order import GAP
from coach.engine.pace import CommonPace
from coach.engine.roots import roots
from coach.engine.scatter import Scatter
from coach.engine.seen import seeing
from coach.engine.shown import Shown
from coach.engine.stretch import Stretch, from_tapes
from coach.engine.tape import STANDING, Tape
from coach.vocabulary.events import PHASES, Event, Fault, Mark, Passed

PATIENCE = 0.7
"""s after the exit that a pass waits for what a family still has to see."""
STUCK = 15.0
"""s after which a car that had an incident is not expected at the corner's exit any more."""
ROUNDING = 1e-6
"""s: two times nearer than this are one, so that where a clock begins does not change when a pass is judged."""
LOOK_AGAIN = 0.1
"""s between two looks at a pass that waits: a look reads the whole pass, which at 360 Hz no sample has time for."""


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
    """marks can be held against it: neither a standing start, an out-lap nor a lap joined on the way, on warm tyres"""
    quiet: bool
    """in the pits or otherwise not to be judged"""
    traffic: float | None = None
    """s: when another car was last beside or close ahead"""


class PassWatcher:
    """Follows the car from corner to corner of one map; `step` returns the faults of each pass when it is over."""

    def __init__(
        self,
        course: Course,
        priced: bool,
        same_car: bool,
        shown: Shown,
        scatter: Scatter,
        usual: dict[tuple[int, str], float],
        pace: tuple[Stretch, ...] | None = None,
        by_line: bool = True,
    ) -> None:
        """`priced`: the course's lap is the reference, and not just the lap that the map was read from.

        `same_car`: it was driven in this car. `pace`: rows of another lap, corner by corner as the course's, whose
        speeds are the target; None: the reference's own. `by_line`: whether the reference's line is one to follow.
        """
        self._same_car, self._by_line = same_car, by_line
        self._rows: tuple[Stretch, ...] | None = course.rows if priced else None
        self._pace = self._rows if pace is None else pace
        self._bounds = course.ledger.bounds
        self._length = course.lap.length
        self._shown = shown
        self._scatter = scatter
        self._usual = usual
        self._common = CommonPace()
        self._waiting: list[Finding] = []
        """what watches found in a corner that is not judged yet"""
        self._next = 0
        self._exit_passed: float | None = None
        self._look_at = 0.0

    def place(self, progress: float) -> None:
        """The car is somewhere else: the next corner is the first whose exit lies ahead."""
        self._next = next((i for i, b in enumerate(self._bounds) if b.exit > progress), len(self._bounds))
        self._exit_passed = None

    def take_over(self, other: PassWatcher) -> None:
        """Goes on with what `other` had not told yet, and with the pace of the day as it saw it."""
        self._waiting, self._common = other._waiting, other._common

    def due(self, progress: float, t: float) -> bool:
        """Whether the car at `progress` m and `t` s gives `step` something to do: most samples do not."""
        if not self._behind(progress):
            return self._stuck(t)
        return self._exit_passed is None or not self._exit_passed <= t < self._look_at - ROUNDING

    def _behind(self, progress: float) -> bool:
        """Whether the exit of a corner not judged yet lies behind."""
        return self._next < len(self._bounds) and progress >= self._bounds[self._next].exit

    def _stuck(self, t: float) -> bool:
        return bool(self._waiting) and t - self._waiting[0].begins > STUCK

    def step(self, now: Now, families: list[Family]) -> list[Event]:
        """The faults of the pass that is over now, if one is; to be called where something is `due`."""
        if not self._behind(now.progress):
            return self.flush(now) if self._stuck(now.t) else []
        if self._exit_passed is None:
            self._exit_passed = now.t
        self._look_at = now.t + LOOK_AGAIN
        bounds = self._bounds[self._next]
        patient = now.t - self._exit_passed < PATIENCE - ROUNDING and now.progress < bounds.end
        corner_pass = self._cut(now, self._next)
        if patient and corner_pass is not None:
            able = seeing(families, corner_pass.own)
            if not all(f.settled(corner_pass) for f in able):
                return []
        return self._end(corner_pass, now, families)

    def line(self, now: Now, families: list[Family]) -> list[Event]:
        """The lap ended: judges what waits, then begins with the first corner again. `now` is the ended lap's."""
        events = self.catch_up(now, families)
        for finding in self._waiting:
            finding.distance -= now.progress
        self._next = 0
        self._exit_passed = None
        return events

    def catch_up(self, now: Now, families: list[Family]) -> list[Event]:
        """Judges what lies behind without waiting any longer: by these marks it cannot be judged later."""
        events: list[Event] = []
        while self._behind(now.progress):
            events += self._end(self._cut(now, self._next), now, families)
        return events

    def _end(self, corner_pass: CornerPass | None, now: Now, families: list[Family]) -> list[Event]:
        """The pass of the next corner is over: its faults; without rows to judge, what watches found in it."""
        marks = () if corner_pass is None else self._marks(corner_pass, now, families)  # before its scatter counts
        events = self.flush(now) if corner_pass is None else self._judge(corner_pass, now, families)
        judged = corner_pass is not None and corner_pass.by_marks
        losses = None if corner_pass is None else corner_pass.losses
        corner = self._bounds[self._next].mark.corner
        events.append(Passed(now.t, now.lap, corner, judged, None if losses is None else losses.net, marks))
        self._next += 1
        self._exit_passed = None
        return events

    def happened(self, finding: Finding, now: Now) -> list[Event]:
        """What a watch found: kept for the judgement of the corner that it lies in, or told at once."""
        index, bounds = self._next, self._bounds
        ahead = bounds[index].braking if index < len(bounds) else bounds[0].braking + self._length if bounds else None
        if ahead is not None and finding.distance >= ahead:
            self._waiting.append(finding)
            return []
        corner = None
        if bounds and (index > 0 or finding.distance < 0.0):  # begun before the line: behind the last corner
            behind, place = bounds[index - 1], finding.distance + (0.0 if index > 0 else self._length)
            beyond = place > behind.exit and finding.phases == ("straight",)
            corner = None if beyond or not behind.braking <= place <= behind.end else behind.mark.corner
        return [loose_fault(finding, now, corner)]

    def flush(self, now: Now) -> list[Event]:
        """What waits for a judgement that will not come: the car was moved, or has stopped."""
        corner = self._bounds[self._next].mark.corner if self._next < len(self._bounds) else None
        events: list[Event] = [loose_fault(finding, now, corner) for finding in roots(self._waiting)]
        self._waiting = []
        return events

    def _cut(self, now: Now, index: int) -> CornerPass | None:
        bounds = self._bounds[index]
        for begins in (max(bounds.behind, bounds.braking - APPROACH), bounds.braking):
            own = from_tapes(now.before, now.before_length, now.tape, begins, now.progress)
            if own is not None:
                break
        if own is None or now.quiet or len(own) < 3 or own.longest_step(bounds.braking) >= GAP or _stood(own):
            return None
        before = self._bounds[index - 1] if len(self._bounds) > 1 else None
        pace = None if self._pace is None else self._pace[index]
        return CornerPass(
            lap=now.lap,
            bounds=bounds,
            own=own,
            reference=None if self._rows is None else self._rows[index],
            by_marks=now.flying and self._rows is not None and not _held_up(own, bounds, now),
            by_gears=self._same_car,
            shown=self._shown,
            scatter=self._scatter,
            usual=self._usual,
            by_line=self._by_line,
            opens=before is None or not before.mark.linked,
            closes=not bounds.mark.linked,
            target=pace,
            losses=None if pace is None else losses_of(own, pace, bounds),
            pace=self._common.share(),
        )

    @staticmethod
    def _marks(p: CornerPass, now: Now, families: list[Family]) -> tuple[Mark, ...]:
        """None on a lap or behind a car for which no driver keeps to the marks."""
        if not now.flying or _held_up(p.own, p.bounds, now):
            return ()
        return marks_of(p, {family.name for family in seeing(families, p.own)})

    def _judge(self, p: CornerPass, now: Now, families: list[Family]) -> list[Event]:
        families = seeing(families, p.own)
        findings = [finding for family in families for finding in family.judge(p)]
        found = roots(findings + self._waiting)
        self._waiting = []
        events: list[Event] = [self._priced(p, finding, found, now) for finding in found]
        if now.flying and not _held_up(p.own, p.bounds, now):
            for family in families:
                for feature, value in family.measure(p):
                    self._scatter.add(p.corner, feature, value)
            if p.losses is not None:
                self._common.add(p.losses.net, p.losses.target)
        return events

    def _priced(self, p: CornerPass, found: Finding, all_found: list[Finding], now: Now) -> Fault:
        losses, cost = p.losses, found.cost
        if cost is None and losses is not None:
            cost = 0.0
            for phase in touched(found):
                sharers = sum(phase in touched(other) for other in all_found)
                cost += losses.of((phase,)) / sharers
            cost = max(0.0, cost)
        return _fault(found, now, p.corner, None if losses is None else losses.net, cost)


def touched(found: Finding) -> tuple[str, ...]:
    """The phases that a fault touches: from the first one it shows in to the end, for its speed is carried on."""
    return PHASES[min((PHASES.index(phase) for phase in found.phases), default=len(PHASES)) :]


def loose_fault(found: Finding, now: Now, corner: int | None) -> Fault:
    """The fault of a finding outside of any pass that can be judged; only its own cost is known, if that."""
    return _fault(found, now, corner, found.cost, found.cost)


def _fault(found: Finding, now: Now, corner: int | None, net: float | None, cost: float | None) -> Fault:
    """What was found as the log has it; a place before the line is one of the lap before."""
    before_line = found.distance < 0.0
    return Fault(
        t=now.t,
        lap=now.lap - 1 if before_line else now.lap,
        fault=found.fault,
        corner=corner,
        distance=found.distance + now.before_length if before_line else found.distance,
        begins=found.begins,
        size=found.size,
        unit=found.unit,
        net=net,
        cost=cost,
        also=found.also,
        evidence=found.evidence,
    )


def _held_up(own: Stretch, bounds: Bounds, now: Now) -> bool:
    """Whether another car was near in this pass: what was done then was done for it."""
    return now.traffic is not None and now.traffic >= own.t[min(own.index(bounds.braking), len(own) - 1)]


def _stood(rows: Stretch) -> bool:
    """Whether the car stopped in this pass: what it did then is no driving of the corner."""
    return bool((np.asarray(rows["speed"]) < STANDING).any())
