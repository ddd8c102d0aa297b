"""What became of several sessions of one driver in one car on one circuit. Pure.

Losses of days can be compared only where all laps stand against the same one. So every kept lap is reckoned anew
against one lap, on its own ledger: the one that is given, or the best clean lap of all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from coach.engine.course import Course
from coach.engine.lap import GridLap
from coach.review.chance import mann_whitney
from coach.review.habits import habits
from coach.review.model import KeptLap, KeptSession
from coach.review.places import nearest, renumbered
from coach.review.results import Day, Progress, Setup
from coach.review.seconds import APART, best_lap, course_of, is_same_length, losses_of, rows
from coach.review.steadiness import FEWEST, cued_against_uncued, steadiness

Lost = dict[int | None, float]


def progress(sessions: Sequence[KeptSession], reference: GridLap | None = None) -> Progress:
    """The sessions' progress, the oldest first; their laps with channels, where losses are wanted.

    Corners have the numbers of the newest map. `reference`: the lap that all are held against.
    """
    if not sessions:
        return Progress(None, None, None)
    sessions = on_one_map(sessions)
    newest = sessions[-1]
    made = Progress(newest.driver, newest.car, newest.track)
    course, made.reference = against(sessions, reference)
    made.days = [_day(session, number, course) for number, session in enumerate(sessions, 1)]
    made.habits = habits(sessions)
    made.cued = cued_against_uncued([lap for session in sessions for lap in session.laps])
    made.setups = _setups(sessions, course)
    return made


def on_one_map(sessions: Sequence[KeptSession]) -> list[KeptSession]:
    """The sessions with the corner numbers of the newest map, matched by place."""
    newest = next((session for session in reversed(sessions) if session.corners), None)
    if newest is None:
        return list(sessions)
    length = newest.length or 0.0
    return [renumbered(session, nearest(session.corners, newest.corners, length)) for session in sessions]


def against(
    sessions: Sequence[KeptSession], reference: GridLap | None
) -> tuple[Course | None, tuple[str, float] | None]:
    """The lap that all are held against, with the newest map's numbers, and its name and time (s); None without one."""
    name = "the given lap"
    if reference is None:
        best = best_lap(lap for session in sessions for lap in session.laps)
        if best is None or best.grid is None:
            return None, None
        at = next(number for number, session in enumerate(sessions, 1) if best in session.laps)
        reference, name = best.grid, best.name or f"lap {best.number} of session {at}"
    newest = next((session for session in reversed(sessions) if session.corners), None)
    marks, map_name = ((), "") if newest is None else (newest.corners, newest.map)
    return course_of(reference, map_name, marks), (name, reference.total)


def median_losses(laps: Iterable[KeptLap], course: Course | None) -> Lost:
    """By corner (None: no corner) the median s that the laps lost to the course's; {} where none has channels."""
    if course is None:
        return {}
    fit = [
        lap.grid
        for lap in laps
        if lap.grid is not None and not APART.intersection(lap.why_not) and is_same_length(lap.grid, course.lap)
    ]
    return {row.corner: row.a_lap for row in rows(losses_of(grid, course) for grid in fit)}


def _day(session: KeptSession, number: int, course: Course | None) -> Day:
    return Day(
        session=session.id,
        begun=session.begun,
        label=f"session {number}",
        setup=session.setup,
        stage=session.stage,
        steadiness=steadiness(session.laps),
        losses=median_losses(session.laps, course),
    )


def _setups(sessions: Sequence[KeptSession], course: Course | None) -> list[Setup]:
    """Each setup in the order of its first session; [] where there is only one."""
    labels = list(dict.fromkeys(session.setup for session in sessions))
    if len(labels) < 2:
        return []
    made = []
    for label in labels:
        mine = [lap for session in sessions if session.setup == label for lap in session.laps]
        others = [lap for session in sessions if session.setup != label for lap in session.laps]
        own, rest = _times(mine), _times(others)
        made.append(
            Setup(
                label=label,
                sessions=tuple(place for place, session in enumerate(sessions) if session.setup == label),
                steadiness=steadiness(mine),
                losses=median_losses(mine, course),
                chance=mann_whitney(own, rest) if min(len(own), len(rest)) >= FEWEST else None,
            )
        )
    return made


def _times(laps: Iterable[KeptLap]) -> list[float]:
    return [lap.time for lap in laps if lap.clean and lap.time is not None]
