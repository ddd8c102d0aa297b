"""Corners by place: what one map calls turn 3 may be another number in another map of the same circuit. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from coach.engine.circuit import SAME
from coach.review.model import KeptSession
from coach.vocabulary.events import CornerMark, Cue, Fault, LossPart, Passed, Spoken

Numbers = Mapping[int, int]
"""New numbers by old ones; what is not in it keeps its own."""


def same_places(old: Sequence[CornerMark], new: Sequence[CornerMark]) -> Numbers:
    """The new numbers of corners that stand in the very same places: one lap's map, numbered as an older map is."""
    by_place = {_place(mark): mark.corner for mark in new}
    if any(mark.coached and _place(mark) not in by_place for mark in old):
        return {}  # read from another lap, which the engine has numbered alike
    return _changed({mark.corner: by_place[_place(mark)] for mark in old if _place(mark) in by_place})


def nearest(old: Sequence[CornerMark], new: Sequence[CornerMark], length: float) -> Numbers:
    """The new numbers of corners of the same direction, by the road that lies in both, then by the nearest apex (m), as
    the engine numbers them from lap to lap: in a long bend the apex moves by more than a short bend is long.

    A corner that is nowhere near keeps its own, or where that means another corner now, gets one beyond all others.
    """
    pairs = sorted(
        (-_overlap(mark, other, length), _apart(mark.apex, other.apex, length), i, j)
        for i, mark in enumerate(old)
        for j, other in enumerate(new)
        if mark.direction == other.direction
        and (_overlap(mark, other, length) > 0.0 or _apart(mark.apex, other.apex, length) <= SAME)
    )
    numbers: dict[int, int] = {}
    taken: set[int] = set()
    for _, _, i, j in pairs:
        if old[i].corner not in numbers and new[j].corner not in taken:
            numbers[old[i].corner] = new[j].corner
            taken.add(new[j].corner)
    meant = {mark.corner for mark in new}
    beyond = max((mark.corner for mark in (*old, *new)), default=0)
    for mark in old:
        if mark.corner not in numbers and mark.corner in meant:
            beyond += 1
            numbers[mark.corner] = beyond
    return _changed(numbers)


def renumber(session: KeptSession, numbers: Numbers) -> None:
    """Give all that happened in the session the new numbers. The map itself is left as it is."""
    if not numbers:
        return
    for lap in session.laps:
        lap.parts = tuple(_part(part, numbers) for part in lap.parts)
        lap.faults[:] = [_fault(fault, numbers) for fault in lap.faults]
        lap.passes[:] = [_passed(passed, numbers) for passed in lap.passes]
        lap.cues[:] = [_cue(cue, numbers) for cue in lap.cues]
    session.loose_faults[:] = [_fault(fault, numbers) for fault in session.loose_faults]
    session.loose_passes[:] = [_passed(passed, numbers) for passed in session.loose_passes]
    session.loose_cues[:] = [_cue(cue, numbers) for cue in session.loose_cues]


def renumbered(session: KeptSession, numbers: Numbers) -> KeptSession:
    """A copy with the new numbers; the session itself where nothing changes."""
    if not numbers:
        return session
    copy = replace(
        session,
        laps=[
            replace(lap, faults=list(lap.faults), passes=list(lap.passes), cues=list(lap.cues)) for lap in session.laps
        ],
        loose_faults=list(session.loose_faults),
        loose_passes=list(session.loose_passes),
        loose_cues=list(session.loose_cues),
        corners=tuple(replace(mark, corner=numbers.get(mark.corner, mark.corner)) for mark in session.corners),
    )
    renumber(copy, numbers)
    return copy


def _changed(numbers: Numbers) -> Numbers:
    return {old: new for old, new in numbers.items() if old != new}


def _place(mark: CornerMark) -> tuple[float, float, float, str]:
    return round(mark.entry, 2), round(mark.apex, 2), round(mark.exit, 2), mark.direction


def _apart(a: float, b: float, length: float) -> float:
    gap = abs(a - b) % length if length > 0.0 else abs(a - b)
    return min(gap, length - gap) if length > 0.0 else gap


def _overlap(a: CornerMark, b: CornerMark, length: float) -> float:
    """m of road that lie in both bends; 0 where the circuit's length is not known and one lies over the line."""
    if length <= 0.0:
        return max(0.0, min(a.exit, b.exit) - max(a.entry, b.entry))
    size = (a.exit - a.entry) % length
    begins = (b.entry - a.entry) % length
    ends = begins + (b.exit - b.entry) % length
    return max(0.0, min(size, ends) - begins) + max(0.0, min(size, ends - length))


def _new(corner: int | None, numbers: Numbers) -> int | None:
    return None if corner is None else numbers.get(corner, corner)


def _part(part: LossPart, numbers: Numbers) -> LossPart:
    return replace(part, corner=_new(part.corner, numbers))


def _fault(fault: Fault, numbers: Numbers) -> Fault:
    return replace(fault, corner=_new(fault.corner, numbers))


def _passed(passed: Passed, numbers: Numbers) -> Passed:
    return replace(passed, corner=numbers.get(passed.corner, passed.corner))


def _cue(cue: Cue, numbers: Numbers) -> Cue:
    of = tuple(Spoken(one.lap, _new(one.corner, numbers), one.fault) for one in cue.of)
    return replace(cue, corner=_new(cue.corner, numbers), of=of)
