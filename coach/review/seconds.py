"""Where the seconds are: a session's losses by corner and phase, and any lap's against any other. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from statistics import median

import numpy as np

from coach.engine.circuit import SAME_LENGTH, Circuit
from coach.engine.course import Course, read_course
from coach.engine.lap import GridLap
from coach.review.model import KeptLap, KeptSession
from coach.review.results import CornerLoss
from coach.vocabulary.events import PHASES, CornerMark, LossPart

APART = frozenset({"standing_start", "pit", "out_lap", "in_lap", "paused", "reset"})
"""What makes a lap lose seconds that are no driving of its corners."""


def losses(session: KeptSession) -> list[CornerLoss]:
    """The rows of the ledger over the laps that were driven through, the corner that lost most first.

    Each lap stands against the reference that it had.
    """
    return rows(lap.parts for lap in held(session))


def held(session: KeptSession) -> list[KeptLap]:
    """The laps that were driven through and held against a reference."""
    return [lap for lap in session.laps if lap.parts and not APART.intersection(lap.why_not)]


def rows(laps: Iterable[Sequence[LossPart]]) -> list[CornerLoss]:
    """The same for any laps' parts."""
    phases: dict[int | None, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    by_exit: dict[int | None, list[float]] = defaultdict(list)
    totals: dict[int | None, list[float]] = defaultdict(list)
    for parts in laps:
        corners = dict.fromkeys(part.corner for part in parts)
        for corner in corners:
            mine = [part for part in parts if part.corner == corner]
            totals[corner].append(sum(part.seconds for part in mine))
            for phase in PHASES:
                if any(part.phase == phase for part in mine):
                    phases[corner][phase].append(sum(part.seconds for part in mine if part.phase == phase))
            explained = [part.from_exit for part in mine if part.from_exit is not None]
            if explained:
                by_exit[corner].append(sum(explained))
    made = [
        CornerLoss(
            corner=corner,
            phases={phase: round(median(lost), 4) for phase, lost in phases[corner].items()},
            by_exit=round(median(by_exit[corner]), 4) if by_exit[corner] else None,
            a_lap=round(median(lost), 4),
            total=round(sum(lost), 4),
        )
        for corner, lost in totals.items()
    ]
    return sorted(made, key=lambda row: (-row.total, -1 if row.corner is None else row.corner))


def course_of(reference: GridLap, name: str, marks: Sequence[CornerMark]) -> Course:
    """The reference with its ledger, its corners numbered as those of the map `name`."""
    known = Circuit(name, reference.length, tuple(marks)) if marks else None
    return read_course(reference, known)


def is_same_length(lap: GridLap, reference: GridLap) -> bool:
    """Whether the lap can be of the reference's circuit."""
    return abs(lap.length - reference.length) <= SAME_LENGTH * reference.length


def losses_of(lap: GridLap, course: Course) -> tuple[LossPart, ...]:
    """Seconds that a kept lap lost to the course's lap, part by part, as `Ledger.losses` has them of a running one.

    The sum is the difference of the two lap times but for rounding: the last part carries the rest.
    """
    reference, parts = course.lap, course.ledger.parts
    ends = np.array([part.end for part in parts]) / reference.length
    delta = np.interp(ends * lap.length, lap.distance, lap.time) - np.interp(
        ends * reference.length, reference.distance, reference.time
    )
    out: list[LossPart] = []
    before = given = 0.0
    total = round(lap.total - reference.total, 4)
    for index, (part, now) in enumerate(zip(parts, delta.tolist(), strict=True)):
        seconds = round((total - given) if index == len(parts) - 1 else (now - before), 4)
        before, given = now, given + seconds
        out.append(LossPart(part.corner, part.phase, seconds))
    return tuple(out)


def best_lap(laps: Iterable[KeptLap]) -> KeptLap | None:
    """The quickest clean one whose channels are kept."""
    fit = [lap for lap in laps if lap.clean and lap.time is not None and lap.grid is not None]
    return min(fit, key=lambda lap: lap.time if lap.time is not None else 0.0, default=None)
