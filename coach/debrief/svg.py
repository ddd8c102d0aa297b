"""Small parts of SVG text. All sizes in px."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from xml.sax.saxutils import escape

from coach.debrief.road import Point


def px(number: float) -> str:
    """A number, rounded to a tenth."""
    return f"{round(number, 1) + 0.0:.10g}"


def path(points: Sequence[Point]) -> str:
    """The `d` of a line through the points."""
    return "M" + "L".join(f"{px(x)} {px(y)}" for x, y in points)


def stroke(points: Sequence[Point], colour: str, width: float, more: str = "") -> str:
    """A line of one colour; `more` attributes."""
    return f'<path d="{path(points)}" fill="none" stroke="{colour}" stroke-width="{px(width)}"{more}/>'


def rect(left: float, top: float, width: float, height: float, fill: str, more: str = "") -> str:
    """A rectangle; `more` attributes."""
    place = f'x="{px(left)}" y="{px(top)}" width="{px(width)}" height="{px(height)}"'
    return f'<rect {place} fill="{fill}"{more}/>'


def words(at: Point, size: float, text: str, fill: str, more: str = "") -> str:
    """A line of text that begins at a point, its base line there; `more` attributes."""
    return f'<text x="{px(at[0])}" y="{px(at[1])}" font-size="{px(size)}" fill="{fill}"{more}>{safe(text)}</text>'


def safe(text: str) -> str:
    """A text as it may stand in XML: escaped, without control characters."""
    return escape("".join(character if character.isprintable() else "?" for character in text))


def folded(text: str, longest: int) -> list[str]:
    """A text in lines of up to `longest` characters."""
    return wrap(text, longest) or [""]
