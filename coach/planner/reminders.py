"""Reminders: what to do, said on the straight before the corner that is worked on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from coach.planner import rules
from coach.planner.record import Record, Turn
from coach.planner.room import Opening, Room
from coach.planner.topic import Topic

EVERY = 2
"""Laps between two reminders of one corner that was told of meanwhile: help that always comes is leaned on (2.1)."""
IN_A_ROW = 2
"""Times that it came up in a row before a corner is reminded of, though each was told."""


@dataclass(frozen=True, slots=True)
class Due:
    """A corner to be reminded of. `turn`: its last pass."""

    topic: Topic
    corner: int
    turn: Turn


class Reminders:
    """Knows which corners are due; `is_now` says whether it is the moment."""

    def __init__(self, room: Room, record: Record) -> None:
        self._room, self._record = room, record
        self._lap: int | None = None
        """the lap on which the last one was said"""
        self._known: list[Due] = []
        self._known_at: tuple[int, int] | None = None
        """when that was found, in versions of the record and laps"""

    def due(self, topics: Iterable[Topic], lap: int) -> list[Due]:
        """What may be reminded of on this lap, where it comes to that corner; one a lap."""
        if self._lap == lap:
            return []
        if self._known_at != (self._record.version, lap):
            self._known_at, self._known = (self._record.version, lap), list(self._find(topics, lap))
        return self._known

    def _find(self, topics: Iterable[Topic], lap: int) -> Iterator[Due]:
        for topic in topics:
            if topic.level > 0:
                continue
            for place, corner in enumerate(self._record.corners(topic.fault)):
                if corner is not None and self._needs(topic, corner, lap, is_focus=place == 0):
                    yield Due(topic, corner, self._record.trail(topic.fault, corner).turns[-1])

    def come(self, dues: Iterable[Due], opening: Opening) -> bool:
        """Whether a corner that is due lies behind this straight."""
        approaches = (self._room.approach(due.corner) for due in dues)
        return any(approach is not None and approach.stretch == opening.stretch for approach in approaches)

    def said(self, due: Due, lap: int) -> None:
        """One was said."""
        self._lap = lap
        due.topic.reminded[due.corner] = lap

    def is_now(self, due: Due, opening: Opening, t: float, length: float, latest: float) -> bool:
        """Whether it is the moment for it: far enough before the brake point, but not so far that it is forgotten.

        `length` s that it takes to say; `latest` s after full throttle until which a correction may still come.
        """
        approach = self._room.approach(due.corner)
        if approach is None or approach.stretch != opening.stretch:
            return False
        lead = self._room.seconds_to(approach.brake)
        if lead is None or lead > rules.REMIND_EARLIEST or lead - length < rules.REMIND_REST:
            return False
        since = t - opening.since
        if lead + since < rules.REMIND_LATEST + latest:
            return opening.settled  # the straight allows no more
        return lead >= rules.REMIND_LATEST and (since >= latest or lead < rules.REMIND_LATEST + rules.REMIND_SOON)

    def _needs(self, topic: Topic, corner: int, lap: int, is_focus: bool) -> bool:
        trail = self._record.trail(topic.fault, corner)
        last = trail.turns[-1] if trail.turns else None
        if last is None or not last.hit or last.open:
            return False
        if not last.told:
            return True
        again = lap - topic.reminded.get(corner, lap - EVERY) >= EVERY
        return is_focus and again and trail.hits_in_a_row >= IN_A_ROW
