"""Shapes of the pictures, painted with the tones. All sizes in px."""

from __future__ import annotations

from collections.abc import Sequence

from coach.debrief import svg
from coach.debrief.road import Point
from coach.debrief.tones import paint

FONT = "Verdana, DejaVu Sans, Arial, sans-serif"
WORDS = 11.0
"""px: the size of words."""


def begun(width: float, height: float, ground: bool = True) -> list[str]:
    """The head of a picture, with the ground it stands on unless the page has one."""
    size = f'viewBox="0 0 {svg.px(width)} {svg.px(height)}" width="{svg.px(width)}" height="{svg.px(height)}"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="{FONT}">'
    return [head, block(0.0, 0.0, width, height, "panel")] if ground else [head]


def words(x: float, y: float, text: str, tone: str = "ink", anchor: str = "start", size: float = WORDS) -> str:
    """A line of text whose base line begins (or, by `anchor`, has its middle or end) at a point."""
    placed = f'x="{svg.px(x)}" y="{svg.px(y)}" font-size="{svg.px(size)}"'
    placed += "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f"<text {placed} {paint(tone)}>{svg.safe(text)}</text>"


def line(points: Sequence[Point], tone: str, width: float = 1.0, dash: str = "", more: str = "") -> str:
    """A stroke through points."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{svg.path(points)}" stroke-width="{svg.px(width)}"{dashed}{more} {paint(stroke=tone)}/>'


def across(left: float, right: float, y: float, tone: str = "rule", width: float = 1.0, dash: str = "") -> str:
    """A level stroke."""
    return line([(left, y), (right, y)], tone, width, dash)


def upright(x: float, top: float, bottom: float, tone: str = "rule", width: float = 1.0) -> str:
    """An upright stroke."""
    return line([(x, top), (x, bottom)], tone, width)


def block(left: float, top: float, width: float, height: float, fill: str) -> str:
    """A filled rectangle, at least a hair wide."""
    place = f'x="{svg.px(left)}" y="{svg.px(top)}" width="{max(width, 0.4):.2f}" height="{svg.px(height)}"'
    return f"<rect {place} {paint(fill)}/>"


def square(x: float, y: float, size: float, fill: str, stroke: str, inside: str = "") -> str:
    """A square around a point."""
    place = f'x="{svg.px(x - size / 2)}" y="{svg.px(y - size / 2)}" width="{svg.px(size)}" height="{svg.px(size)}"'
    return f'<rect {place} stroke-width="1.6" {paint(fill, stroke)}>{inside}</rect>'


def disc(x: float, y: float, radius: float, fill: str, stroke: str | None = None, inside: str = "") -> str:
    """A disc, or a ring where it has a stroke of another tone."""
    width = ' stroke-width="2"' if stroke else ""
    place = f'cx="{svg.px(x)}" cy="{svg.px(y)}" r="{svg.px(radius)}"'
    return f"<circle {place}{width} {paint(fill, stroke)}>{inside}</circle>"


def polygon(points: Sequence[Point], fill: str, stroke: str | None = None, inside: str = "") -> str:
    """A closed shape."""
    width = ' stroke-width="1.4"' if stroke else ""
    return f'<path d="{svg.path(points)}Z"{width} {paint(fill, stroke)}>{inside}</path>'


def title(text: str) -> str:
    """What a shape tells who points at it, or has it read out."""
    return f"<title>{svg.safe(text)}</title>"
