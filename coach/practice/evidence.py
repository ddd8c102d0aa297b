"""Whether the next stage is earned, and what says so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from coach.practice import clean, learn, pace, rehearse
from coach.practice.driven import Driven
from coach.practice.point import Point
from coach.vocabulary.stages import CLEAN, LEARN, PACE, REHEARSE

_ASKED: dict[str, Callable[[Driven], list[Point]]] = {
    LEARN: learn.asked,
    CLEAN: clean.asked,
    PACE: pace.asked,
    REHEARSE: rehearse.asked,
}
"""By stage, what is asked before the next one."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """`earned`: the stage has all that it asks; `evidence`: a sentence for each thing that it asks, with figures.

    `lacking`: those of them that are not there yet; `early`: for want of laps alone.
    """

    earned: bool
    evidence: tuple[str, ...]
    lacking: tuple[str, ...] = ()
    early: bool = False


class Evidence(Driven):
    """What was driven so far, judged by a stage. Pure: the same laps give the same verdict, live or kept.

    A kept session is judged by giving it its laps in order: of each the passes (`passed`), the faults (`found`), then
    `lap_over`. Stores and topic may be left out: then fuel is not asked to last, and nothing counts as worked on.
    """

    def verdict(self, stage: str) -> Verdict:
        """What the laps so far say. KeyError for a stage that there is not."""
        points = _ASKED[stage](self)
        lacking = tuple(point.text for point in points if not point.met)
        early = bool(lacking) and all(point.met or point.early for point in points)
        return Verdict(not lacking, tuple(point.text for point in points), lacking, early)
