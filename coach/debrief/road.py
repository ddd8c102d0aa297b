"""Where things lie in a picture of a lap: metres to pixels, and lines along the road beside its middle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, hypot, isfinite, sin

Point = tuple[float, float]

STEP = 2.0
"""px: points of a path that are nearer to each other than this say nothing that is seen."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of driving, one row a sample: m from the start line, and m in the fixed world frame; nan is unknown."""

    places: Sequence[float] = ()
    xs: Sequence[float] = ()
    ys: Sequence[float] = ()

    def has_position(self) -> bool:
        """Whether x and y are known anywhere."""
        return any(isfinite(x) and isfinite(y) for x, y in zip(self.xs, self.ys, strict=True))

    def has_place(self) -> bool:
        """Whether the distance is known anywhere."""
        return any(isfinite(place) for place in self.places)


class Ground:
    """Lays the lap into a box of `width` by at most `height` px, its longer side across; y of the world points up.

    Where the outline has no position, the lap is a straight ribbon of its distance.
    """

    def __init__(self, outline: Piece, width: float, height: float, left: float, top: float) -> None:
        self.is_ribbon = not outline.has_position()
        world = self._world(outline)
        self._turn = 0.0 if self.is_ribbon else _long_axis(world)
        turned = [self._turned(point) for point in world] or [(0.0, 0.0)]
        xs, ys = [x for x, _ in turned], [y for _, y in turned]
        wide, high = max(xs) - min(xs), max(ys) - min(ys)
        fits = [size / extent for size, extent in ((width, wide), (height, high)) if extent > 0.0]
        self.scale = min(fits, default=1.0)
        """px for a metre"""
        self._middle = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
        self.height = max(high * self.scale, 1.0)
        self._centre = left + width / 2, top + self.height / 2

    def points(self, piece: Piece) -> list[list[Point]]:
        """A piece in px, thinned out: one line, or more where a ribbon ends at the line and begins anew."""
        lines: list[list[Point]] = [[]]
        for x, y in self._world(piece):
            if self.is_ribbon and lines[-1] and self.at(x, y)[0] < lines[-1][-1][0]:
                lines.append([])
            lines[-1].append(self.at(x, y))
        return [thinned(line) for line in lines if len(line) > 1]

    def at(self, x: float, y: float) -> Point:
        """m to px."""
        turned = self._turned((x, y))
        return (
            self._centre[0] + (turned[0] - self._middle[0]) * self.scale,
            self._centre[1] - (turned[1] - self._middle[1]) * self.scale,
        )

    def _world(self, piece: Piece) -> list[Point]:
        if self.is_ribbon:
            return [(place, 0.0) for place in piece.places if isfinite(place)]
        return [(x, y) for x, y in zip(piece.xs, piece.ys, strict=True) if isfinite(x) and isfinite(y)]

    def _turned(self, point: Point) -> Point:
        c, s = cos(self._turn), sin(self._turn)
        return c * point[0] + s * point[1], c * point[1] - s * point[0]


def place_on(outline: Piece, place: float) -> Point | None:
    """x, y (m) of the outline at `place` (m from the line), by linear interpolation; None where it was not driven.

    Without positions, the place itself and 0, as a ribbon has it.
    """
    rows = [row for row in zip(outline.places, outline.xs, outline.ys, strict=True) if isfinite(row[0])]
    if not outline.has_position():
        rows = [(at, at, 0.0) for at, _, _ in rows]
    rows = [row for row in rows if isfinite(row[1]) and isfinite(row[2])]
    for (at, x, y), (then, next_x, next_y) in pairwise(rows):
        if at <= place <= then:
            part = (place - at) / (then - at) if then > at else 0.0
            return x + (next_x - x) * part, y + (next_y - y) * part
    return None


def thinned(points: Sequence[Point]) -> list[Point]:
    """The points without those nearer than `STEP` to the one before; both ends stay."""
    kept = [points[0]]
    for point in points[1:]:
        if hypot(point[0] - kept[-1][0], point[1] - kept[-1][1]) >= STEP:
            kept.append(point)
    if kept[-1] != points[-1]:
        kept.append(points[-1])
    return kept


def dotted(points: Sequence[Point], apart: float = 6.0) -> Iterator[Point]:
    """Points along a line, not more than `apart` px from each other."""
    for (x, y), (then_x, then_y) in pairwise(points):
        steps = int(hypot(then_x - x, then_y - y) / apart) + 1
        for step in range(steps):
            yield x + (then_x - x) * step / steps, y + (then_y - y) * step / steps
    yield points[-1]


def beside(points: Sequence[Point], offset: float) -> list[Point]:
    """The line `offset` px to the left of the driving (negative: right); where it would turn back it is cut short."""
    out: list[Point] = []
    for index, (x, y) in enumerate(points):
        along = tangent(points, index)
        moved = x + along[1] * offset, y - along[0] * offset
        if out and (moved[0] - out[-1][0]) * along[0] + (moved[1] - out[-1][1]) * along[1] <= 0.0:
            continue  # inside a bend that is tighter than the offset
        out.append(moved)
    return out


def tangent(points: Sequence[Point], index: int) -> Point:
    """Unit vector of the driving at a point, in px."""
    before, after = points[max(index - 1, 0)], points[min(index + 1, len(points) - 1)]
    dx, dy = after[0] - before[0], after[1] - before[1]
    length = hypot(dx, dy)
    return (dx / length, dy / length) if length > 0.0 else (1.0, 0.0)


def _long_axis(points: Sequence[Point]) -> float:
    """rad: the direction in which the points spread most."""
    if not points:
        return 0.0
    count = len(points)
    mean_x, mean_y = sum(x for x, _ in points) / count, sum(y for _, y in points) / count
    xx = sum((x - mean_x) ** 2 for x, _ in points)
    yy = sum((y - mean_y) ** 2 for _, y in points)
    xy = sum((x - mean_x) * (y - mean_y) for x, y in points)
    return 0.5 * atan2(2.0 * xy, xx - yy)
