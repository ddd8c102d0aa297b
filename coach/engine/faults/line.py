"""The line: how much of the road a corner is driven with.

A car at its limit turns v^2 = a R: the wider the arc, the quicker. From the outer edge in, over the inner edge, to the
outer edge out is the widest arc that a road of width w (between the car's sides) round an inner radius ri holds:
R = ri + w / (1 - cos(th/2)) for a corner that turns by th. With ri 20 m and w 10 m a right angle gives 54.142 m where
the middle of the road has 25 m, 1.4716 times the speed (closed form, in the tests). Each metre left unused at the
entry, the apex or the exit is taken from w.

Channels: edge_left, edge_right and car_width, else x and y against the reference's path or the widest road shown;
ay for who pushes. Source: checks, section 3, use of road.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from coach.engine.faults.base import CornerPass, Finding
from coach.engine.faults.braking import braking_of
from coach.engine.faults.room import Nearest, Room, at_apex, at_entry, at_exit, outside, room_of
from coach.vocabulary.events import PHASES

LEAST, MOST = 1.1, 1.75
"""m that are no fault: at least half a car and a margin, to which a driver places it; at most a car, however much the
driver scatters (choice)."""
BAND = 2.7
"""standard deviations of the driver's own scatter that are no fault, between these."""
PRIOR = 0.3
"""m, standard deviation of the place across the road before the driver's own is known (choice)."""
BY_PATH = 1.25
"""times that where there are no edges: the reference's path is one lap's and scatters, too (choice)."""
MARGIN = 0.6
"""m at most that a driver may keep from the edges in every corner alike: a margin of one's own, not this corner's
fault (choice)."""
MIDDLE = 0.5
"""of the room between the edges: who turns in, or comes out, on the inner half of the road leaves the outer half
unused, whatever the corner (choice; some corners leave a third of it to the best of lines)."""
PUSHING = 0.75
"""of the greatest lateral acceleration so far: who turns less hard needs no more road."""
BACK_OUT, SAME, JUST = 120.0, 0.7, 10.0
"""m that a car takes to go over to the other edge, the share of the unused road that was unused at the last exit, and m
before that exit where the last corner's direction is read (choice)."""
DRIVEN = 0.85
"""of the reference's exit speed: a car slower than that was held up, and needs no road at the exit."""

FEATURES = {"narrow_entry": "entry_gap", "narrow_exit": "exit_gap", "missed_apex": "apex_gap"}
"""What is measured for each fault: the least room, m."""


@dataclass(slots=True, frozen=True)
class Unused:
    """Road left unused: m, beyond `there`; `allowed` m would still be no fault."""

    own: Nearest
    there: float
    size: float
    allowed: float


class LineFamily:
    """`narrow_entry`, `narrow_exit`, `missed_apex`: m more room than the reference leaves, or to the edge itself."""

    name: ClassVar[str] = "line"
    faults: ClassVar[tuple[str, ...]] = ("narrow_entry", "narrow_exit", "missed_apex")
    needs: ClassVar[tuple[str, ...]] = ("road",)
    off_with: ClassVar[str | None] = None

    def settled(self, p: CornerPass) -> bool:
        """At the edge at the exit, or past where it would come out to it."""
        room = room_of(p)
        if room is None:
            return True
        own, theirs, until = at_exit(p, room)
        if own is None or p.own.d[-1] < until:
            return own is not None and theirs is not None and own.gap <= theirs.gap + LEAST
        return True

    def judge(self, p: CornerPass) -> list[Finding]:
        """What was left unused in this pass, each by more than the driver's own scatter."""
        room = room_of(p)
        if room is None:
            return []
        found = []
        for fault in self.faults:
            unused = left_unused(p, room, fault)
            if unused is None or unused.size <= unused.allowed:
                continue
            if fault == "narrow_exit" and held_up(p):
                continue
            if fault == "narrow_entry" and _lost_before(p, room, unused):
                continue
            found.append(_finding(p, room, fault, unused))
        return found

    def measure(self, p: CornerPass) -> Iterable[tuple[str, float]]:
        """The least room at the entry, at the exit and inside."""
        room = room_of(p)
        if room is None or (room.theirs is None and not room.by_edges):
            return
        for fault, feature in FEATURES.items():
            own = room_used(p, room, fault)
            if own is not None:
                yield feature, own.gap


def room_used(p: CornerPass, room: Room, fault: str) -> Nearest | None:
    """The own least room where `fault` looks for it; None where nothing was sent there."""
    return _places(p, room, fault)[0]


def within(p: CornerPass, room: Room, fault: str) -> float:
    """m to which this driver can place the car across the road there."""
    band = min(max(LEAST, BAND * p.spread(FEATURES[fault], PRIOR)), MOST)
    return band * (1.0 if room.by_edges else BY_PATH)


def left_unused(p: CornerPass, room: Room, fault: str) -> Unused | None:
    """The road that `fault` is about, as far as it was left unused; None where that cannot be said."""
    own, theirs = _places(p, room, fault)
    if own is None:
        return None
    feature = FEATURES[fault]
    band = within(p, room, fault)
    if theirs is not None and p.by_marks:
        there = p.at_least_usual(feature, theirs.gap) if room.by_edges else theirs.gap
        there += min(max(0.0, p.common(feature)), MARGIN)
        return Unused(own, there, own.gap - there, band)
    return _to_the_edge(p, room, fault, own, theirs, band)


def _to_the_edge(
    p: CornerPass, room: Room, fault: str, own: Nearest, theirs: Nearest | None, band: float
) -> Unused | None:
    """Without marks: the edge itself, where nothing but the corner decides the line, and who turns hard there.

    What a reference leaves unused too, for whatever reason, is free.
    """
    b = p.bounds
    opens, closes = p.opens and b.entry - b.approach >= BACK_OUT, p.closes and b.end - b.exit >= BACK_OUT
    alone = {"narrow_entry": opens, "narrow_exit": closes, "missed_apex": opens and closes}[fault]
    if not alone or not _pushing(p) or (room.theirs is not None and not room.by_edges):
        return None
    side = -outside(p) if fault == "missed_apex" else outside(p)
    row = min(p.own.index(own.place), len(p.own) - 1)
    across = own.gap + room.own(-side, row) if room.by_edges else 2.0 * MOST / MIDDLE
    if across != across:
        return None  # the other edge was not sent here
    allowed = max(MIDDLE * across, 0.0 if theirs is None else theirs.gap + band)
    return Unused(own, 0.0, own.gap, allowed)


def _places(p: CornerPass, room: Room, fault: str) -> tuple[Nearest | None, Nearest | None]:
    if fault == "narrow_entry":
        return at_entry(p, room)
    if fault == "missed_apex":
        return at_apex(p, room)
    own, theirs, _ = at_exit(p, room)
    return own, theirs


def _pushing(p: CornerPass) -> bool:
    rows, b = p.own, p.bounds
    pull = sorted(abs(a) for a in rows["ay"][rows.index(b.entry) : rows.index(b.exit)] if a == a)
    return bool(pull) and pull[len(pull) * 3 // 4] >= PUSHING * p.shown.road.lateral


def held_up(p: CornerPass) -> bool:
    """Whether the car was so slow at the exit that it needed no road there."""
    if p.reference is None:
        return False
    own, there = p.own.value_at("speed", p.bounds.exit), p.reference.value_at("speed", p.bounds.exit)
    return own is not None and there is not None and own < DRIVEN * there


def _lost_before(p: CornerPass, room: Room, unused: Unused) -> bool:
    """The car came out of a corner of the same direction as narrow as it turns in here: that one's fault, told there.

    Between two corners of opposite directions the outside changes, and nothing is lost but here.
    """
    at, side = p.bounds.approach, outside(p)
    if p.reference is None or room.theirs is None or at < p.own.d[0] or unused.own.place - at > BACK_OUT:
        return False
    turned = p.reference.value_at("yaw_rate" if p.reference.has("yaw_rate") else "ay", at - JUST)
    off = _deviation(p, room, side, p.own.index(at))
    return turned is not None and turned * side < 0.0 and off is not None and off >= SAME * unused.size


def _deviation(p: CornerPass, room: Room, side: int, row: int) -> float | None:
    """m more room than the reference has at the same place."""
    if row >= len(p.own):
        return None
    own = room.own(side, row)
    if room.theirs is None or p.reference is None:
        return own
    i = p.reference.index(p.own.d[row])
    if i >= len(p.reference):
        return None
    off = own - room.theirs(side, i)
    return off if off == off else None


def _finding(p: CornerPass, room: Room, fault: str, unused: Unused) -> Finding:
    side = -outside(p) if fault == "missed_apex" else outside(p)
    row = p.own.index(unused.own.place)
    since = p.bounds.apex if fault == "narrow_exit" else p.bounds.approach
    first = p.own.index(max(since, unused.own.place - BACK_OUT))
    while row > first:  # back to where it began to be too much
        off = _deviation(p, room, side, row - 1)
        if off is None or off <= unused.allowed:
            break
        row -= 1
    evidence = {"unused": unused.size, "allowed": unused.allowed}
    own = braking_of(p, p.own)
    if room.by_edges:
        evidence |= {"gap": unused.own.gap, "reference_gap": unused.there}
    place, size = min(unused.own.place, p.bounds.exit), unused.size
    found = Finding(fault, place, p.own.t[row], size, "m", PHASES, evidence, size / max(unused.allowed, LEAST))
    if own is not None and p.slow_for_its_line():
        found.since = own.begins[0]  # the line asked for that speed, and for brakes to come down to it
        found.not_from = ("early_braking", "soft_braking", "over_slowed", "coasting")
    return found
