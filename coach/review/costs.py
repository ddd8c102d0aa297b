"""What each finding cost in the end, which the lap's ledger knows better than the moment at which it was told. Pure.

What is told at a corner's exit is a forecast. Three things are seen only afterwards. Speed that is missing at the exit
is missing through the next bend too, where nothing is braked for in between. An off or a spin costs all that the lap
lost there. And a driver who is far from the reference is told of costs against a pace of his own, in which a habit of
every lap costs nothing: here it costs what it costs against the reference.
"""

from __future__ import annotations

from collections import defaultdict
from statistics import median

from coach.review.model import KeptLap, KeptSession
from coach.review.seconds import APART
from coach.vocabulary.events import PHASES, Fault
from coach.vocabulary.faults import FAULTS, NET_SPOKEN

INCIDENTS = ("off_track", "spin")
"""What a lap is spoilt by."""
GIVEN_UP = 5.0
"""s that an incident counts which nothing priced, and whose lap was never driven to its end (choice: to come to a stand
and go on from it takes at least that long)."""
SURE = 3.0
"""standard deviations over the usual from which a corner's loss is more than scatter (choice)."""
MAD = 1.4826
"""of a normal distribution: its standard deviation over its median absolute deviation."""
STRAIGHT = PHASES[-1]
"""What lies behind a corner's exit."""
AT_THE_MARK = 1.0
"""m: a brake point nearer to the turn-in is none of its own; the corner is reached with the speed of the last one."""

OTHER_PACE = 0.1
"""s by which the ledger has more than was told at the corner, so that it was told against another pace, or too soon
(choice: forecasts come nearer than this)."""

Place = tuple[int, int]
"""A pass by its corner and the place in the session of the lap in which the corner's exit lies."""


class Costs:
    """What each finding of a session cost, s."""

    def __init__(self, session: KeptSession) -> None:
        self._laps = session.laps
        coached = sorted((mark for mark in session.corners if mark.coached), key=lambda mark: mark.exit)
        pairs = zip(coached, coached[1:] + coached[:1], strict=True)
        self._following = {mark.corner: behind for mark, behind in pairs if mark != behind}
        self._exits = {mark.corner: mark.exit for mark in coached}
        self._length = session.length
        self._lost = _by_pass(session.laps)
        self._found_in: dict[int, int] = {}
        """by a finding's identity the place of its lap; one of a lap that never ended is not in it"""
        self._all: dict[Place, list[Fault]] = defaultdict(list)
        for lap in session.laps:
            for fault in lap.faults:
                self._found_in[id(fault)] = lap.index
                place = self._place(fault)
                if place is not None:
                    self._all[place].append(fault)
        self._common = self._common_pace()
        self._at = {place: [f for f in found if not self.is_slight(f)] for place, found in self._all.items()}

    def of(self, fault: Fault) -> float:
        """s of this finding, which is one of the session's own."""
        told = _told(fault)
        place = self._place(fault)
        if is_incident(fault):
            return max(told, self._lost_by(fault, place))
        if place is None:
            return told
        return (
            told
            + self._untold(place) / max(1, len(self._all.get(place, ())))
            + self._carried(place) / self._dear(place)
        )

    def was_given_up(self, fault: Fault) -> bool:
        """Whether the lap of this incident was never driven to its end for it."""
        lap = self._found_in.get(id(fault))
        ended = lap is not None and "reset" not in self._laps[lap].why_not
        return is_incident(fault) and fault.cost is None and not ended

    def is_slight(self, fault: Fault) -> bool:
        """Whether it came up but cost nothing, in a kind that only matters for what it costs."""
        kind = FAULTS.get(fault.fault)
        if (kind is not None and kind.whatever) or fault.net is None:
            return False
        place = self._place(fault)
        untold = 0.0 if place is None else self._untold(place)
        return fault.net < NET_SPOKEN and untold < NET_SPOKEN

    def _untold(self, place: Place) -> float:
        """s that this pass lost beyond what was told of it, and beyond what this driver loses everywhere."""
        found = self._all.get(place, [])
        nets = [fault.net for fault in found if fault.net is not None]
        lost = self._lost.get(place)
        if not nets or lost is None or lost - max(nets) < OTHER_PACE:
            return 0.0
        lap = self._laps[place[0]]
        if APART.intersection(lap.why_not):
            return 0.0
        return max(0.0, lost - max(0.0, self._common.get(lap.reference_time, 0.0)) - sum(map(_told, found)))

    def _common_pace(self) -> dict[float | None, float]:
        """By reference (its time, s) the median s that a pass lost in which nothing was found."""
        plain: dict[float | None, list[float]] = defaultdict(list)
        for (index, corner), lost in self._lost.items():
            lap = self._laps[index]
            if not APART.intersection(lap.why_not) and not self._all.get((index, corner)):
                plain[lap.reference_time].append(lost)
        return {against: median(lost) for against, lost in plain.items()}

    def _place(self, fault: Fault) -> Place | None:
        """The pass that it was found in; None where it belongs to no corner, or to a lap that never ended."""
        corner, length, lap = fault.corner, self._length, self._found_in.get(id(fault))
        if corner is None or lap is None:
            return None
        if length is None or corner not in self._exits:
            return lap, corner
        beyond = (fault.distance - self._exits[corner] + length / 2) % length - length / 2
        exit_ = fault.distance - beyond
        return lap + (exit_ >= length) - (exit_ < 0.0), corner

    def _dear(self, place: Place) -> int:
        """How many findings there cost something, among which what was lost is shared; 1 at least."""
        return max(1, sum(found.cost is None or found.cost > 0.0 for found in self._at.get(place, ())))

    def _lost_by(self, fault: Fault, place: Place | None) -> float:
        """s that the lap lost at the place of an incident, less what other findings there cost."""
        if self.was_given_up(fault):
            return GIVEN_UP
        if place is None or place not in self._lost:
            return 0.0
        here = self._at[place]
        if next((found for found in here if is_incident(found)), fault) is not fault:
            return 0.0  # one trouble by two names
        others = sum(_told(found) for found in here if not is_incident(found))
        return self._lost[place] + self._carried(place) - others

    def _carried(self, place: Place) -> float:
        """s lost in the bends behind that are reached with this one's speed, beyond what they cost on other laps."""
        carried, (lap, corner), begun = 0.0, place, place[1]
        while (behind := self._following.get(corner)) is not None and behind.corner != begun:
            following = (lap + 1 if behind.exit < self._exits[corner] else lap), behind.corner
            if abs(behind.entry - behind.brake) > AT_THE_MARK or self._all.get(following):
                break
            more = self._beyond_the_usual(following, before=corner)
            if more <= 0.0:
                break
            carried += more
            lap, corner = following
        return carried

    def _beyond_the_usual(self, place: Place, before: int) -> float:
        """s lost in this pass beyond the usual of this corner; 0 within its scatter. `before`: the corner before."""
        if place not in self._lost:
            return 0.0
        index, corner = place
        against = self._laps[index].reference_time
        plain = [
            self._lost[lap.index, corner]
            for lap in self._laps
            if lap.reference_time == against
            and (lap.index, corner) in self._lost
            and not APART.intersection(lap.why_not)
            and not (self._at.get((lap.index, before)) or self._at.get((lap.index, corner)))
        ]
        usual = median(plain) if plain else max(0.0, self._common.get(against, 0.0))
        spread = MAD * median(abs(lost - usual) for lost in plain) if plain else 0.0
        more = self._lost[place] - usual
        return more if more > max(NET_SPOKEN, SURE * spread) else 0.0


def _told(fault: Fault) -> float:
    return max(0.0, fault.cost) if fault.cost is not None else 0.0


def is_incident(fault: Fault) -> bool:
    """Whether it was an off or a spin, or led to one."""
    return fault.fault in INCIDENTS or any(name in INCIDENTS for name in fault.also)


def _by_pass(laps: list[KeptLap]) -> dict[Place, float]:
    """s lost by pass. A corner that a lap begins and ends with was passed twice: each time over the line."""
    lost: dict[Place, float] = defaultdict(float)
    for lap in laps:
        corners = [part.corner for part in lap.parts]
        over = bool(corners) and corners[0] == corners[-1]
        first = next((i for i, corner in enumerate(corners) if corner != corners[0]), len(corners))
        last = len(corners) - next((i for i, corner in enumerate(reversed(corners)) if corner != corners[0]), 0)
        exits_here = any(part.phase != STRAIGHT for part in lap.parts[:first])
        for i, part in enumerate(lap.parts):
            if part.corner is None:
                continue
            at = lap.index
            if over and i < first < len(corners) and not exits_here:
                at -= 1
            elif over and i >= last and exits_here:
                at += 1
            lost[at, part.corner] += part.seconds
    return {place: seconds for place, seconds in lost.items() if 0 <= place[0] < len(laps)}
