"""An invented circuit, a reference lap of it, and a car that drives it: for the planner's tests.

m     0 .. 400   second half of the long straight        1060 .. 1100  a straight too short to speak on
    400 .. 480   braking                                 1100 .. 1130  braking
    480 .. 600   turn one                                1130 .. 1240  turn three
    600 .. 900   a straight                              1240 .. 2000  first half of the long straight
    900 .. 960   braking
    960 .. 1060  turn two
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

from coach.overlay.rehearsal import Part, lap_of
from coach.planner.phrases import Phrases
from coach.planner.planner import Planner
from coach.planner.playbook import Playbook
from coach.planner.start import PlannerStart
from coach.planner.state import Practised
from coach.playbook.load import load
from coach.vocabulary.events import CornerMark, Corners, Cue, Event, Fault, Moment, Reference, Stage
from coach.vocabulary.trace import LapTrace

STEP = 2.0


def braking(metres: float) -> Part:
    return Part(metres, 35.0, 0.0, 0.8, 2.0)


def turning(metres: float, lateral: float = 20.0) -> Part:
    return Part(metres, 25.0, 0.3, 0.0, lateral)


def leaving(metres: float) -> Part:
    return Part(metres, 40.0, 1.0, 0.0, 12.0)


PARTS = (
    *(Part(400, 60.0), braking(80), turning(80), leaving(40), Part(300, 45.0)),
    *(braking(60), turning(70, 18.0), leaving(30), Part(40, 35.0)),
    *(braking(30), turning(70, 18.0), leaving(40), Part(760, 55.0)),
)

MARKS = (
    CornerMark(1, "left", 400.0, 480.0, 520.0, 600.0, (520.0,)),
    CornerMark(2, "right", 900.0, 960.0, 1000.0, 1060.0, (1000.0,), linked=True),
    CornerMark(3, "left", 1100.0, 1130.0, 1165.0, 1240.0, (1165.0,)),
)


def lap_trace(parts: Iterable[Part] = PARTS, step: float = STEP) -> LapTrace:
    """A lap of even pieces, each a whole number of steps long."""
    return lap_of(parts, step)


def drive(
    trace: LapTrace,
    laps: float = 1.0,
    rate: float = 50.0,
    t: float = 100.0,
    begin: float = 0.0,
    pace: float = 1.0,
    change: Callable[[Moment], Moment] = lambda moment: moment,
) -> Iterator[Moment]:
    """The reference driven again from `begin` (m) at `rate` samples a second, `pace` times as quick."""
    distance, end, start = begin, begin + laps * trace.length, t
    sample = 0
    while distance < end:
        here = distance % trace.length
        speed = trace.at(trace.speed, here) * pace
        cell = int(here / trace.step)
        now = Moment(
            t=start + sample / rate,
            lap=1 + int(distance // trace.length),
            distance=here,
            speed=speed,
            throttle=trace.throttle[cell],
            brake=trace.brake[cell],
            lateral=trace.lateral[cell],
        )
        yield change(now)
        sample += 1
        distance += speed / rate


def fault(
    name: str = "late_throttle",
    corner: int | None = 1,
    lap: int = 1,
    net: float | None = 0.2,
    cost: float | None = 0.2,
    distance: float = 520.0,
) -> Fault:
    return Fault(t=0.0, lap=lap, fault=name, corner=corner, distance=distance, net=net, cost=cost)


@cache
def default() -> Playbook:
    return load()


@cache
def phrases() -> tuple[str, ...]:
    return tuple(Phrases(default()).all())


def playbook(silence: dict[str, Any] | None = None, **talk: Any) -> Playbook:
    """The default playbook, some of its [talk] and [silence] otherwise."""
    made = default()
    return replace(made, talk=replace(made.talk, **talk), silence=replace(made.silence, **(silence or {})))


def planner(
    focus: tuple[str, ...] = (),
    seconds: float = 0.8,
    lengths: dict[str, float] | None = None,
    book: Playbook | None = None,
) -> Planner:
    """A planner for which every phrase takes `seconds`, but for those in `lengths`."""
    table = dict.fromkeys(phrases(), seconds) | (lengths or {})
    return Planner(PlannerStart(book or default(), focus=focus, lengths=table, phrases="made"))


def knowing(plan: Planner, trace: LapTrace, marks: tuple[CornerMark, ...] = MARKS) -> Planner:
    """The planner after it has heard of map and reference."""
    assert plan.push(Corners(0.0, 0, "made", marks, trace)) == []
    assert plan.push(Reference(0.0, 0, trace.time[-1], "file", trace)) == []
    return plan


def unkept(events: list[Event]) -> list[Event]:
    """Without what is only for the memory, and how the stage stands at each line."""
    return [event for event in events if not isinstance(event, (Practised, Stage))]


def play(plan: Planner, moments: Iterable[Moment], *findings: tuple[float, Fault], finish: bool = True) -> list[Cue]:
    """Push the moments, and each finding when its lap's car has come to the distance (m); give the cues back."""
    waiting = list(findings)
    out: list[Event] = []
    for moment in moments:
        out += plan.push(moment)
        for finding in list(waiting):
            place, found = finding
            if moment.lap == found.lap and moment.distance is not None and moment.distance >= place:
                waiting.remove(finding)
                out += plan.push(replace(found, t=moment.t))
    assert not waiting, "the car never came to where a finding is decided"
    if finish:
        out += plan.finish()
    out = unkept(out)
    cues = [event for event in out if isinstance(event, Cue)]
    assert len(cues) == len(out)
    return cues
