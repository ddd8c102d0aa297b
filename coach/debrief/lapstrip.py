"""The lap times of a session, one beside the other. SVG text, sizes in px."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median, quantiles

from coach.debrief.drawing import across, begun, block, disc, polygon, square, title, words
from coach.debrief.numerals import ticks
from coach.review.model import KeptLap
from coach.vocabulary.laptime import lap_time

WIDTH, HEIGHT = 760.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 74.0, 16.0, 34.0, 34.0
"""px around the field."""
OVER = 0.5
"""of the clean laps' span above the slowest of them that is shown; what is slower stands at the upper edge."""
LEAST_SPAN = 0.2
"""s that the field shows at least."""


def draw_laps(laps: Sequence[KeptLap]) -> str:
    """A dot for each lap with a time: full where it was clean, a hollow square where not; best, median, middle half."""
    timed = [(lap, lap.time) for lap in laps if lap.time is not None]
    clean = [time for lap, time in timed if lap.clean]
    scaled = clean or [time for _, time in timed]
    parts = [*begun(WIDTH, HEIGHT), *_legend(bool(clean))]
    if scaled:
        low = min(scaled)
        span = max(max(scaled) - low, LEAST_SPAN)
        low, high = low - 0.08 * span, low + (1.0 + OVER) * span
        parts += _field(timed, clean, low, high)
    return "\n".join([*parts, "</svg>"])


def _legend(clean: bool) -> Iterator[str]:
    yield disc(80.0, 16.0, 4.5, "accent")
    yield words(90.0, 20.0, "clean")
    yield square(144.0, 16.0, 8.0, "panel", "lost1")
    yield words(154.0, 20.0, "not clean")
    if clean:
        yield across(226.0, 250.0, 16.0, "ink", 1.6)
        yield words(256.0, 20.0, "best")
        yield across(300.0, 324.0, 16.0, "ink", 1.6, "5 3")
        yield words(330.0, 20.0, "median; the band holds the middle half")


def _field(timed: Sequence[tuple[KeptLap, float]], clean: Sequence[float], low: float, high: float) -> Iterator[str]:
    def y(time: float) -> float:
        return TOP + (high - min(max(time, low), high)) / (high - low) * (HEIGHT - TOP - BOTTOM)

    wide, end = WIDTH - LEFT - RIGHT, WIDTH - RIGHT
    if len(clean) > 1:
        quarter, _, three = quantiles(clean, n=4, method="inclusive")
        yield block(LEFT, y(three), wide, max(y(quarter) - y(three), 1.0), "tint-gained1")
    for tick in ticks(low, high, 5):
        yield across(LEFT, end, y(tick))
        yield words(LEFT - 8, y(tick) + 4, lap_time(tick), "soft", "end")
    if clean:
        yield across(LEFT, end, y(min(clean)), "ink", 1.6)
        yield across(LEFT, end, y(median(clean)), "ink", 1.6, "5 3")
    every = max(1, -(-len(timed) // 20))
    for number, (lap, time) in enumerate(timed):
        x = LEFT + wide * (number + 0.5) / len(timed)
        yield _lap(lap, time, x, y(time), time > high)
        if number % every == 0:
            yield words(x, HEIGHT - 12, str(lap.number), "soft", "middle")
    yield words(LEFT - 8, HEIGHT - 12, "lap", "soft", "end")


def _lap(lap: KeptLap, time: float, x: float, y: float, beyond: bool) -> str:
    named = title(f"lap {lap.number}: {lap_time(time)}{'' if lap.clean else ', not clean'}")
    if beyond:
        return polygon([(x, y - 6), (x + 5, y + 3), (x - 5, y + 3)], "panel", "lost1", named)
    if lap.clean:
        return disc(x, y, 4.5, "accent", inside=named)
    return square(x, y, 8.0, "panel", "lost1", named)
