"""Pace: the seconds. The next stage is earned once they are had lap after lap and nothing is being worked on.

How far apart an expert's laps lie no source was found to say (7.13), so the share is a choice.
"""

from __future__ import annotations

from statistics import median

from coach.practice.driven import Driven
from coach.practice.point import Point, counted

LAPS = 5
"""Clean laps whose median counts (choice)."""
WITHIN = 0.01
"""of the own best: 0.9 s of a lap of 90 s (choice)."""


def asked(driven: Driven) -> list[Point]:
    """What the stage asks, each with its evidence."""
    times = driven.times()
    points = [Point(len(times) >= LAPS, f"{counted(len(times), 'clean lap')}, {LAPS} are needed", early=True)]
    best, last = min(times, default=0.0), times[-LAPS:]
    if best > 0.0 and len(times) > 1:  # a lap alone is its own best
        slower = median(last) / best - 1.0
        most = f"{100 * WITHIN:.0f} % at most"
        text = f"the median of the last {len(last)} is {100 * slower:.1f} % slower than the best, {most}"
        points.append(Point(slower <= WITHIN, text))
    topic = driven.topic
    name = "" if topic is None else topic.replace("_", " ")
    points.append(Point(topic is None, "nothing is being worked on" if topic is None else f"{name} is not mended yet"))
    return points
