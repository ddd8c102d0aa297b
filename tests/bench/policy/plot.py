"""The picture: seconds lost to the reference lap by lap, as SVG without any library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .results import Floats, Season

WIDTH, HEIGHT = 860, 500
LEFT, RIGHT, TOP, BOTTOM = 64, 170, 56, 70
GAP = 15
"""px between two names at the right, at least"""


@dataclass(frozen=True, slots=True)
class Look:
    """A line's colour, its dashes and the sign on it."""

    colour: str
    dashes: str
    sign: str


LOOKS = (
    Look("#0072b2", "", "circle"),
    Look("#000000", "2 4", "cross"),
    Look("#e69f00", "8 4", "square"),
)
"""Of a palette for all colour vision (1.17: Okabe & Ito 2008); dashes and signs tell the lines apart too."""


def draw(seasons: Mapping[str, Season], title: str) -> str:
    """The median of the pupils and their middle half, by coach; on a grey ground the laps without a word. At most as
    many coaches as there are looks."""
    first = next(iter(seasons.values()))
    laps = first.loss.shape[1]
    quarters = {name: np.percentile(season.loss, (25, 50, 75), axis=0) for name, season in seasons.items()}
    top = float(np.ceil(2 * max(band[2].max() for band in quarters.values())) / 2) or 0.5
    scale = _Scale(laps, top)
    parts = [*_ground(scale, first.laps, laps, top, title)]
    looks = dict(zip(quarters, LOOKS, strict=False))
    parts += [_area(scale, quarters[name], look) for name, look in looks.items()]
    ends: list[tuple[float, str, Look]] = []
    for name, look in looks.items():
        band = quarters[name]
        parts += _line(scale, band, look)
        ends.append((scale.y(float(band[1][-1])), name, look))
    parts += _names(ends)
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'font-family="sans-serif" font-size="13">\n<rect width="100%" height="100%" fill="#ffffff"/>\n{body}\n</svg>\n'
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    laps: int
    top: float

    def x(self, lap: float) -> float:
        return LEFT + (lap - 0.5) / self.laps * (WIDTH - LEFT - RIGHT)

    def y(self, seconds: float) -> float:
        return HEIGHT - BOTTOM - max(seconds, 0.0) / self.top * (HEIGHT - TOP - BOTTOM)


def _ground(scale: _Scale, cued: int, laps: int, top: float, title: str) -> list[str]:
    begins, ends, low = scale.x(cued + 0.5), scale.x(laps + 0.5), scale.y(0.0)
    parts = [f'<text x="{LEFT}" y="22" font-size="15">{_plain(title)}</text>']
    parts.append(_text(LEFT, 42, "Median and middle half of the pupils. A model; no evidence about people.", "start"))
    if laps > cued:
        parts.append(
            f'<rect x="{begins:.1f}" y="{TOP}" width="{ends - begins:.1f}" height="{low - TOP:.1f}" fill="#ececec"/>'
        )
        parts.append(_text((begins + ends) / 2, TOP + 16, "nothing said", "middle"))
    step = 0.5 if top <= 4 else 1.0
    for i in range(round(top / step) + 1):
        y = scale.y(i * step)
        parts.append(f'<path d="M{LEFT} {y:.1f}H{ends:.1f}" stroke="#cccccc" stroke-width="1"/>')
        parts.append(_text(LEFT - 8, y + 4, f"{i * step:.1f}", "end"))
    parts += [_text(scale.x(lap), low + 20, str(lap), "middle") for lap in range(1, laps + 1)]
    parts.append(_text((LEFT + ends) / 2, low + 46, "lap", "middle"))
    middle = (TOP + low) / 2
    parts.append(
        f'<g transform="rotate(-90 18 {middle:.1f})">{_text(18, middle, "s lost to the reference", "middle")}</g>'
    )
    return parts


def _area(scale: _Scale, band: Floats, look: Look) -> str:
    outline = _path([*_points(scale, band[2]), *reversed(_points(scale, band[0]))])
    colour = look.colour
    return f'<path d="{outline}Z" fill="{colour}" fill-opacity="0.12" stroke="{colour}" stroke-opacity="0.45"/>'


def _points(scale: _Scale, row: Floats) -> list[tuple[float, float]]:
    return [(scale.x(lap), scale.y(float(seconds))) for lap, seconds in enumerate(row, 1)]


def _line(scale: _Scale, band: Floats, look: Look) -> list[str]:
    middle = _points(scale, band[1])
    stroke, dashes = f'stroke="{look.colour}"', f'stroke-dasharray="{look.dashes or "none"}"'
    return [
        f'<path d="{_path(middle)}" fill="none" {stroke} stroke-width="2.4" {dashes}/>',
        *(_sign(x, y, look) for x, y in middle),
    ]


def _sign(x: float, y: float, look: Look) -> str:
    if look.sign == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{look.colour}"/>'
    if look.sign == "square":
        return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="{look.colour}"/>'
    arms = f"M{x - 4:.1f} {y - 4:.1f}l8 8M{x - 4:.1f} {y + 4:.1f}l8 -8"
    return f'<path d="{arms}" stroke="{look.colour}" stroke-width="2"/>'


def _names(ends: Sequence[tuple[float, str, Look]]) -> list[str]:
    """Each line's name at its end, moved down where two would lie on each other."""
    out, last = [], -float(GAP)
    x = WIDTH - RIGHT + 16
    for y, name, look in sorted(ends, key=lambda end: end[0]):
        last = max(y, last + GAP)
        out.append(_sign(x, last, look))
        out.append(_text(x + 12, last + 4, name, "start"))
    return out


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{_plain(text)}</text>'


def _plain(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
