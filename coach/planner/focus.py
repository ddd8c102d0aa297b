"""One topic at a time: which one, until it is mended or stuck, and what of the rest is told meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from statistics import median

from coach.planner.playbook import AUTO, BEGINNER, Playbook
from coach.planner.record import Record
from coach.planner.state import State
from coach.planner.topic import Topic
from coach.planner.worth import costs_nothing
from coach.vocabulary.events import Fault, Passed
from coach.vocabulary.faults import NET_SPOKEN

ASIDE = 10
"""Laps for which a stuck topic is left alone (choice)."""
SLOW = 0.05
"""Share of the reference's time by which a lap is slower that makes a beginner, if nothing else is said (choice; in
the cited studies the amateurs were 10 to 20 % slower than the professionals, 7.2)."""
CAUGHT = ("rear_step_out",)
"""What every quick driver does now and then: told of once it is a habit, or costs something (choice)."""
DEAR = 0.5
"""Share of what the dearest habit costs, under which self-inflicted trouble is spoken of but not worked on before it
(choice; a cheap one that came first kept the dear ones waiting for laps in tests.bench.policy)."""
UNKNOWN = 2
"""Laps that a choice waits for a whole one that tells a beginner (choice)."""
LAPS = 3
"""Laps, at most, whose median says so."""


@dataclass(frozen=True, slots=True)
class Turned:
    """What became of the topic: `what` is chosen, asked, resumed, mended, returned, stuck or left.

    `cost` and `gain` in s a lap.
    """

    what: str
    topic: Topic
    cost: float
    gain: float | None = None


class Focus:
    """Fed what the record hears, after it; says what is worked on.

    `fixed`: the faults that were asked for; each of them that becomes a habit is then a topic, and none is chosen.
    """

    def __init__(self, playbook: Playbook, fixed: tuple[str, ...], record: Record) -> None:
        self._playbook, self._fixed, self._record = playbook, fixed, record
        self._topics: dict[str, Topic] = {}
        self._mended: set[str] = set()
        self._aside: dict[str, int] = {}
        self._deltas: list[float] = []

    def keep(self, now: int, state: State) -> None:
        """Put down for another day what is worked on; lap `now` is 0 there."""
        state.mended = sorted(self._mended)
        state.aside = {fault: until - now for fault, until in self._aside.items() if until > now}
        state.slower = list(self._deltas)
        state.topics = [topic.shifted(-now) for topic in self._topics.values()]

    def recall(self, state: State, coached: Callable[[str], bool]) -> list[Turned]:
        """Go on with what was worked on on another day, where it is `coached`, unless today has its own topic already;
        what was mended then comes back if it comes up again."""
        self._mended |= set(state.mended) - set(self._topics)
        self._aside = {**state.aside, **self._aside}
        self._deltas = [*state.slower, *self._deltas][-LAPS:]
        self._topics = {fault: topic for fault, topic in self._topics.items() if topic.since > 0}
        out = []
        for kept in state.topics:
            wanted = kept.fault in self._fixed if self._fixed else not self._topics
            if wanted and kept.fault not in self._topics and coached(kept.fault):
                topic = replace(kept, since=min(kept.since, 0), fixed=bool(self._fixed))
                self._topics[topic.fault] = topic
                self._mended.discard(topic.fault)
                out.append(Turned("resumed", topic, self._record.cost_a_lap(topic.fault)))
        return out

    def narrow(self, playbook: Playbook) -> None:
        """Another stage: by this playbook from now on; what it does not coach is not worked on any more."""
        self._playbook = playbook
        if not self._fixed:
            self._topics = {fault: topic for fault, topic in self._topics.items() if playbook.coaches(fault)}

    @property
    def topics(self) -> Iterator[Topic]:
        """What is worked on: one topic, or those that were asked for."""
        return iter(self._topics.values())

    def topic(self, fault: str) -> Topic | None:
        """The topic of this fault, if it is worked on."""
        return self._topics.get(fault)

    def found(self, fault: Fault, lap: int | None = None) -> str | None:
        """A fault came up: why it is not told, None where it is. `lap` as the record counts."""
        name = fault.fault
        topic = self._topics.get(name)
        if topic is not None:
            topic.found(fault, fault.lap if lap is None else lap, self._record)
            due = topic.is_due(self._playbook.talk.fade)
            return None if due or name in self._playbook.first else "told less often as it improves"
        caught = name in CAUGHT and costs_nothing(fault) and not self._record.is_habit(name)
        if caught and not self._fixed:
            return "caught, and it cost nothing"
        cost = fault.cost if fault.cost is not None else fault.net
        little = cost is not None and cost < self._playbook.talk.one_off
        if self._fixed or name in self._playbook.first or (name in self._mended and not little):
            return None
        if self._topics:
            return "another topic is worked on"
        if name in self._aside:
            return "left for now"
        if little and not self._record.is_habit(name):
            return "made once, and it cost little"
        return None

    def passed(self, event: Passed) -> Turned | None:
        """The car has left a corner: the topic that is mended by it, once."""
        for topic in list(self._topics.values()):
            if event.corner in topic.corners and topic.is_mended(self._record):
                return self._mend(topic)
        return None

    def lap_over(self, lap: int, slower: float | None) -> list[Turned]:
        """A lap ended, `slower` than the reference by that share of its time, where that is known: what is left, and
        what is worked on next."""
        if slower is not None:
            self._deltas = [*self._deltas, slower][-LAPS:]
        self._aside = {fault: until for fault, until in self._aside.items() if until > lap}
        out = []
        for topic in list(self._topics.values()):
            topic.lap_over(lap, self._record)
            if topic.is_stuck() and self._next(topic.fault) is not None:
                out.append(self._leave(topic, lap, "stuck"))
            elif topic.corners == [None] and topic.is_mended(self._record):
                out.append(self._mend(topic))
        return out + self._choose(lap)

    def leave(self, lap: int) -> list[Turned]:
        """The driver asks for another topic."""
        out = [self._leave(topic, lap, "left") for topic in list(self._topics.values()) if not topic.fixed]
        return out + self._choose(lap)

    def work_on(self, fault: str, lap: int) -> list[Turned]:
        """An instructor asks for this topic: what is worked on is left for it; nothing where it is the one already."""
        if list(self._topics) == [fault]:
            return []
        out = [self._leave(topic, lap, "left") for topic in list(self._topics.values()) if topic.fault != fault]
        self._aside.pop(fault, None)
        self._mended.discard(fault)
        topic = Topic(fault, lap + 1, self._record.corners(fault))
        self._topics[fault] = topic
        return [*out, Turned("asked", topic, self._record.cost_a_lap(fault))]

    def is_beginner(self) -> bool:
        """Whether this driver works on one group of faults after the other."""
        if self._playbook.pupil != AUTO:
            return self._playbook.pupil == BEGINNER
        return bool(self._deltas) and median(self._deltas) > SLOW

    def _mend(self, topic: Topic) -> Turned:
        del self._topics[topic.fault]
        self._mended.add(topic.fault)
        return Turned("mended", topic, 0.0, topic.gain(self._record))

    def _leave(self, topic: Topic, lap: int, what: str) -> Turned:
        del self._topics[topic.fault]
        self._aside[topic.fault] = lap + ASIDE
        return Turned(what, topic, self._record.cost_a_lap(topic.fault))

    def _choose(self, lap: int) -> list[Turned]:
        if self._fixed:
            new = [fault for fault in self._record.habits() if fault in self._fixed and fault not in self._topics]
        else:
            known = bool(self._deltas) or self._playbook.pupil != AUTO or lap > UNKNOWN
            fault = self._next() if known and not self._topics else None
            new = [] if fault is None else [fault]
        out = []
        for fault in new:
            topic = Topic(fault, lap + 1, self._record.corners(fault), bool(self._fixed))
            self._topics[fault] = topic
            what = "returned" if fault in self._mended else "chosen"
            self._mended.discard(fault)
            out.append(Turned(what, topic, self._record.cost_a_lap(fault)))
        return out

    def _next(self, but: str | None = None) -> str | None:
        """The habit to work on: self-inflicted trouble before all else, a beginner's by the order, then the dearest."""
        book, beginner = self._playbook, self.is_beginner()
        costs = {
            fault: self._record.cost_a_lap(fault)
            for fault in self._record.habits()
            if fault != but and fault not in self._aside and book.coaches(fault)
        }
        dear = DEAR * max(costs.values(), default=0.0)
        found = []
        for fault, cost in costs.items():
            first = fault in book.first and cost >= dear
            if cost >= NET_SPOKEN or first:
                found.append((not first, book.group(fault) if beginner else 0, -cost, fault))
        return min(found)[3] if found else None
