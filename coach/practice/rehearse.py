"""Rehearse: the race. Its length in clean laps that stay alike, and fuel that lasts.

The fall-off is the slope of the lap times by the median of all pairs (Theil 1950, Sen 1968, J Am Stat Assoc 63:1379),
which one slow lap does not move.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from statistics import mean, median, stdev

from coach.practice.driven import Driven
from coach.practice.laps import CLEAN, DrivenLap
from coach.practice.point import Point, counted

LAPS, MOST = 10, 20
"""Laps of the stint where the source does not say how many there are, and the most that are asked for: twenty show
how a stint goes (choice)."""
FEWEST = 4
"""Laps with a time before their spread and slope are told (choice)."""
SPREAD = 0.005
"""of the mean lap time, the standard deviation of the stint's: 0.45 s of 90 s (choice)."""
FALLS_OFF = 0.01
"""of the mean lap time that the last lap of the stint may be slower than the first by the slope (choice)."""
HAIR = 1e-9
"""of a lap's fuel, so that as much as is needed is enough."""


def asked(driven: Driven) -> list[Point]:
    """What the stage asks, each with its evidence."""
    needed = LAPS if driven.length is None else min(driven.length, MOST)
    stint = driven.stint()
    done = len(stint)
    points = [Point(done >= needed, f"a stint of {counted(done, 'clean lap')}, {needed} are needed")]
    times = _times(stint)
    if len(times) >= FEWEST:
        middle, wide, slope = mean(times), stdev(times), falls_off(times)
        share = wide / middle
        text = (
            f"lap times scatter by {100 * share:.2f} % (standard deviation, {wide:.2f} s), {100 * SPREAD:.1f} % at most"
        )
        points.append(Point(share <= SPREAD, text))
        lost = slope * (len(times) - 1) / middle
        slower = "quicker" if slope < 0.0 else "slower"
        text = f"each lap is {abs(slope):.2f} s {slower} than the one before, "
        text += f"{100 * FALLS_OFF:.0f} % slower over the stint at most"
        points.append(Point(lost <= FALLS_OFF, text))
    else:
        points.append(Point(False, f"{FEWEST} laps with a time are needed to say how alike they are"))
    fuel = _fuel(driven)
    return points if fuel is None else [*points, fuel]


def steadiness(driven: Driven) -> tuple[bool, bool] | None:
    """Whether the stint's laps are alike, and whether they fall off; None where it is too early to say."""
    times = _times(driven.stint())
    if len(times) < FEWEST:
        return None
    middle = mean(times)
    return stdev(times) / middle <= SPREAD, falls_off(times) * (len(times) - 1) / middle > FALLS_OFF


def falls_off(times: Sequence[float]) -> float:
    """s a lap by which the times grow: the median slope of all pairs; nought of a single one."""
    slopes = [(later - sooner) / (j - i) for (i, sooner), (j, later) in combinations(enumerate(times), 2)]
    return median(slopes) if slopes else 0.0


def _times(stint: Sequence[DrivenLap]) -> list[float]:
    """s of its flying laps; nothing takes no time but in a stream that is broken."""
    return [lap.time for lap in stint if lap.kind == CLEAN and lap.time is not None and lap.time > 0.0]


def _fuel(driven: Driven) -> Point | None:
    used = [lap.fuel for lap in driven.stint() if lap.fuel is not None]
    if not used:
        return None
    a_lap = median(used)
    text = f"{a_lap:.2f} L of fuel a lap"
    left, laps = driven.fuel, driven.laps_left
    if left is None or laps is None:
        return Point(True, text)
    short = laps * a_lap - left
    lasts = short <= HAIR * a_lap
    return Point(lasts, f"{text}, {left:.1f} L for {laps} laps" + (": it lasts" if lasts else f": {short:.1f} L short"))
