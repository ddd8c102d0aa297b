"""The room between the car's side and the edges of the road, in one corner pass and in the reference's."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from coach.engine.faults.base import CornerPass
from coach.engine.road import LEFT, RIGHT, offset_from
from coach.engine.stretch import Stretch

BEFORE, INTO = 60.0, 10.0
"""m before and behind the bend's beginning in which the reference is nearest the outside edge: a bend is steered into
over some metres, and who stays at the edge for long is there up to the turn-in."""
BEHIND = 0.7
"""s behind the bend's end in which the reference may still drift out."""
ALONG = 15.0
"""m before and behind the reference's nearest place where the own nearest counts as the same (choice)."""
RUNS_OUT = 30.0
"""m behind the reference's nearest place at the exit in which the own car may still come out to the edge (choice)."""
LEVEL = 0.2
"""m: what is no farther from the edge than this counts as nearest too; the place next to the bend is taken."""

AT_ENTRY, AT_APEX, AT_EXIT = (-40.0, 0.0), (-8.0, 8.0), (-15.0, 15.0)
"""m from the bend's beginning, its apex and its end in which the room is averaged where the edges are not known: the
car is somewhere there when it is nearest to one, and how far apart two paths are changes little on the way (choice)."""

Gap = Callable[[int], float]
"""m of room at a row."""


@dataclass(slots=True, frozen=True)
class Nearest:
    """The least room: m, and m along the lap. Where the edges are not known, the mean room about that place."""

    gap: float
    place: float


@dataclass(slots=True, frozen=True)
class Room:
    """Room by row on both sides.

    `by_edges`: the edges were sent, so that the room is what is left of the road; otherwise it is counted from the
    reference's path, or, with `theirs` None, from the outermost that was driven on clean laps. `theirs` is the
    reference's room, None without one whose line is to be followed.
    """

    own: Callable[[int, int], float]
    theirs: Callable[[int, int], float] | None
    by_edges: bool


def room_of(p: CornerPass) -> Room | None:
    """How the room is known in this pass; None where nothing tells."""
    half, reference = 0.5 * p.shown.road.width, p.reference if p.by_line else None
    own = p.own
    if own.has("edge_left", "edge_right"):
        if reference is None:
            return Room(_edges(own, half), None, True)
        if reference.has("edge_left", "edge_right"):
            return Room(_edges(own, half), _edges(reference, half), True)
    if not own.has("x", "y"):
        return None
    if reference is not None and reference.has("x", "y"):
        return Room(_from_path(own, reference), lambda side, row: 0.0, False)
    road = p.shown.road
    if reference is not None or not road.known:
        return None
    return Room(lambda side, i: road.gap(side, own.d[i], own["x"][i], own["y"][i]), None, False)


def outside(p: CornerPass) -> int:
    """The outer side of the corner."""
    return RIGHT if p.bounds.mark.direction == "left" else LEFT


def nearest(rows: Stretch, gap: Gap, start: float, end: float) -> Nearest | None:
    """The least room from `start` to `end` m; None where nothing was sent there."""
    d, last = rows.d, rows.index(end)
    span = range(rows.index(start), last + 1 if last < len(rows) and d[last] <= end else last)
    sent = [(here, i) for i in span for here in [gap(i)] if here == here]
    if not sent:
        return None
    least, row = min(sent)
    return Nearest(least, d[row])


def nearest_to(rows: Stretch, gap: Gap, start: float, end: float, place: float) -> Nearest | None:
    """As `nearest`, but of all places with about the least room the one next to `place`."""
    least = nearest(rows, gap, start, end)
    if least is None:
        return None
    level = least.gap + LEVEL
    near = [d for i in range(rows.index(start), rows.index(end)) if gap(i) <= level for d in [rows.d[i]]]
    return Nearest(least.gap, min(near, key=lambda d: abs(d - place), default=least.place))


def _edges(rows: Stretch, half: float) -> Callable[[int, int], float]:
    left, right = rows["edge_left"], rows["edge_right"]
    return lambda side, i: (left[i] if side == LEFT else right[i]) - half


def _from_path(own: Stretch, reference: Stretch) -> Callable[[int, int], float]:
    x, y, d = own["x"], own["y"], own.d
    return lambda side, i: -side * offset_from(reference, d[i], x[i], y[i])


def mean(rows: Stretch, gap: Gap, place: float, about: tuple[float, float], since: float = -inf) -> Nearest | None:
    """The mean room `about` `place`, not before `since` m; None where nothing was sent there."""
    span = range(rows.index(max(since, place + about[0])), min(rows.index(place + about[1]), len(rows)))
    sent = [value for value in map(gap, span) if value == value]
    return Nearest(sum(sent) / len(sent), place) if sent else None


def at_entry(p: CornerPass, room: Room) -> tuple[Nearest | None, Nearest | None]:
    """The own and the reference's least room outside at the turn-in."""
    b, side = p.bounds, outside(p)
    if not room.by_edges:
        return mean(p.own, lambda i: room.own(side, i), b.entry, AT_ENTRY, b.approach), _zero(room, b.entry)
    start, end = max(b.approach, b.entry - BEFORE), min(b.entry + INTO, b.apex)
    theirs = _theirs(p, room, side, start, end, b.entry)
    if theirs is not None:
        start, end = max(b.approach, theirs.place - ALONG), theirs.place + ALONG
    return nearest(p.own, lambda i: room.own(side, i), start, end), theirs


def at_exit(p: CornerPass, room: Room) -> tuple[Nearest | None, Nearest | None, float]:
    """The own and the reference's least room outside at the exit, and m up to where the own one is looked for.

    The own one is None as long as the reference's place is not reached.
    """
    b, side = p.bounds, outside(p)
    if not room.by_edges:
        own = mean(p.own, lambda i: room.own(side, i), b.exit, AT_EXIT, b.apex)
        return own, _zero(room, b.exit), b.exit + AT_EXIT[1]
    speed = (p.own if p.reference is None else p.reference).value_at("speed", b.exit) or 0.0
    start, end = b.apex, min(b.exit + BEHIND * speed, b.end)
    theirs = _theirs(p, room, side, start, end, b.exit)
    needed = end
    if theirs is not None:
        start, end, needed = max(b.apex, theirs.place - ALONG), theirs.place + RUNS_OUT, theirs.place
    if p.own.d[-1] < min(needed, b.exit):
        return None, theirs, end
    return nearest(p.own, lambda i: room.own(side, i), start, end), theirs, end


def at_apex(p: CornerPass, room: Room) -> tuple[Nearest | None, Nearest | None]:
    """The own and the reference's least room inside, anywhere from turn-in to exit: a later apex is no miss.

    Where the edges are not known, only about the apex itself.
    """
    b, side = p.bounds, -outside(p)
    if not room.by_edges:
        return mean(p.own, lambda i: room.own(side, i), b.apex, AT_APEX), _zero(room, b.apex)
    theirs = _theirs(p, room, side, b.entry, b.exit, b.apex)
    return nearest(p.own, lambda i: room.own(side, i), b.entry, b.exit), theirs


def _zero(room: Room, place: float) -> Nearest | None:
    """The reference's room counted from its own path."""
    return None if room.theirs is None else Nearest(0.0, place)


def _theirs(p: CornerPass, room: Room, side: int, start: float, end: float, place: float) -> Nearest | None:
    gap = room.theirs
    if gap is None or p.reference is None:
        return None
    return nearest_to(p.reference, lambda i: gap(side, i), start, end, place)
