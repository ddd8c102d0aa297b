"""Position: two numbers side by side whose path has the speed that is sent."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from feeds.finder.choice import overlap, plainest, thinned
from feeds.finder.columns import Column
from feeds.finder.confirm import ours
from feeds.finder.evidence import Candidate, Evidence, reading
from feeds.finder.fields import Floats
from feeds.finder.signals import alike, ratio, same, slope
from feeds.finder.speed import MOVING, Speed
from feeds.finder.units import units_of

FITS = (0.012, 0.05)
"""Mean and 90th percentile of the path's speed's distance from the sent one, as a share of it (choice)."""
TO_AND_FRO = 0.05
"""Share of a lap in which a coordinate falls, and rises, at least (choice)."""


@dataclass(slots=True)
class Pair:
    speed: Candidate
    x: Candidate
    y: Candidate
    odd: int
    score: float


def pairs_in(evidence: Evidence, speeds: list[Speed]) -> list[Pair]:
    """Every speed with every two places side by side whose path has it."""
    by_place = {
        (c.field.kind, c.field.type.replace("u", "i"), c.field.big, c.field.offset): c
        for c in [*_widened(evidence), *evidence.columns]
    }
    moves: dict[int, Floats | None] = {}

    def velocity(column: Column) -> Floats | None:
        if id(column) not in moves:
            moves[id(column)] = _velocity(evidence, column)
        return moves[id(column)]

    glances = np.array([speed.glance for speed in speeds])
    seen = np.array([speed.smooth[speed.glance] for speed in speeds])
    found = []
    for (kind, type_, big, offset), first in by_place.items():
        if type_ not in ("f32", "f64", "i32"):
            continue
        dx = velocity(first)
        if dx is None:
            continue
        # With y up, the height stands between the two.
        for gap in (1, 2):
            second = by_place.get((kind, type_, big, offset + gap * first.field.width))
            dy = None if second is None else velocity(second)
            if second is None or dy is None:
                continue
            path = np.hypot(dx, dy)
            parts = path[glances] / seen
            middle = np.maximum(np.median(parts, axis=1, keepdims=True), 1e-12)
            off = np.minimum(np.abs(parts / middle - 1.0), 0.2).mean(axis=1)
            for at_ in np.flatnonzero(off <= 3.0 * FITS[0]):
                pair = _pair(first, second, path, speeds[at_])
                if pair is not None:
                    found.append(pair)
    return found


def _widened(evidence: Evidence) -> list[Column]:
    """Columns of 16 bits as the 32 bits they are the lower half of: beside one that needs them, one may not."""
    found = []
    for column in evidence.columns:
        f = column.field
        offset = f.offset - 2 if f.big else f.offset
        if f.type not in ("u16", "i16") or offset < 0 or offset + 4 > evidence.records[f.kind].rows.shape[1]:
            continue
        wide = replace(f, offset=offset, type="i32")
        record = evidence.records[f.kind]
        if np.array_equal(wide.raw(record.rows), f.raw(record.rows)):
            found.append(replace(column, field=wide))
    return found


def _velocity(evidence: Evidence, column: Column) -> Floats | None:
    """The slope; None where the column cannot be a coordinate: it goes to and fro, evenly, and rests with the car."""
    reach = evidence.reach
    moves = slope(column.values, evidence.t, reach)
    drive = moves[evidence.driving]
    if min(float(np.mean(drive > 0.0)), float(np.mean(drive < 0.0))) <= TO_AND_FRO:
        return None
    standing = evidence.standing
    if standing.any() and np.ptp(column.values[standing]) > 0.02 * column.span:
        return None
    bend = np.abs(drive[2 * reach :] - drive[: -2 * reach])
    return moves if np.median(bend) <= 0.5 * np.median(np.abs(drive)) + 1e-12 else None


def _pair(first: Column, second: Column, path: Floats, speed: Speed) -> Pair | None:
    rows = speed.rows
    k, off, worst = ratio(path[rows][::3], speed.smooth[rows][::3])
    if off > FITS[0] or worst > FITS[1]:
        return None
    tied = units_of(speed.column, first, k, "position")
    if tied is None:
        return None
    of_speed, unit = tied
    path_why = "its path has the speed that is sent"
    return Pair(
        reading(
            speed.column, of_speed.per, 0.0, off, of_speed.name, f"slope of the position, within {100 * off:.1f} %"
        ),
        reading(first, unit.per, 0.0, off, unit.name, path_why),
        reading(second, unit.per, 0.0, off, unit.name, path_why),
        of_speed.odd + unit.odd,
        off,
    )


def settled_position(evidence: Evidence, pairs: list[Pair]) -> Pair | None:
    if not pairs:
        for channel in ("x", "y"):
            evidence.left_out[channel] = "no two numbers side by side move as a speed in the packet says"
        return None
    pairs = plainest(pairs, _same)
    kept = thinned([pair.speed for pair in pairs])
    pairs = [pair for pair in pairs if any(pair.speed.column is speed.column for speed in kept)] or pairs
    best = min(pairs, key=lambda pair: (pair.score, pair.x.column.field.width))
    close = [pair for pair in pairs if pair.score <= max(1.6 * best.score, 0.002)]
    if not all(same(best.speed.values, pair.speed.values) for pair in close):
        cars = _one_each(close)
        place = ours(evidence, [pair.speed.values for pair in cars])
        if place is not None:
            close = [pair for pair in close if same(cars[place].speed.values, pair.speed.values)]
            best = min(close, key=lambda pair: (pair.score, pair.x.column.field.width))
    if not all(same(best.speed.values, pair.speed.values) for pair in close):
        for channel in ("x", "y", "speed"):
            evidence.left_out[channel] = "several speeds and positions agree, and nothing tells which are yours"
        return None
    for pair in close:
        if not (_apart(best.x.values, pair.x.values) and _apart(best.y.values, pair.y.values)):
            for channel in ("x", "y"):
                evidence.left_out[channel] = "several positions have the speed that is sent"
            evidence.keep("speed", best.speed, 0.97 - best.score)
            evidence.pace = best.speed.values
            return None
    return best


def _one_each(pairs: list[Pair]) -> list[Pair]:
    """One pair of each speed."""
    kept: list[Pair] = []
    for pair in pairs:
        if not any(same(one.speed.values, pair.speed.values) for one in kept):
            kept.append(pair)
    return kept


def _apart(a: Floats, b: Floats) -> bool:
    """Whether two coordinates are the same but for a constant."""
    return same(a, b + float(np.median(a - b)))


def turn_right(evidence: Evidence, pair: Pair) -> None:
    """Keeps x and y with the axes' handedness: a wheel turned left turns the path left."""
    steer = evidence.found.get("steer")
    if steer is None:
        for channel in ("x", "y"):
            evidence.left_out[channel] = "without the wheel nothing tells a left turn from a right one in its axes"
        return
    turning = path_turning(pair.x.values, pair.y.values, evidence)
    rows = evidence.driving & (pair.speed.values > MOVING * pair.speed.values.max())
    agree = alike(np.clip(turning[rows], -2.0, 2.0), steer.values[rows])
    if abs(agree) < 0.4:
        for channel in ("x", "y"):
            evidence.left_out[channel] = "its path and the wheel do not turn together"
        return
    y = pair.y
    if agree < 0.0:
        y = reading(y.column, -y.scale, 0.0, y.score, y.unit + ", to the right", y.why)
    evidence.keep("x", pair.x, 0.98 - pair.score)
    evidence.keep("y", y, 0.98 - pair.score)


def path_turning(x: Floats, y: Floats, evidence: Evidence) -> Floats:
    """rad/s [n]: how fast the path's direction turns, positive to the left."""
    reach = evidence.reach
    heading = np.unwrap(np.arctan2(slope(y, evidence.t, reach), slope(x, evidence.t, reach)))
    return slope(heading, evidence.t, reach)


def _same(a: Pair, b: Pair) -> bool:
    return overlap(a.x.column, b.x.column) and overlap(a.speed.column, b.speed.column)
