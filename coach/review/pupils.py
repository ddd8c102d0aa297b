"""Several pupils on one circuit side by side: who is stuck where, and what they have in common. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from coach.engine.course import Course
from coach.review.habits import PRESENT, habits
from coach.review.model import KeptSession
from coach.review.places import nearest, renumbered
from coach.review.practised import stage_verdict
from coach.review.progress import against, median_losses
from coach.review.results import BETTER, MENDED, Class, Habit, Pupil, Shared
from coach.review.steadiness import steadiness
from coach.review.tally import Tally
from coach.review.things import compared, things
from coach.review.words import plain_fault

IN_A_ROW = 3
"""sessions in which a habit is there and gets no better: stuck (choice)."""
TWO = 2
"""pupils who have a fault in common."""


def pupils(by_name: Mapping[str, Sequence[KeptSession]], track: str | None = None) -> Class:
    """The pupils on `track` (None: where most of them drove), by name; of each the sessions there, the oldest first.

    All corners have the numbers of one map, the newest of the class. Losses are held against one lap of each car.
    """
    if track is None:
        track = _commonest(by_name)
    there = {name: [s for s in sessions if s.track == track] for name, sessions in by_name.items()}
    there = _on_one_map({name: sessions for name, sessions in there.items() if sessions})
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
                stuck=tuple(habit for habit in kept if _is_stuck(habit, sessions)),
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


def _on_one_map(there: dict[str, list[KeptSession]]) -> dict[str, list[KeptSession]]:
    every = [session for sessions in there.values() for session in sessions if session.corners]
    if not every:
        return there
    newest = max(every, key=lambda session: session.begun if session.begun is not None else 0.0)
    length = newest.length or 0.0
    return {
        name: [renumbered(session, nearest(session.corners, newest.corners, length)) for session in sessions]
        for name, sessions in there.items()
    }


def _courses(there: Mapping[str, Sequence[KeptSession]]) -> dict[str | None, Course | None]:
    """By car the best clean lap of the class, which all laps in that car are held against."""
    by_car: dict[str | None, list[KeptSession]] = defaultdict(list)
    for sessions in there.values():
        for session in sessions:
            by_car[session.car].append(session)
    return {car: against(sessions, None)[0] for car, sessions in by_car.items()}


def _is_stuck(habit: Habit, sessions: Sequence[KeptSession]) -> bool:
    """Whether it is there and gets no better: in the last sessions in a row, or the coach itself gave it up."""
    if habit.story[-1] not in PRESENT:
        return False
    given_up = f"{plain_fault(habit.fault)} does not get better"
    if any(advice.text.startswith(given_up) for advice in sessions[-1].advice):
        return True
    last = habit.story[-IN_A_ROW:]
    if len(last) < IN_A_ROW or not PRESENT.issuperset(last):
        return False
    first, now = (Tally(sessions[i]).share(habit.fault, habit.corner) for i in (-IN_A_ROW, -1))
    return compared(first, now)[0] not in (MENDED, BETTER)
