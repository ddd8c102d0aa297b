"""A font's proportions, read from its outlines: what ISO 15008 asks of characters on a display in a car.

As fontbakery's profile `iso15008` has them (version 1.1.0; the standard itself was not at hand), but for two things.
The height of `x` is read from its outline, since old fonts do not state it; and a stem is compared with the letter that
it belongs to, `h`, not with the line's ascender, which leaves room for accents as well. (By that, DejaVu Sans has 0.097
where 0.10 is the least; the other four of fontbakery's five checks it passes as they are.)
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

from fontTools.misc.bezierTools import Intersection, curveLineIntersections, lineLineIntersections
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

Ends = tuple[float, float]


class Proportions(NamedTuple):
    """Each a ratio; `touching` in em."""

    width: float
    """of H, to its height"""
    stem: float
    """of l at the height of x, to the height of h"""
    verticals: float
    """the gap of `ll` to the stem"""
    diagonals: float
    """the gap of `vl` to the stem"""
    touching: float
    """the gap of `vv`"""
    words: float
    """from the last letter of a word to the first of the next, to the gap of `lm`"""
    lines: float
    """from the foot of g to the head of h in the next line, to the stem"""


class Measured:
    """A font without kerning between the letters that are measured."""

    def __init__(self, path: Path) -> None:
        self.font = TTFont(path)
        self.names: dict[int, str] = self.font.getBestCmap()
        self.glyphs: Any = self.font.getGlyphSet()

    def advance(self, letter: str) -> float:
        """Font units from this letter to the next."""
        width: float = self.font["hmtx"][self.names[ord(letter)]][0]
        return width

    def box(self, letter: str) -> tuple[float, float, float, float]:
        """Left, bottom, right, top."""
        pen = BoundsPen(self.glyphs)
        self.glyphs[self.names[ord(letter)]].draw(pen)
        assert pen.bounds is not None
        left, bottom, right, top = pen.bounds
        return left, bottom, right, top

    def proportions(self) -> Proportions:
        """All of them."""
        capital, small, foot, v, m, n = (self.box(letter) for letter in "Hhgvmn")
        left, right = self.across("l", self.box("x")[3])
        stem, after = right - left, self.advance("l") - right
        line: Any = self.font["hhea"]
        return Proportions(
            (capital[2] - capital[0]) / (capital[3] - capital[1]),
            stem / small[3],
            (after + left) / stem,
            (after + v[0]) / stem,
            (self.advance("v") - v[2] + v[0]) / self.font["head"].unitsPerEm,
            (self.advance(" ") + self.advance("m") - m[2] + n[0]) / (after + m[0]),
            (line.ascent - line.descent + line.lineGap - (small[3] - foot[1])) / stem,
        )

    def across(self, letter: str, height: float) -> Ends:
        """Where a line at that height enters the letter and leaves it."""
        pen = DecomposingRecordingPen(self.glyphs)
        self.glyphs[self.names[ord(letter)]].draw(pen)
        ray = ((-10_000.0, height), (10_000.0, height))
        crossings: list[Intersection] = []
        at = start = (0.0, 0.0)
        for step, points in pen.value:
            if step == "moveTo":
                at = start = points[0]
            elif step == "lineTo":
                crossings += lineLineIntersections(at, points[0], *ray)
                at = points[0]
            elif step in ("qCurveTo", "curveTo"):
                assert len(points) in (2, 3), "one curve at a time"
                crossings += curveLineIntersections((at, *points), ray)
                at = points[-1]
            else:
                crossings += lineLineIntersections(at, start, *ray)
        xs = [one.pt[0] for one in crossings]
        return min(xs), max(xs)
