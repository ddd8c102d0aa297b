"""The marks of the last laps added up: how many were hit, and how far the places lie apart.

The spread is the plain standard deviation. A robust one would be blind to the pass that lay apart, of five laps it
tells little, and it could not tell a steady driver from a scattering one (measured on the project's shared runs).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum, sqrt
from statistics import median

from coach.vocabulary.events import Mark, Passed
from coach.vocabulary.marks import MARKS

FEWEST = 3
"""Passes that make a standard deviation worth telling (choice)."""

Key = tuple[int, str]
"""A corner's number and a mark's name."""


@dataclass(frozen=True, slots=True)
class Tallied:
    """One mark of one corner: `passes` that showed it, of `told` of them it is known whether they `hit` it.

    `spread` m: the standard deviation of its place, None of fewer than `FEWEST`; `allowed` m: the median of what a hit
    may be off.
    """

    corner: int
    name: str
    passes: int
    told: int
    hit: int
    spread: float | None
    allowed: float


class Tally:
    """The marks of some passes."""

    def __init__(self, passes: Iterable[Passed]) -> None:
        by: dict[Key, list[Mark]] = defaultdict(list)
        for passed in passes:
            for mark in passed.marks:
                by[passed.corner, mark.name].append(mark)
        self.rows = [_tallied(corner, name, marks) for (corner, name), marks in sorted(by.items(), key=_place)]

    def __bool__(self) -> bool:
        return bool(self.rows)

    @property
    def told(self) -> int:
        """Marks of which it is known whether they were hit."""
        return sum(row.told for row in self.rows)

    @property
    def hit(self) -> int:
        """Marks that were hit."""
        return sum(row.hit for row in self.rows)

    def spread(self, *names: str) -> float | None:
        """m: the median spread of these marks over the corners; None where it is known of none."""
        known = [row.spread for row in self.rows if row.name in names and row.spread is not None]
        return median(known) if known else None

    def widest(self, *names: str) -> Tallied | None:
        """Of these marks the one that scatters most, by what it is allowed; None where no spread is known."""
        known = [row for row in self.rows if row.name in names and row.spread is not None and row.allowed > 0.0]
        return max(known, key=lambda row: (row.spread or 0.0) / row.allowed, default=None)


def _place(item: tuple[Key, list[Mark]]) -> tuple[int, int]:
    (corner, name), _ = item
    return corner, MARKS.index(name) if name in MARKS else len(MARKS)


def _tallied(corner: int, name: str, marks: list[Mark]) -> Tallied:
    places = [mark.at for mark in marks]
    hits = [mark.hit for mark in marks if mark.hit is not None]
    spread = deviation(places) if len(places) >= FEWEST else None
    return Tallied(corner, name, len(marks), len(hits), sum(hits), spread, median(mark.allowed for mark in marks))


def deviation(places: list[float]) -> float:
    """The standard deviation of a sample; `statistics.stdev` is exact to the last bit, and thirty times slower."""
    middle = fsum(places) / len(places)
    return sqrt(fsum((place - middle) ** 2 for place in places) / (len(places) - 1))
