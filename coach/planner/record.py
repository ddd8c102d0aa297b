"""What this driver did at each corner, pass by pass: which fault came up, how often, and what it cost."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from coach.planner.worth import worth
from coach.vocabulary.events import Fault, Passed

PASSES = 5
"""Passes of a corner that are looked back on: what a driver did before is no habit of today (choice)."""
KEPT = 12
"""Passes that are kept."""
OVER_NIGHT = 8
"""Passes that are kept for another day."""
NOBODYS = -1
"""What the source called a lap of another day: none of its own."""
OTHER_DAYS = -1
"""The era of a reference that is not today's."""
TWICE = 2
"""Times in so many passes of one corner that make a habit: once is chance."""
GONE = 2
"""Passes without it after which a corner is no place of that habit, until it comes up there again (choice)."""
CORNERS, LAPS = 3, 2
"""So many corners within so many laps make a habit as well: who does it everywhere need not do it twice (choice)."""

Key = tuple[str, int | None]
"""A fault, and a corner."""


@dataclass(slots=True)
class Turn:
    """One pass on `lap`, counted over all runs, which the source calls `source`.

    `cost` s of the fault, 0 where it did not come up; `net` s of the whole corner, None where unknown. `era`: which
    reference that was held against: the nets of two are not compared. `told`: a cue spoke of it, or it was let pass.
    `open`: the car has not left the corner yet.
    """

    lap: int
    source: int
    hit: bool
    cost: float
    net: float | None
    era: int
    told: bool = False
    open: bool = False


@dataclass(slots=True)
class Trail:
    """The passes of one corner as to one fault, the newest last. `unclear`: in the running one it came up, but so
    little that it counts neither way."""

    turns: deque[Turn] = field(default_factory=lambda: deque(maxlen=KEPT))
    unclear: bool = False

    def recent(self, passes: int = PASSES) -> list[Turn]:
        """The last passes."""
        return list(self.turns)[-passes:]

    @property
    def hits(self) -> int:
        """Times that it came up in the passes that are looked back on."""
        return sum(turn.hit for turn in self.recent())

    @property
    def is_alive(self) -> bool:
        """Whether it comes up here these days."""
        return self.hits > 0 and self.clean_in_a_row < GONE

    @property
    def cost_a_lap(self) -> float:
        """s a lap that it costs at this corner: cost times how often. One pass alone counts half."""
        recent = self.recent()
        return sum(turn.cost for turn in recent) / max(len(recent), TWICE)

    @property
    def clean_in_a_row(self) -> int:
        """Passes without it since it came up last."""
        count = 0
        for turn in reversed(self.turns):
            if turn.hit:
                break
            count += 1
        return count

    @property
    def hits_in_a_row(self) -> int:
        """Passes with it since the last one without."""
        count = 0
        for turn in reversed(self.turns):
            if not turn.hit:
                break
            count += 1
        return count


class Record:
    """Fed the findings, the passes and the laps; asked what came up where.

    Laps are counted over all runs, for a source begins anew with each; where none is given, the event's own serves.
    """

    def __init__(self) -> None:
        self._trails: dict[Key, Trail] = {}
        self._era = 0
        self._reference: float | None = None
        """s: its lap time"""
        self.lap = 0
        self.version = 0
        """another number whenever something was learned"""

    def kept(self, now: int) -> dict[Key, list[Turn]]:
        """The last passes of each corner at which something came up, for another day: lap `now` is 0 there, and nets
        are against the reference of now."""
        found = {key: list(trail.turns)[-OVER_NIGHT:] for key, trail in self._trails.items()}
        return {
            key: [replace(t, lap=t.lap - now, net=t.net if t.era == self._era else None, open=False) for t in turns]
            for key, turns in found.items()
            if any(turn.hit for turn in turns)
        }

    def recall(self, kept: Mapping[Key, Iterable[Turn]], reference: float | None) -> None:
        """The passes of other days come before today's, whose laps are counted from 1; `reference` s as it was kept."""
        self.version += 1
        era = self._era if reference is not None and reference == self._reference else OTHER_DAYS
        today = {key: [turn for turn in trail.turns if turn.lap > 0] for key, trail in self._trails.items()}
        unclear = {key for key, trail in self._trails.items() if trail.unclear}
        self._trails = {}
        for key in [*kept, *today]:
            before = [replace(turn, source=NOBODYS, era=era) for turn in kept.get(key, ()) if turn.lap <= 0]
            turns = [*before, *today.get(key, ())]
            if turns:
                self._trails[key] = Trail(deque(turns, maxlen=KEPT), key in unclear)

    @property
    def reference(self) -> float | None:
        """s: the lap time that losses are against."""
        return self._reference

    def new_reference(self, lap: int | None = None, time: float | None = None) -> None:
        """From now on losses are against another lap: one of this driver's own (as the source counts), or a stranger.

        Of an own lap it is known what it lost at each corner itself, so what is on record is carried over.
        """
        before, self._era, self._reference = self._era, self._era + 1, time
        for trail in self._trails.values():
            same = [(turn, turn.net) for turn in trail.turns if turn.era == before and turn.net is not None]
            own = [net for turn, net in same if turn.source == lap]
            for turn, net in same if own else ():
                turn.net, turn.era = net - own[-1], self._era

    def found(self, fault: Fault, lap: int | None = None) -> None:
        """A fault came up. Of one pass the dearest of a kind counts; what belongs to no corner adds up over the lap."""
        self.version += 1
        lap = fault.lap if lap is None else lap
        trail = self._trails.setdefault((fault.fault, fault.corner), Trail())
        last = trail.turns[-1] if trail.turns else None
        if last is not None and (last.open or last.lap == lap):
            cost = worth(fault)
            last.cost = last.cost + cost if fault.corner is None else max(last.cost, cost)
            last.hit = True  # told of behind the corner's end, it was no clean pass
            return
        trail.turns.append(Turn(lap, fault.lap, True, worth(fault), fault.net, self._era, open=True))

    def slight(self, fault: Fault) -> None:
        """A fault came up that is too little to be spoken of: the pass was neither one with it nor a clean one."""
        trail = self._trails.get((fault.fault, fault.corner))
        if trail is not None:
            trail.unclear = True

    def passed(self, event: Passed, lap: int | None = None) -> None:
        """The car has left a corner: what did not come up there was clean, if the pass was judged at all."""
        self._close(event.corner, event.lap if lap is None else lap, event.lap, event.judged, event.net)

    def lap_over(self, lap: int, judged: bool = True) -> None:
        """A lap ended: what belongs to no corner is counted by laps, if this one was `judged` at all."""
        self.lap = lap
        self._close(None, lap, lap, judged, None)

    def told(self, fault: Fault, lap: int | None = None) -> None:
        """A cue has spoken of this finding."""
        self.version += 1
        trail = self._trails.get((fault.fault, fault.corner))
        for turn in reversed(trail.turns if trail is not None else ()):
            if turn.hit and turn.lap == (fault.lap if lap is None else lap):
                turn.told = True
                return

    def trail(self, fault: str, corner: int | None) -> Trail:
        """The passes of one corner as to one fault; empty where it never came up."""
        return self._trails.get((fault, corner), Trail())

    def corners(self, fault: str) -> list[int | None]:
        """Where it comes up these days, the costliest first."""
        found = [(corner, trail) for (name, corner), trail in self._trails.items() if name == fault and trail.is_alive]
        return [corner for corner, _ in sorted(found, key=lambda item: (-item[1].cost_a_lap, item[0] or 0))]

    def habits(self) -> Iterator[str]:
        """The faults that are repeated."""
        for fault in dict.fromkeys(name for name, _ in self._trails):
            if self.is_habit(fault):
                yield fault

    def is_habit(self, fault: str) -> bool:
        """Whether it came up twice at one corner lately, or at several corners."""
        trails = [self._trails[fault, corner] for corner in self.corners(fault)]
        wide = sum(any(turn.hit and turn.lap > self.lap - LAPS for turn in trail.recent()) for trail in trails)
        return wide >= CORNERS or any(trail.hits >= TWICE for trail in trails)

    def cost_a_lap(self, fault: str) -> float:
        """s a lap over all corners."""
        return sum(self._trails[fault, corner].cost_a_lap for corner in self.corners(fault))

    def gain(self, fault: str, corner: int | None) -> float | None:
        """s a lap that the corner is quicker since the fault is gone: its mean loss before and since, against the same
        reference, times how often it came up before. None where that is not known."""
        trail = self.trail(fault, corner)
        since = trail.clean_in_a_row
        turns = list(trail.turns)
        after, before = turns[len(turns) - since :], turns[: len(turns) - since]
        nets = [turn.net for turn in after if turn.net is not None and turn.era == self._era]
        lost = [turn.net for turn in before if turn.hit and turn.net is not None and turn.era == self._era]
        if not nets or not lost:
            return None
        share = sum(turn.hit for turn in before) / len(before)
        return share * (sum(lost) / len(lost) - sum(nets) / len(nets))

    def _close(self, corner: int | None, lap: int, source: int, judged: bool, net: float | None) -> None:
        self.version += 1
        for (_, place), trail in self._trails.items():
            if place != corner or not trail.turns:
                continue
            if trail.turns[-1].open:
                trail.turns[-1].open = False
            elif judged and not trail.unclear:
                trail.turns.append(Turn(lap, source, False, 0.0, net, self._era))
            trail.unclear = False
