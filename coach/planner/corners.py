"""The circuit's corners as the planner needs them: which one the car is in, and which come between."""

from __future__ import annotations

from collections.abc import Iterable

from coach.vocabulary.events import CornerMark

CELL = 20.0
"""m, for looking up in one step which corners are near: this is asked of every sample."""


class CornerPlaces:
    """The marks of a map whose lap is `length` m long. Only coached corners keep anything from being said."""

    def __init__(self, marks: Iterable[CornerMark], length: float) -> None:
        self._length = length
        self._marks = {mark.corner: mark for mark in marks}
        self._coached = [mark for mark in self._marks.values() if mark.coached]
        self._cells = max(1, int(length // CELL))
        self._near: dict[int, list[CornerMark]] = {}
        """by cell of the lap: the corners that reach into it"""
        for mark in self._coached:
            span = self._ahead(mark.entry, mark.exit)
            if span < length / 2:
                first = self._cell(mark.entry)
                for cell in range(first, first + int(span / length * self._cells) + 2):
                    self._near.setdefault(cell % self._cells, []).append(mark)

    def inside(self, distance: float) -> bool:
        """Whether the car is between the entry and the exit of a coached corner."""
        near = self._near.get(self._cell(distance))
        if near is None:
            return False
        return any(self._ahead(mark.entry, distance) < self._ahead(mark.entry, mark.exit) for mark in near)

    def is_last(self, corner: int, here: float) -> bool:
        """Whether no other coached corner's apex lies between this corner's and `here` (m). False: not on the map."""
        own = self._marks.get(corner)
        if own is None:
            return False
        way = self._ahead(own.apex, here)
        return not any(mark is not own and self._ahead(own.apex, mark.apex) <= way for mark in self._coached)

    def opener(self, corner: int) -> int:
        """The first corner of the linked run that this one is in; the corner itself where it is in none."""
        order = sorted(self._coached, key=lambda mark: mark.apex)
        places = {mark.corner: place for place, mark in enumerate(order)}
        place = places.get(corner)
        if place is None:
            return corner
        for back in range(len(order)):
            before = order[(place - back - 1) % len(order)]
            if not before.linked or before.corner == corner:
                return order[(place - back) % len(order)].corner
        return corner

    def coached(self) -> list[int]:
        """The corners that are coached, in the order of the map."""
        return [mark.corner for mark in self._coached]

    def brake(self, corner: int | None) -> float | None:
        """m from the line where the corner's braking begins; None for one that the map does not have."""
        mark = None if corner is None else self._marks.get(corner)
        return None if mark is None else mark.brake

    def _cell(self, distance: float) -> int:
        return min(int(distance % self._length / self._length * self._cells), self._cells - 1)

    def _ahead(self, start: float, end: float) -> float:
        return (end - start) % self._length
