"""Learn: know the circuit. The next stage is earned by whole laps on the road, the same way round each time.

Position comes before speed: novices who were taught speed first drove slower and less safe laps (7.5: Kaufman, Costa
and Kimani 2024).
"""

from __future__ import annotations

from coach.practice.driven import Driven
from coach.practice.point import Point, counted
from coach.practice.tally import Tally
from coach.vocabulary.marks import ACROSS, BRAKE

LAPS = 3
"""Clean laps in a row: once is chance, and a circuit is not known from two (choice)."""
LOOKED_AT = 4
"""Laps whose marks are looked at: of more, some are from before the circuit was known (choice)."""
BRAKES_WITHIN = 6.0
"""m, median over the corners of the standard deviation of the brake point. A recorded driver with a person's scatter
has 4.4 (the project's shared runs), who does not know the corner brakes where it comes into sight (choice)."""
ROAD_WITHIN = 1.0
"""m, the same across the road, where that driver has 0.6 (choice)."""


def asked(driven: Driven) -> list[Point]:
    """What the stage asks, each with its evidence."""
    row = driven.row.count
    points = [Point(row >= LAPS, f"{counted(row, 'clean lap')} in a row, {LAPS} are needed", driven.row.is_early(LAPS))]
    tally = Tally(driven.passes(LOOKED_AT))
    brakes, road = tally.spread(BRAKE), tally.spread(*ACROSS)
    if brakes is not None:
        points.append(Point(brakes <= BRAKES_WITHIN, _within("brake points", brakes, BRAKES_WITHIN)))
    if road is not None:
        points.append(Point(road <= ROAD_WITHIN, _within("apexes and exits", road, ROAD_WITHIN)))
    if brakes is None and road is None and row >= LAPS:
        points.append(Point(True, "no brake point and no line is known yet, so none is asked for"))
    return points


def _within(what: str, spread: float, most: float) -> str:
    return f"{what} lie within {spread:.1f} m from lap to lap, {most:.1f} m at most"
