"""Holds an event log against a drive's truth. An event log is a list of its lines, decoded.

A mistake *pays* when it lost 0.05 s, or is of a kind that counts whatever it lost. It is *found* when its lap has a
fault of a name that is right for it, within 60 m of its corner. Other findings within 90 m of the corner are *also*
reported, unless the truth says that the corner shows them too. Every other fault is *false*, with some excuses: it is
reported as too cheap to be spoken of; its pass is naturally off the reference; a mistake or an incident was near.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from .truth import Fault, Truth

Event = dict[str, Any]

PAYS, CHEAP = 0.05, 0.03
"""s lost from which a mistake counts; s of `net` under which a finding is never spoken of"""
WHATEVER = frozenset({"early_downshift", "off_track", "lock_up"})
"""Kinds that pay whatever they lose."""
NAMES = {"late_braking": {"late_braking", "missed_apex"}}
"""Names that are right for a mistake besides its own."""
HIT, NEAR, ODD = 60.0, 90.0, 150.0
"""m about a corner: in which it is found, in which other findings are its own, and those of an odd pass are excused"""
DISTURBED = (150.0, 400.0)
"""m before a mistake's corner and behind its exit in which no pass is clean"""
RECOVERING = (100.0, 400.0)
"""m before and behind an incident, likewise"""
SOON = 1.5
"""s behind the exit up to which a finding is in time"""
FIRST_LAP = 2


@dataclass(slots=True)
class Found:
    """One planted mistake, and what became of it. `instead`: other faults in its corner, (name, size, cost, net)."""

    fault: Fault
    pays: bool
    hit: Event | None
    instead: list[Event]
    cues_right: int = 0
    cues_wrong: list[Event] = field(default_factory=list)

    @property
    def late(self) -> float | None:
        """s behind the exit that it was reported, where that is too late."""
        behind = 0.0 if self.hit is None else self.hit["t"] - self.fault.left_at
        return behind if behind > SOON else None

    @property
    def cost_error(self) -> float | None:
        """s between the cost that was told and the time that was lost."""
        cost = None if self.hit is None else self.hit.get("cost")
        return None if cost is None else abs(cost - self.fault.lost)


@dataclass(slots=True)
class Score:
    """One drive's score."""

    name: str
    scatter: str
    found: list[Found]
    swallowed: tuple[tuple[str, int, int, float, float], ...]
    """as the truth has them"""
    clean: int
    false: list[Event]
    lap_errors: list[float]
    """s, of laps from the second on; a lap that was not timed is infinite"""
    residuals: list[float]
    """s between the sum of a lap's parts and its delta"""


class _Round:
    """Distances on a circuit, where the line is no end."""

    def __init__(self, length: float) -> None:
        self.length = length

    def within(self, place: float, begins: float, ends: float) -> bool:
        return any(begins <= place + turn <= ends for turn in (0.0, -self.length, self.length))


def score(events: list[Event], truth: Truth) -> Score:
    """The score of one drive."""
    road = _Round(truth.length)
    faults = [event for event in events if event["type"] == "fault"]
    used: set[int] = set()
    found = [_found(fault, faults, used, road) for fault in truth.faults]
    _hear(found, events, road)
    false = [
        event
        for i, event in enumerate(faults)
        if i not in used and _counts(event, truth) and not _excused(event, truth, road)
    ]
    clean = sum(1 for _ in clean_passes(truth, road))
    return Score(
        truth.name, truth.scatter, found, truth.swallowed, clean, false, _lap_errors(events, truth), _residuals(events)
    )


def right_names(fault: Fault) -> set[str]:
    """The names of faults that are right for a mistake's corner."""
    shown = {"over_slowed"} if "early_braking" in fault.shows else set()
    return _own(fault) | set(fault.shows) | shown


def _own(fault: Fault) -> set[str]:
    return NAMES.get(fault.kind, {fault.kind})


def _found(fault: Fault, faults: list[Event], used: set[int], road: _Round) -> Found:
    own, right = _own(fault), right_names(fault)
    hits, others = [], []
    for i, event in enumerate(faults):
        if event["lap"] != fault.lap:
            continue
        place = event["distance"]
        if event["fault"] in own and road.within(place, fault.start - HIT, fault.exit + HIT):
            hits.append(event)
            used.add(i)
        if road.within(place, fault.start - NEAR, fault.exit + NEAR):
            used.add(i)
            if event["fault"] not in right:
                others.append(event)
    pays = fault.kind in WHATEVER or fault.lost >= PAYS
    return Found(fault, pays, hits[0] if hits else None, others)


def _hear(found: list[Found], events: list[Event], road: _Round) -> None:
    """Which of the spoken corrections name the mistake of the corner that they speak of."""
    apexes = {c["corner"]: c["apex"] for e in events if e["type"] == "corners" for c in e["corners"]}
    for event in events:
        if event["type"] != "cue" or not event["spoken"] or event["kind"] != "correction":
            continue
        places = {(of["lap"], apexes[of["corner"]]) for of in event["of"] if of["corner"] in apexes}
        for one in found:
            fault = one.fault
            begins, ends = fault.start - NEAR, fault.exit + NEAR
            if any(lap == fault.lap and road.within(apex, begins, ends) for lap, apex in places):
                if event["about"] in right_names(fault):
                    one.cues_right += 1
                else:
                    one.cues_wrong.append(event)


def clean_passes(truth: Truth, road: _Round | None = None) -> Iterator[tuple[int, int]]:
    """(lap, corner) of each pass at which nothing was wrong and nothing near disturbed it."""
    road = road or _Round(truth.length)
    for lap in _timed(truth):
        for corner, start, leaves in truth.bends:
            if (lap, corner) in truth.odd:
                continue
            if any(_disturbs(f, lap, place, road) for f in truth.faults for place in (start, leaves)):
                continue
            if any(_overlaps(incident, lap, start, leaves) for incident in truth.incidents):
                continue
            yield lap, corner


def _timed(truth: Truth) -> Iterable[int]:
    return (lap for lap in truth.lap_times if lap >= FIRST_LAP)


def _disturbs(fault: Fault, lap: int, place: float, road: _Round) -> bool:
    before, behind = DISTURBED
    return fault.lap == lap and road.within(place, fault.start - before, fault.exit + behind)


def _overlaps(incident: tuple[int, float, float], lap: int, begins: float, ends: float) -> bool:
    before, behind = RECOVERING
    return incident[0] == lap and incident[1] - before <= ends and begins <= incident[2] + behind


def _counts(event: Event, truth: Truth) -> bool:
    net = event.get("net")
    return event["lap"] in truth.lap_times and event["lap"] >= FIRST_LAP and (net is None or net >= CHEAP)


def _excused(event: Event, truth: Truth, road: _Round) -> bool:
    lap, place = event["lap"], event["distance"]
    for corner, start, leaves in truth.bends:
        if (lap, corner) in truth.odd and road.within(place, start - ODD, leaves + ODD):
            return True
    return any(_disturbs(fault, lap, place, road) for fault in truth.faults) or any(
        _overlaps(incident, lap, place, place) for incident in truth.incidents
    )


def _lap_errors(events: list[Event], truth: Truth) -> list[float]:
    told = {event["lap"]: event["time"] for event in events if event["type"] == "lap"}
    out = []
    for lap in _timed(truth):
        time = told.get(lap)
        out.append(float("inf") if time is None else abs(time - truth.lap_times[lap]))
    return out


def _residuals(events: list[Event]) -> list[float]:
    deltas = {event["lap"]: event["delta"] for event in events if event["type"] == "lap"}
    out = []
    for event in events:
        delta = deltas.get(event["lap"]) if event["type"] == "loss" else None
        if delta is not None:
            out.append(abs(sum(part["seconds"] for part in event["parts"]) - delta))
    return out
