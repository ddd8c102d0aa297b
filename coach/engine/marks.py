"""The marks that a pass hit or missed: where it braked, and the road it left at the apex and the exit.

The places, the driver's own scatter and what it excuses are those of the families that judge them as faults
(`faults/braking.py`, `faults/line.py`), with two differences, for here it is asked how alike laps are and not what
costs time: a mark is missed to either side, and a scatter beyond `MOST_EARLY` excuses nothing.
"""

from __future__ import annotations

from collections.abc import Collection

from coach.engine.faults.base import CornerPass
from coach.engine.faults.braking import (
    LEAST_EARLY,
    LEAST_LATE,
    POINT,
    BrakingFamily,
    braking_of,
    placed_within,
    plainly_elsewhere,
)
from coach.engine.faults.line import LineFamily, held_up, left_unused, room_used, within
from coach.engine.faults.room import Room, room_of
from coach.vocabulary.events import Mark
from coach.vocabulary.marks import APEX, BRAKE, EXIT

_LINE = {APEX: "missed_apex", EXIT: "narrow_exit"}
"""The fault that looks at the same place."""


def marks_of(p: CornerPass, able: Collection[str]) -> tuple[Mark, ...]:
    """The marks that this pass showed; `able` names the families whose channels were there all the way.

    To be asked of fair passes alone: on cold tyres, from a standing start or behind another car a driver brakes and
    steers for those. `off` is None where nothing says where the mark is: without a reference, where it does not brake
    for this corner, and at the exit of a car that was held up.
    """
    marks = []
    if BrakingFamily.name in able:
        mark = _brake(p)
        if mark is not None:
            marks.append(mark)
    room = room_of(p) if LineFamily.name in able else None
    if room is not None and (room.theirs is not None or room.by_edges):
        for name, fault in _LINE.items():
            mark = _across(p, room, name, fault)
            if mark is not None:
                marks.append(mark)
    return tuple(marks)


def _brake(p: CornerPass) -> Mark | None:
    own = braking_of(p, p.own)
    if own is None:
        return None
    place, speed = own.begins[1], own.speed
    there = None if p.reference is None else braking_of(p, p.reference)
    late = 0.0
    off = None
    if there is not None:
        common = p.common(POINT)
        first = p.at_most_usual(POINT, there.begins[1]) + min(0.0, common)
        late = max(0.0, place - p.at_least_usual(POINT, there.begins[1]) - max(0.0, common))
        off = late if place >= first else place - first
    least = LEAST_LATE if late > 0.0 else LEAST_EARLY
    return Mark(BRAKE, place, off, min(placed_within(p, least, speed), plainly_elsewhere(speed)))


def _across(p: CornerPass, room: Room, name: str, fault: str) -> Mark | None:
    unused = None if p.reference is None or (name == EXIT and held_up(p)) else left_unused(p, room, fault)
    if unused is not None:
        return Mark(name, unused.own.gap, unused.size, unused.allowed)
    own = room_used(p, room, fault)
    return None if own is None else Mark(name, own.gap, None, within(p, room, fault))
