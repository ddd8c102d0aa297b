"""Made sessions: events as a drive gives them, of a circuit of four corners, with the faults that are asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from coach.engine.lap import GridLap
from coach.engine.learned import Learned
from coach.engine.scatter import Scatter
from coach.review.collector import Collector
from coach.review.model import KeptSession
from coach.vocabulary.events import (
    CornerMark,
    Corners,
    Cue,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Mark,
    Passed,
    Reference,
    Run,
    Spoken,
    Stage,
)
from coach.vocabulary.trace import LapTrace

LENGTH = 1000.0
"""m"""
TIME = 50.0
"""s of the reference"""
CORNERS = 4
TRACE = LapTrace(LENGTH, 500.0, [0.0, 25.0, 50.0], [20.0] * 3, [1.0] * 3, [0.0] * 3, [0.0] * 3)
MARKS = tuple(
    CornerMark(k, "left" if k % 2 else "right", 250.0 * k - 200, 250.0 * k - 150, 250.0 * k - 110, 250.0 * k - 80,
               (250.0 * k - 110,))
    for k in range(1, CORNERS + 1)
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Did:
    """One fault in one lap: `cost` s; `late`: told after its lap's end."""

    fault: str
    corner: int | None
    cost: float | None = 0.2
    size: float = 0.5
    late: bool = False
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Drove:
    """One lap: `lost` s by corner besides what its faults cost; `said` cues (words, fault, corner)."""

    faults: Sequence[Did] = ()
    clean: bool = True
    why_not: tuple[str, ...] = ()
    timed: bool = True
    judged: bool = True
    lost: dict[int, float] = field(default_factory=dict)
    said: Sequence[tuple[str, str, int]] = ()
    marks: dict[int, tuple[Mark, ...]] = field(default_factory=dict)
    grid: bool = False
    ends: bool = True


def run(t: float = 0.0, track: str = "Made", car: str = "Car") -> list[Event]:
    """The events that open a session."""
    return [
        Run(t, 0, "1", "made", track, car, None, "shipped"),
        Reference(t, 1, TIME, "made", TRACE),
        Corners(t, 0, "m1", MARKS, TRACE),
    ]


def lap(number: int, t: float, did: Drove) -> list[Event]:
    """The events of one lap that begins at `t` s."""
    events: list[Event] = []
    late: list[Event] = []
    lost = {corner: did.lost.get(corner, 0.0) for corner in range(1, CORNERS + 1)}
    for corner in range(1, CORNERS + 1):
        at = t + 10.0 * corner
        mine = [one for one in did.faults if one.corner == corner]
        net = lost[corner] + sum(one.cost or 0.0 for one in mine)
        lost[corner] = net
        for one in mine:
            (late if one.late else events).append(_fault(one, number, at, net))
        (late if any(one.late for one in mine) else events).append(
            Passed(at, number, corner, did.judged, net, did.marks.get(corner, ()))
        )
        for words, about, place in did.said:
            if place == corner:
                of = (Spoken(number, corner, about),)
                events.append(
                    Cue(at + 1, number, "correction", about, of, corner, words, True, at + 1, at + 2, None, None)
                )
    events += [_fault(one, number, t + 45.0, None) for one in did.faults if one.corner is None]
    if not did.ends:
        return events + late
    delta = sum(lost.values())
    time = TIME + delta
    end = t + time
    shown = time if did.timed else None
    events.append(Lap(end, number, shown, None, did.clean, did.why_not, delta if did.timed else None, TIME))
    if did.timed:
        parts = tuple(LossPart(corner, "exit", round(seconds, 4)) for corner, seconds in lost.items())
        events.append(Loss(end, number, parts))
    events.append(Learned(end, number, grid(number, lost) if did.grid else None, None, Scatter()))
    return events + late


def grid(number: int, lost: dict[int, float]) -> GridLap:
    """Channels of a lap that loses these seconds, each in its corner."""
    places = np.linspace(0.0, LENGTH, 201)
    time = places / LENGTH * TIME
    for mark in MARKS:
        time = time + lost[mark.corner] * np.clip((places - mark.entry) / (mark.exit - mark.entry), 0.0, 1.0)
    still = np.zeros(len(places))
    return GridLap(number, LENGTH, time, still, {"speed": still + 20.0}, "Made", "Car")


def session(*laps: Drove, stage: str | None = None) -> KeptSession:
    """A session of these laps, numbered from 1."""
    collector = Collector()
    for event in events_of(*laps, stage=stage):
        collector.take(event)
    (made,) = collector.sessions
    return made


def events_of(*laps: Drove, stage: str | None = None, first: int = 1) -> list[Event]:
    """All events of a session of these laps."""
    events = run()
    if stage is not None:
        events.append(Stage(0.0, 0, stage))
    t = 1.0
    for number, did in enumerate(laps, first):
        events += lap(number, t, did)
        t += 100.0
    return events


def _fault(one: Did, number: int, at: float, net: float | None) -> Fault:
    corner = one.corner
    place = 500.0 if corner is None else MARKS[corner - 1].apex
    return Fault(at, number, one.fault, corner, place, at - 2, one.size, "s", net, one.cost, one.also)
