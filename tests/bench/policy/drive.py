"""A pupil's laps, and the events that a coach gets of them, as the engine would give them live."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from coach.vocabulary.events import (
    CornerMark,
    Corners,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Moment,
    Passed,
    Reference,
    Run,
)
from coach.vocabulary.faults import FAULTS

from .policies import Coach
from .pupil import Made, Pass, Pupil
from .table import Losses
from .traits import FALSE, FOUND

EVERY = 0.1
"""s between two moments."""
FULL = 0.95
"""Throttle that counts as full (common practice, as in the definition of the faults)."""
BRAKING = ("early_braking", "late_braking", "soft_braking", "lock_up", "coasting", "early_downshift")
ENTRY = ("over_slowed", "narrow_entry", "missed_apex", "early_turn_in", "late_turn_in")
"""Kinds that lose their time in the braking or the entry; the others do so at the exit and behind it."""


@dataclass(frozen=True, slots=True)
class Turn:
    """A coached corner of the course: places in m; `full` where full throttle is reached, or the next brake point."""

    mark: CornerMark
    full: float


@dataclass(slots=True)
class LapDriven:
    """`loss` s to the reference; `disturbed` s of it that cues in corners cost; how many `cues` were said."""

    loss: float = 0.0
    disturbed: float = 0.0
    cues: int = 0


@dataclass(slots=True)
class _Running:
    """One lap on its way: `begun` s at the line, `offset` s lost until now."""

    number: int
    begun: float
    driven: LapDriven = field(default_factory=LapDriven)
    offset: float = 0.0
    net: dict[int, float] = field(default_factory=dict)
    made: dict[int, list[Made]] = field(default_factory=dict)


class Course:
    """The reference lap as a pupil drives it: moments and corners in order of place."""

    def __init__(self, losses: Losses) -> None:
        self.losses, self.trace = losses, losses.trace
        marks = [mark for mark in losses.corners if mark.coached]
        ends = [after.brake for _, after in pairwise(marks)] + [self.trace.length]
        self.turns = [Turn(mark, self._full(mark, end)) for mark, end in zip(marks, ends, strict=True)]
        self.ticks = list(self._ticks())

    def _full(self, mark: CornerMark, end: float) -> float:
        trace, place = self.trace, mark.apexes[-1]
        while place < end and trace.at(trace.throttle, place) < FULL:
            place += trace.step
        return min(place, end)

    def _ticks(self) -> Iterator[tuple[float, float, float, float, float, float]]:
        """Reference's time (s), place (m), speed, throttle, brake and lateral of every moment of a lap."""
        trace, cell, number = self.trace, 0, 0
        while (t := number * EVERY) < trace.time[-1]:
            while trace.time[cell + 1] <= t:
                cell += 1
            part = (t - trace.time[cell]) / (trace.time[cell + 1] - trace.time[cell])
            place = (cell + part) * trace.step
            channels = (trace.speed, trace.throttle, trace.brake, trace.lateral)
            speed, throttle, brake, lateral = (trace.at(channel, place) for channel in channels)
            yield t, place, speed, throttle, brake, lateral
            number += 1


def drive(course: Course, pupil: Pupil, coach: Coach, laps: int, uncued: int) -> list[LapDriven]:
    """`laps` laps with the coach, and `uncued` more on which nothing is said and nothing heard."""
    t, out = 0.0, []
    for event in _opening(course):
        _hear(pupil, coach, event)
    for number in range(1, laps + uncued + 1):
        lap = _Running(number, t)
        speaks = number <= laps
        for event in _lap(course, pupil, lap, speaks and coach.moments):
            if speaks:
                lap.driven.cues += _hear(pupil, coach, event)
        t += course.losses.reference_time + lap.driven.loss
        pupil.lap_over(t)
        out.append(lap.driven)
    return out


def _opening(course: Course) -> Iterator[Event]:
    made = course.losses.made
    yield Run(0.0, 0, "", "generic", made["circuit"], made["car"], "reference", "")
    yield Reference(0.0, 0, course.losses.reference_time, "reference", course.trace)
    yield Corners(0.0, 0, "made", course.losses.corners, course.trace)


def _hear(pupil: Pupil, coach: Coach, event: Event) -> int:
    said = coach.push(event)
    for one in said:
        pupil.hear(one)
    return len(said)


def _lap(course: Course, pupil: Pupil, lap: _Running, moments: bool) -> Iterator[Event]:
    """One lap's events in order of time.

    Each corner's loss lies between its brake point and its exit; what cues cost comes at the exit, and no coach is told
    of it as a finding. The pedals are the reference's own, whatever went wrong.
    """
    trace, ticks, tick = course.trace, course.ticks if moments else [], 0
    for turn in course.turns:
        mark = turn.mark
        while tick < len(ticks) and ticks[tick][1] < mark.brake:
            yield _moment(ticks[tick], lap, lap.offset)
            tick += 1
        braked = lap.begun + trace.at(trace.time, mark.brake) + lap.offset
        made = pupil.enter(mark.corner, braked)
        loss = sum(mistake.net for mistake in made) + pupil.noise(mark.corner)
        before = lap.offset
        while tick < len(ticks) and ticks[tick][1] < mark.exit:
            part = (ticks[tick][1] - mark.brake) / (mark.exit - mark.brake)
            yield _moment(ticks[tick], lap, before + loss * part)
            tick += 1
        lap.offset += loss
        out = lap.begun + trace.at(trace.time, mark.exit) + lap.offset
        full = lap.begun + trace.at(trace.time, turn.full) + lap.offset
        yield from _findings(course, pupil, lap, mark, made, out, loss)
        seconds, slip = pupil.leave(Pass(mark.corner, braked, full, out))
        lap.driven.disturbed += seconds + (slip.net if slip else 0.0)
        lap.offset += seconds + (slip.net if slip else 0.0)
        lap.net[mark.corner] = lap.offset - before
        lap.made[mark.corner] = made
    while tick < len(ticks):
        yield _moment(ticks[tick], lap, lap.offset)
        tick += 1
    lap.driven.loss = lap.offset
    yield from _line(course, lap)


def _moment(tick: tuple[float, float, float, float, float, float], lap: _Running, offset: float) -> Moment:
    t, place, speed, throttle, brake, lateral = tick
    return Moment(lap.begun + t + offset, lap.number, place, speed, throttle, brake, lateral)


def _findings(
    course: Course, pupil: Pupil, lap: _Running, mark: CornerMark, made: list[Made], t: float, loss: float
) -> Iterator[Event]:
    """What the engine finds at a corner's exit: most of what was made, and now and then what was not."""
    dice = random.Random(f"{pupil.name} {lap.number} {mark.corner} found")
    net = sum(mistake.net for mistake in made)
    for mistake in [mistake for mistake in made if mistake.found and dice.random() < FOUND]:
        yield _fault(mark, mistake.kind, mistake.size, net, mistake.cost, lap.number, t)
    if not made and dice.random() < FALSE:
        losses = course.losses
        kind = dice.choice([kind for kind, places in losses.table.items() if mark.corner in places])
        step = losses.at(kind, mark.corner, losses.least(kind, mark.corner))
        yield _fault(mark, kind, step.size, step.net, step.cost, lap.number, t)
    yield Passed(t, lap.number, mark.corner, True, loss)


def _fault(mark: CornerMark, kind: str, size: float, net: float, cost: float, lap: int, t: float) -> Fault:
    return Fault(t, lap, kind, mark.corner, mark.apex, t, size, FAULTS[kind].unit, net, cost)


def _line(course: Course, lap: _Running) -> Iterator[Event]:
    reference = course.losses.reference_time
    t = lap.begun + reference + lap.offset
    yield Lap(t, lap.number, reference + lap.offset, None, True, (), lap.offset, reference)
    parts: list[LossPart] = []
    for turn in course.turns:
        parts += _parts(turn.mark.corner, lap.net[turn.mark.corner], lap.made[turn.mark.corner])
    yield Loss(t, lap.number, tuple(parts))


def _parts(corner: int, loss: float, made: list[Made]) -> list[LossPart]:
    """A corner's seconds by phase: each mistake's where its kind loses them; of what is lost at the exit half comes on
    the straight."""
    braking = sum(mistake.net for mistake in made if mistake.kind in BRAKING)
    entry = sum(mistake.net for mistake in made if mistake.kind in ENTRY)
    rest = loss - braking - entry
    half = rest / 2
    return [
        LossPart(corner, "braking", braking),
        LossPart(corner, "entry", entry),
        LossPart(corner, "exit", half),
        LossPart(corner, "straight", rest - half, rest - half),
    ]
