"""Several pupils on one circuit side by side: who is stuck where, and what they have in common. Pure."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from coach.engine.course import Course
from coach.review.habits import PRESENT, habits, is_there
from coach.review.model import KeptSession
from coach.review.places import Numbers, nearest, renumbered
from coach.review.practised import stage_verdict
from coach.review.progress import against, median_losses
from coach.review.results import BETTER, MENDED, Class, Habit, Pupil, Shared
from coach.review.steadiness import steadiness
from coach.review.tally import Pair, Tally
from coach.review.things import compared, things
from coach.review.words import plain_fault

IN_A_ROW = 3
"""sessions in which a habit is there and gets no better: stuck (choice)."""
TWO = 2
"""pupils who have a fault in common."""
_TOPIC = re.compile(
    r"(?P<fault>.+?) (?P<what>does not get better|is mended)(?: in turns? (?P<turns>[0-9]+(?:, [0-9]+)*))?"
)
"""What the planner says of a topic, which may be one fault in several corners."""


def pupils(by_name: Mapping[str, Sequence[KeptSession]], track: str | None = None) -> Class:
    """The pupils on `track` (None: where most of them drove), by name; of each the sessions there, the oldest first.

    All corners have the numbers of one map, the newest of the class. Losses are held against one lap of each car.
    """
    if track is None:
        track = _commonest(by_name)
    there = {name: [s for s in sessions if s.track == track] for name, sessions in by_name.items()}
    there = {name: sessions for name, sessions in there.items() if sessions}
    numbers = _numbers(there)
    given_up = {name: _given_up(sessions[-1], numbers[name][-1]) for name, sessions in there.items()}
    there = {name: list(map(renumbered, sessions, numbers[name])) for name, sessions in there.items()}
    made = Class(track)
    courses = _courses(there)
    shared: dict[tuple[str, int | None], dict[str, float]] = defaultdict(dict)
    for name, sessions in there.items():
        kept, last = habits(sessions), sessions[-1]
        made.pupils.append(
            Pupil(
                name=name,
                sessions=len(sessions),
                laps=sum(len(session.laps) for session in sessions),
                steadiness=steadiness(last.laps),
                stage=stage_verdict(last),
                things=tuple(things(last)),
                stuck=tuple(habit for habit in kept if _is_stuck(habit, sessions, given_up[name])),
            )
        )
        for habit in kept:
            if habit.story[-1] in PRESENT:
                shared[habit.fault, habit.corner][name] = habit.seconds[-1]
        for corner, lost in median_losses(last.laps, courses.get(last.car)).items():
            made.losses.setdefault(corner, {})[name] = lost
    common = [Shared(fault, corner, who) for (fault, corner), who in shared.items() if len(who) >= TWO]
    made.shared = sorted(common, key=lambda one: (-len(one.seconds), -sum(one.seconds.values()), one.fault))
    return made


def _commonest(by_name: Mapping[str, Sequence[KeptSession]]) -> str | None:
    """Where most pupils drove; of equals, where most sessions were."""
    drove: Counter[str] = Counter()
    often: Counter[str] = Counter()
    for sessions in by_name.values():
        tracks = [session.track for session in sessions if session.track is not None]
        drove.update(set(tracks))
        often.update(tracks)
    return max(drove, key=lambda name: (drove[name], often[name], name), default=None)


def _numbers(there: Mapping[str, Sequence[KeptSession]]) -> dict[str, list[Numbers]]:
    """By pupil, of each session, the numbers of the newest map of the class."""
    every = [session for sessions in there.values() for session in sessions if session.corners]
    newest = max(every, key=lambda session: session.begun if session.begun is not None else 0.0, default=None)
    if newest is None:
        return {name: [{} for _ in sessions] for name, sessions in there.items()}
    length = newest.length or 0.0
    return {
        name: [nearest(session.corners, newest.corners, length) for session in sessions]
        for name, sessions in there.items()
    }


def _given_up(session: KeptSession, numbers: Numbers) -> set[Pair]:
    """What the coach itself gave up in this session, and was not mended since; its corners by their new numbers."""
    found: set[Pair] = set()
    for advice in session.advice:
        topic = _TOPIC.match(advice.text) if advice.topic == "practice" else None
        if topic is None:
            continue
        turns = [int(turn) for turn in re.findall(r"[0-9]+", topic["turns"] or "")]
        pairs: set[Pair] = {(topic["fault"], numbers.get(turn, turn)) for turn in turns} or {(topic["fault"], None)}
        found = found - pairs if topic["what"] == "is mended" else found | pairs
    return found


def _courses(there: Mapping[str, Sequence[KeptSession]]) -> dict[str | None, Course | None]:
    """By car the best clean lap of the class, which all laps in that car are held against."""
    by_car: dict[str | None, list[KeptSession]] = defaultdict(list)
    for sessions in there.values():
        for session in sessions:
            by_car[session.car].append(session)
    return {car: against(sessions, None)[0] for car, sessions in by_car.items()}


def _is_stuck(habit: Habit, sessions: Sequence[KeptSession], given_up: set[Pair]) -> bool:
    """Whether it is there and gets no better: in the last sessions in a row, or the coach itself gave it up."""
    if habit.story[-1] not in PRESENT:
        return False
    if (plain_fault(habit.fault), habit.corner) in given_up:
        return True
    last = habit.story[-IN_A_ROW:]
    if len(last) < IN_A_ROW or not PRESENT.issuperset(last):
        return False
    first, now = (Tally(sessions[i]).share(habit.fault, habit.corner) for i in (-IN_A_ROW, -1))
    return is_there(now) and compared(first, now)[0] not in (MENDED, BETTER)
