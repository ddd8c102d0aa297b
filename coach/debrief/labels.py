"""Places for words beside what they are about: near, and never over each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import cos, inf, radians, sin
from unicodedata import east_asian_width

from coach.debrief.road import Point, dotted

EM = 0.57
"""Mean width of a character of a wide sans serif, in heights; wider than most fonts, so that words never stand out."""
PAD = 3.0
"""px between two boxes."""
NEAR, FAR, STEPS = 10.0, 450.0, 1.12
"""px from a stroke to its words: the nearest and farthest that is tried, and how much further each try is."""
CELL = 24.0
"""px: squares by which marks are looked up"""
TURNS = (0, 20, -20, 40, -40, 60, -60, 80, -80, 105, -105, 130, -130)
"""degrees from straight away from the road."""
TURN_COST = 0.4
"""px further away that a degree is worth (choice)."""
ELSEWHERE = 6.0
"""px further away that the best of the anchors is worth (choice)."""
OVER_LINES, OVER_WORDS = 100.0, 250.0
"""px further away that a leader is worth which runs over no road, stroke or leader, and over no words (choice)."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in px."""

    left: float
    top: float
    width: float
    height: float

    def overlaps(self, other: Box, pad: float = 0.0) -> bool:
        """Whether they have room in common, or are nearer than `pad`."""
        return (
            self.left < other.left + other.width + pad
            and other.left < self.left + self.width + pad
            and self.top < other.top + other.height + pad
            and other.top < self.top + self.height + pad
        )

    def inside(self, other: Box) -> bool:
        """Whether all of it lies within the other."""
        return (
            other.left <= self.left
            and other.top <= self.top
            and self.left + self.width <= other.left + other.width
            and self.top + self.height <= other.top + other.height
        )

    def nearest(self, point: Point) -> Point:
        """Its point nearest to another."""
        x, y = point
        return min(max(x, self.left), self.left + self.width), min(max(y, self.top), self.top + self.height)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Words of this size beside one of `anchors`, the first is the best; each with the direction (unit vector) in which
    they stand best. `own`: points of what they are about, which their leader may run over."""

    anchors: Sequence[tuple[Point, Point]]
    width: float
    height: float
    own: Sequence[Point] = ()


@dataclass(frozen=True, slots=True)
class Placed:
    """Where words stand, and the leader from the anchor to them."""

    box: Box
    leader: tuple[Point, Point]


def width_of(text: str, size: float) -> float:
    """px that a text takes at most in letters of `size` px."""
    return size * sum(1.0 if east_asian_width(character) in "WF" else EM for character in text)


class Marks:
    """Small boxes around points, found again by where they are."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[tuple[Point, Box]]] = {}

    def add(self, point: Point, radius: float) -> None:
        """Keep a box of `radius` px around a point."""
        box = Box(point[0] - radius, point[1] - radius, 2.0 * radius, 2.0 * radius)
        for cell in _cells(box):
            self._cells.setdefault(cell, []).append((point, box))

    def touched(self, box: Box, but: frozenset[Point] = frozenset()) -> bool:
        """Whether a box overlaps any of them, those around the points `but` left out."""
        return any(
            box.overlaps(mark) and point not in but for cell in _cells(box) for point, mark in self._cells.get(cell, ())
        )


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for column in range(int(box.left // CELL), int((box.left + box.width) // CELL) + 1):
        for row in range(int(box.top // CELL), int((box.top + box.height) // CELL) + 1):
            yield column, row


class Places:
    """Gives out places within `area`, clear of `marks`: points that each have a radius (px), along lines or alone."""

    def __init__(self, area: Box, marks: Iterable[tuple[Point, float]]) -> None:
        self._area = area
        self._marks = Marks()
        for point, radius in marks:
            self._marks.add(point, radius)
        self._taken: list[Box] = []
        self._column = area.top
        self._widest = 0.0
        self._left = area.left + area.width + PAD

    @property
    def right(self) -> float:
        """px: where what was placed ends to the right, beyond the area if it did not hold all."""
        return max([self._area.left + self._area.width, *(box.left + box.width for box in self._taken)])

    def take(self, wanted: Wanted) -> Placed:
        """The best free place; where there is none, the next one in columns to the right of the area."""
        own = frozenset(wanted.own)
        best, least = None, inf
        for cost, placed in self._candidates(wanted):
            if cost >= least:
                break
            if not self._is_free(placed.box):
                continue
            if self._runs_over_words(placed.leader):
                cost += OVER_WORDS
            elif self._runs_over_lines(placed.leader, own):
                cost += OVER_LINES
            if cost < least:
                best, least = placed, cost
        if best is not None:
            return self._keep(best)
        anchor = wanted.anchors[0][0]
        box = self._beside(wanted)
        return self._keep(Placed(box, (anchor, box.nearest(anchor))))

    def _keep(self, placed: Placed) -> Placed:
        self._taken.append(placed.box)
        for point in dotted(placed.leader):
            self._marks.add(point, 1.0)
        return placed

    def _candidates(self, wanted: Wanted) -> Iterator[tuple[float, Placed]]:
        """Places within the area with what they cost, the nearest and straightest first."""
        tries = []
        distance = NEAR
        while distance <= FAR:
            for number in range(len(wanted.anchors)):
                cost = distance + ELSEWHERE * number
                tries += [(cost + abs(turn) * TURN_COST, distance, turn, number) for turn in TURNS]
            distance = max(distance * STEPS, distance + NEAR)
        for cost, distance, turn, number in sorted(tries):
            anchor, away = wanted.anchors[number]
            c, s = cos(radians(turn)), sin(radians(turn))
            x, y = away[0] * c - away[1] * s, away[0] * s + away[1] * c
            reach = distance + abs(x) * wanted.width / 2 + abs(y) * wanted.height / 2
            middle = anchor[0] + x * reach, anchor[1] + y * reach
            box = Box(middle[0] - wanted.width / 2, middle[1] - wanted.height / 2, wanted.width, wanted.height)
            if box.inside(self._area):
                yield cost, Placed(box, (anchor, box.nearest(anchor)))

    def _is_free(self, box: Box) -> bool:
        return not any(box.overlaps(other, PAD) for other in self._taken) and not self._marks.touched(box)

    def _runs_over_words(self, leader: tuple[Point, Point]) -> bool:
        spots = [Box(x - 0.5, y - 0.5, 1.0, 1.0) for x, y in dotted(leader, 4.0)]
        return any(spot.overlaps(other) for spot in spots for other in self._taken)

    def _runs_over_lines(self, leader: tuple[Point, Point], own: frozenset[Point]) -> bool:
        """Whether it runs over a mark that is not its own."""
        spots = [Box(x - 0.5, y - 0.5, 1.0, 1.0) for x, y in dotted(leader, 4.0)]
        return any(self._marks.touched(spot, own) for spot in spots)

    def _beside(self, wanted: Wanted) -> Box:
        if self._column + wanted.height > self._area.top + self._area.height and self._column > self._area.top:
            self._left += self._widest + PAD
            self._column, self._widest = self._area.top, 0.0
        box = Box(self._left, self._column, wanted.width, wanted.height)
        self._column += wanted.height + PAD
        self._widest = max(self._widest, wanted.width)
        return box


def lanes(spans: Sequence[Sequence[tuple[float, float]]], apart: float) -> list[int]:
    """A lane for each thing, so that none overlaps another in its lane, the lowest there is. A thing is one or more
    spans (from, to); `apart`: what has to lie between two."""
    found: list[int] = []
    used: list[list[tuple[float, float]]] = []
    for thing in spans:
        lane = 0
        while lane < len(used) and any(
            start < other_end + apart and other_start < end + apart
            for start, end in thing
            for other_start, other_end in used[lane]
        ):
            lane += 1
        if lane == len(used):
            used.append([])
        used[lane] += thing
        found.append(lane)
    return found
