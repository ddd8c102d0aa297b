"""Distance along the lap: it grows with the speed and begins anew at one place."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from feeds.finder.choice import overlap, plainest, thinned
from feeds.finder.columns import Column
from feeds.finder.evidence import Candidate, Evidence, reading
from feeds.finder.fields import Floats
from feeds.finder.position import Pair
from feeds.finder.signals import alike, mean_over, ratio, same, slope
from feeds.finder.speed import Rows, Speed, is_wheel
from feeds.finder.units import UNIT_OFF, Unit, length_units, units_of

FITS = (0.06, 0.20)
"""Mean and 90th percentile of the slope's distance from the speed, as a share of it (choice)."""
SHORTEST = 300.0
"""m: the shortest lap that is looked for (choice)."""
LONG = 5
"""times REACH: a distance may count whole metres, so its slope is taken over longer (choice)"""
VARIES = 0.1
"""of its mean by which a speed varies in a lap at least: a counter goes evenly (choice)"""
ALIKE, FEWEST_ROWS = 0.5, 20
"""Least correlation of the speeds of two laps over the distance, and rows of a lap of which that is asked (choice)."""
SHARES, NEAR_SHARE = (100.0, 1000.0, 10_000.0, 65_535.0), 0.004
"""Round numbers at which a share of the lap ends, and how near: without a position that is no length in m (choice)."""
AGAIN = 40.0
"""m: how near to the same place the car comes a lap later (choice: a wide road and a packet or two)."""


@dataclass(slots=True)
class Distance:
    speed: Candidate
    distance: Candidate
    per: float | None
    """m in one of it; None: a share of the lap"""
    wraps: list[int]
    """rows at which it begins anew"""
    odd: int
    score: float
    speed_sure: bool = True
    """False: other speeds fit as well"""


def distances_in(evidence: Evidence, speeds: list[Speed], position: Pair | None) -> list[Distance]:
    reach = LONG * evidence.reach
    standing = evidence.standing
    if position is not None:
        speeds = [speed for speed in speeds if speed.column is position.speed.column]
    elif evidence.pace is not None:
        speeds = [speed for speed in speeds if speed.column is evidence.found["speed"].column]
    long = [mean_over(speed.column.values, evidence.t, reach) for speed in speeds]
    glances = np.array([speed.glance for speed in speeds])
    seen = np.array([smooth[speed.glance] for speed, smooth in zip(speeds, long, strict=True)])
    found = []
    for column in evidence.columns:
        if (
            column.distinct < 100
            or column.field.width == 1
            or column.field.type == "u64"
            or column.low < -0.05 * column.high
        ):
            continue
        values = column.values
        wraps = np.flatnonzero(np.diff(values) < -0.5 * column.span)
        if not 1 <= len(wraps) <= 60:
            continue
        away = np.zeros(len(values), dtype=bool)
        for wrap in wraps:
            away[max(wrap - reach - 1, 0) : wrap + reach + 3] = True
        away[:reach] = away[-reach:] = True
        if away.all():
            continue
        moves = slope(values, evidence.t, reach)
        if np.mean(moves[~away] < -1e-3 * column.span) > 0.01:
            continue
        if (standing & ~away).any() and np.quantile(moves[standing & ~away], 0.9) > 2e-4 * column.span:
            continue
        drive = moves[evidence.driving & ~away]
        if not len(drive) or drive.std() < VARIES * drive.mean():
            continue
        parts = np.where(away[glances], np.nan, moves[glances] / seen)
        parts[np.isnan(parts).all(axis=1), 0] = 0.0
        off_ = np.abs(parts / np.nanmedian(parts, axis=1, keepdims=True) - 1.0)
        hopeful = np.nanmean(np.minimum(off_, 0.2), axis=1) <= 2.0 * FITS[0]
        for i in np.flatnonzero(hopeful):
            speed, smooth = speeds[i], long[i]
            rows = speed.rows & ~away
            if rows.sum() < 100 or alike(moves[rows], smooth[rows]) < 0.9:
                continue
            k, off, worst = ratio(moves[rows][::2], smooth[rows][::2])
            if k > 0.0 and off <= FITS[0] and worst <= FITS[1]:
                one = _along(column, speed, k, off, wraps, position)
                if one is not None:
                    found.append(one)
    return found


def _along(column: Column, speed: Speed, k: float, off: float, wraps: Rows, position: Pair | None) -> Distance | None:
    """A distance with its unit; None where it does not begin anew at one place of a lap."""
    if position is not None:
        x, y = position.x.values, position.y.values
        here = np.hypot(x[wraps + 1] - x[wraps[0] + 1], y[wraps + 1] - y[wraps[0] + 1])
        if here.max() > AGAIN:
            return None
    is_share = column.field.type[0] == "f" and column.high <= 1.02
    if position is None and any(abs(column.high - full) <= NEAR_SHARE * full for full in SHARES):
        is_share = True
    unit: Unit | None = None
    of_speed = Unit("unknown", 1.0, 0)
    if position is not None:
        of_speed = Unit(position.speed.unit, position.speed.scale, 0)
    if not is_share and position is not None:
        per = of_speed.per / k
        unit = next((u for u in length_units(column) if abs(u.per / per - 1.0) < UNIT_OFF["distance"]), None)
        if unit is None:
            return None
    elif not is_share:
        tied = units_of(speed.column, column, k, "distance")
        if tied is None:
            return None
        of_speed, unit = tied
    # Every lap has the same length, but for the first, which may begin anywhere; it begins near 0.
    near = 0.04 * column.span if unit is None else AGAIN / unit.per
    if unit is not None and column.span * unit.per < SHORTEST:
        return None
    ends = column.values[wraps]
    if float(column.values[wraps + 1].max()) > near or (len(ends) > 1 and np.ptp(ends[-2:]) > near):
        return None
    if not _laps_alike(column.values, speed.column.values, wraps):
        return None
    why = f"its slope is the speed within {100 * off:.1f} %, and it begins anew each lap"
    named = unit or Unit("share of the lap", 1.0, 0)
    return Distance(
        reading(speed.column, of_speed.per, 0.0, off, of_speed.name, "the slope of the distance along the lap"),
        reading(column, named.per, 0.0, off, named.name, why),
        None if unit is None else unit.per,
        [int(wrap) + 1 for wrap in wraps],
        named.odd + of_speed.odd,
        off,
    )


def _laps_alike(distance: Floats, pace: Floats, wraps: Rows) -> bool:
    """Whether the car goes as fast at the same distance again; in one sector of a lap it goes unlike in another."""
    grid = np.linspace(0.02, 0.98, 100)
    seen = []
    for begin, end in pairwise(wraps.tolist()):
        along, fast = distance[begin + 1 : end], pace[begin + 1 : end]
        if len(along) > FEWEST_ROWS and along[-1] > along[0]:
            seen.append(np.interp(along[0] + grid * (along[-1] - along[0]), along, fast))
    if len(seen) < 2:
        return True
    return float(np.median([alike(a, b) for a, b in pairwise(seen)])) >= ALIKE


def settled_distance(evidence: Evidence, found: list[Distance], speeds: list[Speed]) -> Distance | None:
    """The distance, and without a position the speed too; wheels' speeds fit a distance nearly as well."""
    if not found:
        evidence.left_out["lap_distance"] = "nothing grows with the speed and begins anew each lap"
        return None
    whole = plainest([d for d in found if d.per is not None] or found, _same)
    kept = thinned([d.distance for d in whole])
    whole = [d for d in whole if any(d.distance.column is one.column for one in kept)] or whole
    best = min(whole, key=lambda d: d.score)
    if not all(same(best.distance.values, d.distance.values) for d in whole):
        evidence.left_out["lap_distance"] = "several numbers grow with the speed and begin anew each lap"
        return None
    if evidence.pace is not None:
        return best
    mine = [d for d in whole if d.distance.column is best.distance.column]
    whole_speeds = thinned([d.speed for d in mine])
    mine = [d for d in mine if any(d.speed.column is one.column for one in whole_speeds)] or mine
    mine = [d for d in mine if not is_wheel(speeds, d.speed.column)] or mine
    first = min(mine, key=lambda d: d.score)
    for other in mine:
        if other.score < 1.15 * first.score and not same(first.speed.values, other.speed.values):
            evidence.left_out["speed"] = "several speeds fit the distance, and nothing tells them apart"
            first.speed_sure = False
    return first


def _same(a: Distance, b: Distance) -> bool:
    return overlap(a.distance.column, b.distance.column) and overlap(a.speed.column, b.speed.column)
