"""Speed, pedals, gear and delta against distance, as a still picture of some laps. SVG text, sizes in px."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from coach.debrief.drawing import across, begun, line, upright, words
from coach.debrief.numerals import ticks
from coach.debrief.strips import Screen, Strip
from coach.debrief.tones import LINES
from coach.engine.lap import Floats
from coach.vocabulary.events import CornerMark
from coach.vocabulary.laptime import lap_time

WIDTH = 760.0
LEFT, RIGHT, TOP, BOTTOM, BETWEEN = 84.0, 14.0, 50.0, 50.0, 14.0
"""px around the fields and between two."""
DASHES = ("", "7 4", "2 3", "9 3 2 3")
"""Strokes of laps beside each other."""


@dataclass(frozen=True, slots=True)
class Field:
    """One of the four fields: its name with the unit, its height (px), and what it shows of a lap."""

    name: str
    height: float
    columns: tuple[str, ...]


FIELDS = (
    Field("speed km/h", 150.0, ("speed",)),
    Field("pedals %", 90.0, ("throttle", "brake")),
    Field("gear", 56.0, ("gear",)),
    Field("delta s", 110.0, ("delta",)),
)


def column_of(strip: Strip, name: str) -> Floats | None:
    """A channel as it is drawn: brakes point down."""
    column: Floats | None = getattr(strip, name)
    return -column if name == "brake" and column is not None else column


def draw_channels(screen: Screen, shown: Sequence[int], corners: Iterable[CornerMark]) -> str:
    """The laps `shown` (places in `screen.strips`) on top of each other."""
    strips = [screen.strips[index] for index in shown]
    height = TOP + sum(field.height + BETWEEN for field in FIELDS) + BOTTOM
    parts = [*begun(WIDTH, height), *_legend(screen, shown), *_corners(screen, corners, height)]
    top = TOP
    for field in FIELDS:
        parts += _field(field, screen, strips, top)
        top += field.height + BETWEEN
    parts += _distance(screen, height)
    parts.append(words(LEFT, height - 8.0, f"delta: to {screen.against}", "soft"))
    return "\n".join([*parts, "</svg>"])


def role(screen: Screen, index: int) -> str:
    """`, the best`, `, the middle one` or nothing."""
    if index == screen.best:
        return ", the best"
    return ", the middle one" if index == screen.middle else ""


def _look(number: int) -> tuple[str, str]:
    """Tone and dashes of the lap that is drawn as `number`, from 0."""
    return LINES[number % len(LINES)], DASHES[number % len(DASHES)]


def _legend(screen: Screen, shown: Sequence[int]) -> Iterator[str]:
    x = LEFT
    for number, index in enumerate(shown):
        lap = screen.strips[index].lap
        text = f"lap {lap.number} {lap_time(lap.time)}{role(screen, index)}"
        tone, dash = _look(number)
        yield across(x, x + 30, 14.0, tone, 2.0, dash)
        yield words(x + 36, 18.0, text)
        x += 36 + 7.0 * len(text) + 16


def _x(screen: Screen, place: float) -> float:
    return LEFT + place / screen.length * (WIDTH - LEFT - RIGHT)


def _corners(screen: Screen, corners: Iterable[CornerMark], height: float) -> Iterator[str]:
    last = -100.0
    for mark in sorted(corners, key=lambda mark: mark.apex):
        x = _x(screen, mark.apex % screen.length)
        yield upright(x, TOP - 6, height - BOTTOM - BETWEEN)
        if x - last >= 16.0:
            yield words(x, TOP - 10, str(mark.corner), "soft", "middle")
            last = x


def _field(field: Field, screen: Screen, strips: Sequence[Strip], top: float) -> Iterator[str]:
    columns = [column_of(strip, name) for strip in strips for name in field.columns]
    known = [column for column in columns if column is not None]
    low, high = _range(field, known)
    bottom = top + field.height

    def y(value: float) -> float:
        return bottom - (value - low) / (high - low) * field.height

    for number, part in enumerate(field.name.split()):
        yield words(6.0, top + 11 + 14 * number, part, "soft" if number else "ink")
    for tick in _ticks(field, low, high):
        yield across(LEFT, WIDTH - RIGHT, y(tick))
        shown = f"{tick:+.3g}" if field.columns == ("delta",) and tick else f"{tick:.4g}"
        yield words(LEFT - 6, y(tick) + 4, shown, "soft", "end", 10.0)
    if not known:
        yield words(LEFT + 8, top + field.height / 2, "not sent", "soft")
    xs = [_x(screen, float(place)) for place in screen.places]
    for number, strip in enumerate(strips):
        tone, dash = _look(number)
        for name in field.columns:
            column = column_of(strip, name)
            if column is not None:
                yield line([(x, y(value)) for x, value in zip(xs, column.tolist(), strict=True)], tone, 1.5, dash)


def _range(field: Field, known: Sequence[Floats]) -> tuple[float, float]:
    if field.columns[0] == "throttle":
        return -105.0, 105.0
    if not known:
        return 0.0, 1.0
    low, high = min(float(column.min()) for column in known), max(float(column.max()) for column in known)
    if field.columns[0] == "delta":
        low, high = min(low, 0.0), max(high, 0.0)
    spare = max(0.06 * (high - low), 0.02)
    return low - spare, high + spare


def _ticks(field: Field, low: float, high: float) -> list[float]:
    if field.columns[0] == "throttle":
        return [-100.0, 0.0, 100.0]
    return [tick for tick in ticks(low, high, 4) if field.columns[0] != "gear" or tick == round(tick)]


def _distance(screen: Screen, height: float) -> Iterator[str]:
    for place in ticks(0.0, screen.length, 8):
        text = f"{place:.0f} m" if place == 0.0 else f"{place:.0f}"
        yield words(_x(screen, place), height - BOTTOM + 14.0, text, "soft", "middle", 10.0)
