"""The driven line on the circuit, coloured by what is lost: whole, or one stretch of it. SVG text, sizes in px.

What is lost is wide and solid, what is gained wide and hollow, what is neither thin.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from coach.debrief import svg
from coach.debrief.drawing import begun, disc, line, polygon, title, words
from coach.debrief.road import Ground, Piece, Point, tangent
from coach.debrief.strips import BINS, Screen, Strip
from coach.debrief.tones import paint
from coach.vocabulary.events import CornerMark

WIDTHS = (7.0, 4.5, 2.0, 4.5, 7.0)
"""px of the stroke, by number of `BINS`."""
HOLLOW = 2.4
"""px of a hollow stroke that are colour, both edges together."""
BESIDE = 17.0
"""px from the apex to the corner's number, towards the inside."""
SIDE = 34.0
"""px around the lap for numbers."""
LEGEND = 54.0
"""px for what the strokes mean."""
KEEPS = ' vector-effect="non-scaling-stroke"'
"""Strokes keep their width where the page zooms."""
BEFORE, BEHIND = 60.0, 60.0
"""m shown before a corner's brake point and behind its exit."""


@dataclass(frozen=True, slots=True)
class Land:
    """A part of the circuit laid into a box: `rows` of the screen's places that are shown, in the order driven."""

    screen: Screen
    ground: Ground
    rows: Sequence[int]
    width: float
    height: float

    def line(self, xs: Sequence[float], ys: Sequence[float]) -> list[Point]:
        """The rows of a path in px."""
        return [self.ground.at(float(xs[row]), float(ys[row])) for row in self.rows]

    def every(self, path: tuple[Sequence[float], Sequence[float]]) -> list[Point]:
        """A whole lap's path in px."""
        return [self.ground.at(float(x), float(y)) for x, y in zip(*path, strict=True)]


def path_of(screen: Screen, strip: Strip) -> tuple[Sequence[float], Sequence[float]]:
    """x, y (m) of a lap; a lap without positions goes where the lap went that all are held against."""
    if screen.base is None or strip.xs is None or strip.ys is None:
        return _base(screen)
    return strip.xs.tolist(), strip.ys.tolist()


def land(screen: Screen, width: float, height: float, stretch: tuple[float, float] | None = None) -> Land:
    """Lays out the whole lap, or from `stretch[0]` to `stretch[1]` (m, over the line where that lies behind)."""
    rows = _rows(screen, stretch)
    x, y = _base(screen)
    outline = Piece([float(screen.places[i]) for i in rows], [x[i] for i in rows], [y[i] for i in rows])
    ground = Ground(outline, width - 2 * SIDE, height - 2 * SIDE, SIDE, SIDE)
    return Land(screen, ground, rows, width, ground.height + 2 * SIDE)


def draw_map(place: Land, strip: Strip, corners: Iterable[CornerMark], lost: bool = True, legend: bool = True) -> str:
    """The picture. Without `lost` the line is plain; `legend`: with what the strokes mean under it."""
    height = place.height + (LEGEND if legend else 0.0)
    parts = [
        *begun(place.width, height, ground=legend),
        *_road(place),
        *_against(place, strip),
        '<g id="driven-line" stroke-linejoin="round">' if legend else "<g>",
        *_driven(place, strip, lost),
        "</g>",
        *_marks(place, corners),
        *(_legend(place, lost and not place.screen.alone) if legend else ()),
        "</svg>",
    ]
    return "\n".join(parts)


def _base(screen: Screen) -> tuple[list[float], list[float]]:
    """x, y (m) of the lap that all are held against; without positions it is a straight ribbon of its distance."""
    if screen.base is None:
        return screen.places.tolist(), [0.0] * len(screen.places)
    return screen.base[0].tolist(), screen.base[1].tolist()


def _rows(screen: Screen, stretch: tuple[float, float] | None) -> list[int]:
    count = len(screen.places)
    if stretch is None:
        return list(range(count))
    step = screen.length / (count - 1)
    first, last = round(stretch[0] / step), round(stretch[1] / step)
    if last <= first:
        last += count - 1
    return [row % (count - 1) for row in range(first, min(last, first + count - 2) + 1)]


def stretch_of(mark: CornerMark, length: float) -> tuple[float, float]:
    """From where to where (m) a corner is shown."""
    return (mark.brake - BEFORE) % length, (mark.exit + BEHIND) % length


def _road(place: Land) -> Iterator[str]:
    screen = place.screen
    if screen.left is None or screen.right is None or screen.base is None:
        yield line(place.line(*_base(screen)), "road", 12.0, more=' stroke-linejoin="round"')
        return
    left = place.line(*(side.tolist() for side in screen.left))
    right = place.line(*(side.tolist() for side in screen.right))
    if len(place.rows) == len(screen.places):
        fill = f"{svg.path(left)}Z{svg.path(right)}Z"
    else:
        fill = f"{svg.path([*left, *reversed(right)])}Z"
    yield f'<path d="{fill}" fill-rule="evenodd" {paint("road")}/>'
    for edge in (left, right):
        yield line(edge, "edge", more=KEEPS)


def _against(place: Land, strip: Strip) -> Iterator[str]:
    """The lap that is held against, thin and dashed."""
    screen = place.screen
    if screen.base is not None and screen.has_line:
        own = screen.own is not None and screen.strips[screen.own] is strip
        hidden = ' style="display:none"' if own else ""
        yield f'<g class="against"{hidden}>{line(place.line(*_base(screen)), "soft", 1.2, "5 4", KEEPS)}</g>'


def _driven(place: Land, strip: Strip, lost: bool) -> Iterator[str]:
    points = place.line(*path_of(place.screen, strip))
    bins = place.screen.bins(strip) if lost else np.full(len(strip.time), 2, dtype=np.uint8)
    start = 0
    for index in range(1, len(points) + 1):
        if index < len(points) and bins[place.rows[index]] == bins[place.rows[start]]:
            continue
        number = int(bins[place.rows[start]])
        piece = points[start : index + 1]
        if len(piece) > 1:
            yield from _stroke(piece, number, plain_line=not lost)
        start = index


def _stroke(piece: Sequence[Point], number: int, plain_line: bool) -> Iterator[str]:
    tone, width = ("accent", 3.0) if plain_line else (BINS[number], WIDTHS[number])
    yield line(piece, tone, width, more=KEEPS)
    if number < 2 and not plain_line:
        yield line(piece, "panel", width - HOLLOW, more=KEEPS)


def _marks(place: Land, corners: Iterable[CornerMark]) -> Iterator[str]:
    screen = place.screen
    base = place.every(_base(screen))
    shown = set(place.rows)
    step = screen.length / (len(screen.places) - 1)
    signs: list[tuple[float, str, _Sign]] = [(0.0, "the line", _start)]
    for mark in corners:
        named = f"of turn {mark.corner}"
        if mark.coached:
            signs.append((mark.brake, f"brakes {named}", _brake))
        signs.append((mark.exit, f"exit {named}", _exit))
        signs.append((mark.apex, f"apex {named}", _apex(mark)))
    for metres, named, sign in signs:
        row = round((metres % screen.length) / step)
        if row in shown:
            (x, y), along = base[row], tangent(base, row)
            yield (
                f'<g transform="translate({svg.px(x)} {svg.px(y)})"><g class="mk">{title(named)}{sign(*along)}</g></g>'
            )


_Sign = Callable[[float, float], str]
"""Draws a sign about 0, 0 for a direction of driving (unit vector); the page keeps its size where it zooms."""


def _start(dx: float, dy: float) -> str:
    wing = [(dx * 15, dy * 15), (dx * 6 - dy * 5, dy * 6 + dx * 5), (dx * 6 + dy * 5, dy * 6 - dx * 5)]
    return line([(-dy * 9, dx * 9), (dy * 9, -dx * 9)], "ink", 3.0) + polygon(wing, "ink")


def _brake(dx: float, dy: float) -> str:
    return line([(-dy * 7, dx * 7), (dy * 7, -dx * 7)], "ink", 2.4)


def _exit(dx: float, dy: float) -> str:
    tip = [(dx * 6, dy * 6), (-dx * 3 - dy * 5, -dy * 3 + dx * 5), (-dx * 3 + dy * 5, -dy * 3 - dx * 5)]
    return polygon(tip, "panel", "ink")


def _apex(mark: CornerMark) -> _Sign:
    side = BESIDE if mark.direction == "left" else -BESIDE

    def sign(dx: float, dy: float) -> str:
        x, y = dy * side, -dx * side
        number = words(x, y + 4, str(mark.corner), "ink", "middle")
        return disc(0.0, 0.0, 2.6, "ink") + disc(x, y, 9.0, "ground", "rule") + number

    return sign


def meanings(scale: float) -> list[tuple[int, str]]:
    """What the strokes mean, by number of `BINS`."""
    much = f"{scale:g}"
    return [
        (4, f"lost over {much} s in 100 m"),
        (3, "lost"),
        (2, "even"),
        (1, "gained"),
        (0, f"gained over {much} s"),
    ]


def held(screen: Screen) -> str:
    """What the laps of a picture are held against, in words, and whether it is drawn."""
    return f"{'dashed' if screen.has_line else 'held against'}: {screen.against}"


def _legend(place: Land, lost: bool) -> Iterator[str]:
    y = place.height + 12.0
    x = SIDE / 2
    yield '<g class="legend">'
    if lost:
        for number, text in meanings(place.screen.scale):
            yield from _stroke([(x, y - 4), (x + 26, y - 4)], number, plain_line=False)
            yield words(x + 32, y, text)
            x += 32 + len(text) * 6.6 + 14
    note = "bar: brakes, dot with number: apex, arrow: exit" + (f"; {held(place.screen)}" if lost else "")
    yield words(SIDE / 2, y + 22, note, "soft")
    yield "</g>"
