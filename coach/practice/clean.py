"""Clean: laps without a fault in a row, and every mark hit. No sentence here holds a lap time or a delta.

Lappi 2018 (7.4: Front Psychol 9:1294, table 2) lists procedures of deliberate practice in racing, among them runs that
ignore lap time. That a driver is consistent before being quick is common practice; how consistent no source says.
"""

from __future__ import annotations

from coach.practice.driven import Driven
from coach.practice.point import Point, counted
from coach.practice.tally import Tallied, Tally
from coach.vocabulary.marks import ACROSS, BRAKE, CALLED, MARKS

LAPS = 5
"""Clean laps in a row (choice)."""
SHARE = 0.8
"""of the marks in those laps that have to be hit (choice)."""
BRAKES_WITHIN = 3.0
"""m, median over the corners of the standard deviation of the brake point. In any five laps of two recorded drivers
(the project's shared runs) the steady one has 1.5 at most, the one with a person's scatter 3.6 at least (choice)."""
ROAD_WITHIN = 0.4
"""m, the same across the road: these two have 0.2 at most and 0.5 at least (choice)."""


def asked(driven: Driven) -> list[Point]:
    """What the stage asks, each with its evidence."""
    row, tally = driven.row.count, Tally(driven.passes(LAPS))
    points = [Point(row >= LAPS, f"{counted(row, 'clean lap')} in a row, {LAPS} are needed", driven.row.is_early(LAPS))]
    if tally.told:
        share = tally.hit / tally.told
        text = f"{tally.hit} of {tally.told} marks hit in the last laps, {100 * SHARE:.0f} % are needed"
        points.append(Point(share >= SHARE, text))
    elif row >= LAPS:
        points.append(Point(True, "where the marks are is not known, so none is asked for"))
    brakes, road = tally.spread(BRAKE), tally.spread(*ACROSS)
    if brakes is not None:
        points.append(
            Point(brakes <= BRAKES_WITHIN, _scatter("brake points", brakes, BRAKES_WITHIN, tally.widest(BRAKE)))
        )
    if road is not None:
        points.append(
            Point(road <= ROAD_WITHIN, _scatter("apexes and exits", road, ROAD_WITHIN, tally.widest(*ACROSS)))
        )
    return points


def scatters(driven: Driven) -> Tallied | None:
    """The mark that scatters most in the last laps; None where that is no more than the stage allows of all."""
    row = Tally(driven.passes(LAPS)).widest(*MARKS)
    if row is None or row.spread is None:
        return None
    return row if row.spread > (BRAKES_WITHIN if row.name == BRAKE else ROAD_WITHIN) else None


def _scatter(what: str, spread: float, most: float, widest: Tallied | None) -> str:
    text = f"{what} scatter by {spread:.1f} m, {most:.1f} m at most"
    if widest is None or widest.spread is None:
        return text
    return f"{text} (most the {CALLED[widest.name]} of turn {widest.corner}, by {widest.spread:.1f} m)"
