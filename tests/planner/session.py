"""A whole session for the planner: laps of the made circuit, with findings where a test wants them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from coach.planner.planner import Planner
from coach.vocabulary.events import (
    Action,
    Advice,
    CornerMark,
    Cue,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Moment,
    Passed,
    Run,
    Stores,
)
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import MARKS, drive, fault, knowing, lap_trace, unkept

NET = 0.02
"""s that a clean pass loses."""

Found = Mapping[tuple[int, int], str | Fault]
"""By lap and corner: a fault's name, or the whole finding."""


def practise(
    plan: Planner,
    laps: int,
    found: Found | None = None,
    *,
    judged: Callable[[int, int], bool] = lambda lap, corner: True,
    change: Callable[[Moment], Moment] = lambda moment: moment,
    actions: Mapping[int, str] | None = None,
    stores: Callable[[int], Stores] | None = None,
    delta: float = 0.1,
    trace: LapTrace | None = None,
    marks: tuple[CornerMark, ...] = MARKS,
    rate: float = 25.0,
    state: dict[str, Any] | None = None,
) -> list[Event]:
    """Drive `laps` laps and give all back that the planner said. `actions`: pressed at the beginning of that lap;
    `state`: recalled at the very beginning."""
    trace = lap_trace() if trace is None else trace
    begun(plan, trace, marks)
    out: list[Event] = plan.recall(state, None)
    before: Moment | None = None
    waiting = list(marks)
    lost: dict[int, float] = {}
    for moment in drive(trace, laps=laps, rate=rate, change=change):
        if before is not None and moment.lap != before.lap:
            out += _line(plan, before.lap, moment.t, trace, delta, lost)
            waiting, lost = list(marks), {}
            if actions and moment.lap in actions:
                out += plan.push(Action(moment.t, moment.lap, actions[moment.lap]))
            if stores is not None:
                out += plan.push(stores(moment.lap))
        while waiting and moment.distance is not None and moment.distance >= waiting[0].exit:
            mark = waiting.pop(0)
            finding = (found or {}).get((moment.lap, mark.corner))
            net = NET
            if finding is not None:
                made = fault(finding, distance=mark.apex) if isinstance(finding, str) else finding
                made = replace(made, t=moment.t, lap=moment.lap, corner=mark.corner)
                net = made.net if made.net is not None else NET
                out += plan.push(made)
            lost[mark.corner] = net
            out += plan.push(Passed(moment.t, moment.lap, mark.corner, judged(moment.lap, mark.corner), net))
        out += plan.push(moment)
        before = moment
    return out + plan.finish()


def begun(plan: Planner, trace: LapTrace | None = None, marks: tuple[CornerMark, ...] = MARKS) -> Planner:
    """The planner once a session has begun, with its map and reference."""
    assert unkept(plan.push(Run(100.0, 0, "1", "made", "made", "made", None, "made"))) == []
    return knowing(plan, lap_trace() if trace is None else trace, marks)


def _line(plan: Planner, lap: int, t: float, trace: LapTrace, delta: float, lost: dict[int, float]) -> list[Event]:
    reference = trace.time[-1]
    parts = tuple(LossPart(corner, "exit", seconds) for corner, seconds in lost.items())
    out = plan.push(Lap(t, lap, reference + delta, None, True, (), delta, reference))
    return out + plan.push(Loss(t, lap, parts))


def cues(events: list[Event], kind: str | None = None) -> list[Cue]:
    """The spoken ones."""
    return [e for e in events if isinstance(e, Cue) and e.spoken and kind in (None, e.kind)]


def said(events: list[Event], kind: str | None = None) -> list[tuple[int, str]]:
    """Lap and words of what was spoken."""
    return [(cue.lap, cue.text) for cue in cues(events, kind)]


def held_back(events: list[Event]) -> list[tuple[int, str | None]]:
    """Lap of the finding, and why, of what was not."""
    return [(e.of[0].lap if e.of else e.lap, e.why_not) for e in events if isinstance(e, Cue) and not e.spoken]


def advice(events: list[Event]) -> list[str]:
    return [event.text for event in events if isinstance(event, Advice)]


def late(*laps: int, corner: int = 1) -> dict[tuple[int, int], str | Fault]:
    """Late throttle at a corner on these laps."""
    return {(lap, corner): "late_throttle" for lap in laps}
