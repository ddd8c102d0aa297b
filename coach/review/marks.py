"""The marks of a session: how many were hit, and how far the places lie apart. Pure."""

from __future__ import annotations

from collections import defaultdict

from coach.practice.tally import FEWEST, deviation
from coach.review.model import KeptSession
from coach.review.results import MarkRow
from coach.vocabulary.events import Mark

ORDER = ("brake", "apex", "exit")
"""As they are driven."""


def marks(session: KeptSession) -> list[MarkRow]:
    """By corner as they are numbered, and mark as they are driven.

    The spread is the plain standard deviation, as in the evidence of a stage, over all passes that showed the mark.
    """
    by: dict[tuple[int, str], list[Mark]] = defaultdict(list)
    for lap in session.laps:
        for passed in lap.passes:
            for mark in passed.marks:
                by[passed.corner, mark.name].append(mark)
    return [_row(corner, name, found, session.length) for (corner, name), found in sorted(by.items(), key=_driven)]


def _driven(item: tuple[tuple[int, str], list[Mark]]) -> tuple[int, int, str]:
    (corner, name), _ = item
    return corner, ORDER.index(name) if name in ORDER else len(ORDER), name


def _row(corner: int, name: str, found: list[Mark], length: float | None) -> MarkRow:
    hits = [mark.hit for mark in found if mark.hit is not None]
    return MarkRow(
        corner=corner,
        name=name,
        passes=len(hits),
        hit=sum(hits) / len(hits) if hits else None,
        spread=_spread([mark.at for mark in found], length if name == "brake" else None),
    )


def _spread(places: list[float], length: float | None) -> float | None:
    """m; places along the road that lie to both sides of the line are next to each other."""
    if len(places) < FEWEST:
        return None
    if length:
        places = [(at - places[0] + length / 2) % length for at in places]
    return round(deviation(places), 4)
