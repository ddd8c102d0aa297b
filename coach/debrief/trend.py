"""A few lines over the sessions of a week: best, median and how far apart the laps were. SVG text, sizes in px."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.debrief.drawing import across, begun, block, disc, line, words
from coach.debrief.numerals import plain, share, ticks
from coach.review.results import Day
from coach.vocabulary.laptime import lap_time

WIDTH = 760.0
LEFT, RIGHT = 74.0, 20.0
TIMES, SPREADS, SHARES = (36.0, 166.0), (180.0, 240.0), (254.0, 314.0)
"""px: top and bottom of the fields of lap times, of their spread, and of the clean share."""
HEIGHT = 342.0


def draw_trend(days: Sequence[Day]) -> str:
    """Best (full line, dots) and median (dashed, rings); under them bars of the spread and of the clean share."""
    spreads = [day.steadiness.spread for day in days]
    shares = [day.steadiness.share for day in days]
    most = max((spread for spread in spreads if spread is not None), default=0.0)
    parts = [
        *begun(WIDTH, HEIGHT),
        *_legend(),
        *_times(days),
        *_bars(days, SPREADS, ("spread", "s"), [(s, plain(s, 2)) for s in spreads], most, "line3"),
        *_bars(days, SHARES, ("clean", "share"), [(part, share(part)) for part in shares], 1.0, "accent"),
        *_labels(days),
        "</svg>",
    ]
    return "\n".join(parts)


def _x(days: Sequence[Day], number: int) -> float:
    return LEFT + (WIDTH - LEFT - RIGHT) * (number + 0.5) / len(days)


def _legend() -> Iterator[str]:
    yield across(80.0, 104.0, 16.0, "line1", 2.0)
    yield disc(92.0, 16.0, 4.0, "line1")
    yield words(110.0, 20.0, "best")
    yield across(160.0, 184.0, 16.0, "line2", 2.0, "6 4")
    yield disc(172.0, 16.0, 4.0, "panel", "line2")
    yield words(190.0, 20.0, "median of the clean laps")


def _times(days: Sequence[Day]) -> Iterator[str]:
    top, bottom = TIMES
    bests = [day.steadiness.best for day in days]
    middles = [day.steadiness.median for day in days]
    known = [time for time in (*bests, *middles) if time is not None]
    if not known:
        yield words(LEFT, 100.0, "no clean lap yet", "soft")
        return
    low, high = min(known), max(known)
    spare = max(0.08 * (high - low), 0.05)
    low, high = low - spare, high + spare

    def y(time: float) -> float:
        return bottom - (min(max(time, low), high) - low) / (high - low) * (bottom - top)

    for tick in ticks(low, high, 4):
        yield across(LEFT, WIDTH - RIGHT, y(tick))
        yield words(LEFT - 8, y(tick) + 4, lap_time(tick), "soft", "end")
    for times, tone, dash in ((bests, "line1", ""), (middles, "line2", "6 4")):
        points = [(_x(days, number), y(time)) for number, time in enumerate(times) if time is not None]
        if len(points) > 1:
            yield line(points, tone, 2.0, dash)
        for x, at in points:
            yield disc(x, at, 4.5, "panel", tone) if dash else disc(x, at, 4.5, tone)


def _bars(
    days: Sequence[Day],
    field: tuple[float, float],
    name: tuple[str, str],
    values: Sequence[tuple[float | None, str]],
    most: float,
    tone: str,
) -> Iterator[str]:
    top, bottom = field
    yield across(LEFT, WIDTH - RIGHT, bottom, "soft")
    yield words(LEFT - 8, bottom - 22, name[0], "soft", "end")
    yield words(LEFT - 8, bottom - 8, name[1], "soft", "end")
    for number, (value, shown) in enumerate(values):
        if value is not None:
            height = max(value / most * (bottom - top - 16.0), 1.0) if most > 0.0 else 1.0
            x = _x(days, number)
            yield block(x - 9, bottom - height, 18.0, height, tone)
            yield words(x, bottom - height - 4, shown, "ink", "middle")


def _labels(days: Sequence[Day]) -> Iterator[str]:
    """The sessions by number, as the tables beside have them."""
    every = max(1, -(-len(days) // 8))
    yield words(LEFT - 8, HEIGHT - 10, "session", "soft", "end")
    for number in range(len(days)):
        if number % every == 0:
            yield words(_x(days, number), HEIGHT - 10, str(number + 1), "soft", "middle")
