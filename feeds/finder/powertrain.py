"""Engine speed and gear: in one gear engine speed and road speed keep one ratio."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from feeds.finder.choice import overlap, pick
from feeds.finder.columns import Column
from feeds.finder.evidence import Candidate, Evidence, reading
from feeds.finder.fields import Field, Floats
from feeds.finder.signals import Mask

RPM = 30.0 / np.pi
"""rev/min in one rad/s"""
IDLE, TOP = (450.0, 2500.0), (2500.0, 16_000.0)
"""rev/min between which an engine idles and at which it turns fastest (choice: from a van's to a kart's). Above, it may
as well be a slow engine's in quarters of a rev/min."""
SHARES, NEAR_SHARE = (1000.0, 10_000.0), 0.006
"""Round numbers that a share of the engine's limit ends at, and how near, as a share of them."""
SLOW = 0.12
"""of the greatest speed, below which the clutch may slip (choice)"""
SETTLED = 0.2
"""s around a gear change that are not looked at: clutch, and the engine's inertia (choice)"""
LOOSE = 0.035
"""Median deviation from a gear's ratio, as a share of it (choice: tyres slip 1 to 3 %)"""
FEWEST_IN_GEAR = 20
"""Rows of a gear from which its ratio is looked at (choice)"""
MODES = 9
"""Gears at most"""
GEARED = 0.6
"""Share of the rows within 2 % of one of MODES ratios that tells an engine (choice: noise over a factor of 5
has 0.22)."""
MOST_GEARS = 14
"""Different numbers of a gear"""


ROUND = "move like it up to a round number: a share of the limit, or rev/min; write it in if you know"
NONE = "nothing in the packet moves like it"


@dataclass(slots=True)
class _Match:
    engine: Candidate
    gear: Candidate | None
    loose: float


def find_powertrain(evidence: Evidence) -> None:
    """Finds engine_speed and gear."""
    pace = evidence.pace
    engines = [c for column in evidence.columns if (c := _engine(evidence, column)) is not None]
    # Whole readings of such bytes and shifted ones of them go together.
    shares = [c.column for c in engines if any(abs(c.column.high - full) <= NEAR_SHARE * full for full in SHARES)]
    engines = [c for c in engines if not any(overlap(c.column, share) for share in shares)]
    unsure = f"bytes {shares[0].field.offset} ({shares[0].field.type}) {ROUND}" if shares else NONE
    gears = [c for column in evidence.columns if (c := _gear(evidence, column)) is not None]
    if not engines:
        evidence.left_out["engine_speed"] = unsure
        evidence.left_out["gear"] = "without the engine speed no gear can be confirmed"
        return
    if pace is None:
        _without_speed(evidence, engines)
        return
    rows = evidence.driving & (pace > SLOW * pace.max())
    engines = [c for c in engines if _geared(c.values[rows] / pace[rows]) >= GEARED]
    matches = []
    for engine in engines:
        for gear in gears:
            loose = _agree(evidence, engine.values, gear, pace)
            if loose is not None:
                matches.append(_Match(engine, gear, loose))
    if not matches:
        evidence.left_out["gear"] = "no whole number goes with the ratio of engine speed to road speed"
        for engine in engines:
            share = _geared(engine.values[rows] / pace[rows])
            engine.score = 1.0 - share
        _keep(evidence, "engine_speed", engines, 1.0, 0.9)
        return
    for engine in engines:
        engine.score = min((m.loose for m in matches if m.engine is engine), default=1.0)
    for gear in gears:
        gear.score = min((m.loose for m in matches if m.gear is gear), default=1.0)
    _keep(evidence, "engine_speed", [c for c in engines if c.score < 1.0], LOOSE, 0.98)
    _keep(evidence, "gear", [c for c in gears if c.score < 1.0], LOOSE, 0.98)


def _keep(evidence: Evidence, channel: str, candidates: list[Candidate], floor: float, sure: float) -> None:
    best, why_not = pick(candidates, floor=floor)
    if best is None:
        evidence.left_out[channel] = why_not
    else:
        evidence.keep(channel, best, sure - best.score)


def _without_speed(evidence: Evidence, engines: list[Candidate]) -> None:
    evidence.left_out["gear"] = "without the road speed no gear can be confirmed"
    if not evidence.steps:
        evidence.left_out["engine_speed"] = "without the road speed and the guided steps nothing confirms it"
        return
    _keep(evidence, "engine_speed", engines, np.inf, 0.7)


def _engine(evidence: Evidence, column: Column) -> Candidate | None:
    """A number that could be engine speed: idles, and with the steps rises when the throttle opens in neutral."""
    if column.distinct < 60 or column.low < 0.0 or column.field.type in ("u8", "i8", "u64"):
        return None
    if not TOP[0] / RPM <= column.high <= 2.0 * TOP[1]:
        return None
    low, high = float(np.quantile(column.values, 0.02)), float(np.quantile(column.values, 0.995))
    units = [("rev/min", 1.0)] + ([("rad/s", RPM)] if column.field.type[0] == "f" else [])
    rest = low
    if evidence.steps:
        rest = evidence.rest(column)
    for unit, per in units:
        if not (IDLE[0] <= rest * per <= IDLE[1] or not evidence.steps) or not TOP[0] <= high * per <= TOP[1]:
            continue
        why = "in each gear it keeps one ratio to the road speed"
        if evidence.steps and "rev" in evidence.steps:
            rise = float(np.quantile(column.values[evidence.steps["rev"]], 0.9)) - rest
            if rise < 0.3 * (high - rest):
                continue
            still = evidence.steps["still"]
            if np.quantile(np.abs(column.values[still] - rest), 0.9) > 0.1 * (high - rest):
                continue
            why = "rises with the throttle in neutral, and in each gear keeps one ratio to the road speed"
        return reading(column, per, 0.0, 1.0, unit, why)
    return None


def _geared(ratios: Floats) -> float:
    """Share of the ratios that lie within 2 % of one of a few."""
    logs = np.log(np.maximum(ratios, 1e-9))
    low, high = np.quantile(logs, (0.01, 0.99))
    if high - low < 0.25 or high - low > 4.0:
        return 0.0
    bins = max(int(np.ceil((high - low) / 0.01)), 1)
    counts, _ = np.histogram(logs, bins=bins, range=(low, high))
    taken, total = 0, counts.sum()
    counts = counts.astype(np.int64)
    for _ in range(MODES):
        windows = np.convolve(counts, np.ones(5, dtype=np.int64), "same")
        at = int(np.argmax(windows))
        taken += int(windows[at])
        counts[max(at - 2, 0) : at + 3] = 0
    return float(taken / max(total, 1))


def _gear(evidence: Evidence, column: Column) -> Candidate | None:
    if not column.whole or not 3 <= column.distinct <= MOST_GEARS or column.span > MOST_GEARS:
        return None
    if not evidence.steps:
        return None
    values = column.values
    neutral = evidence.rest(column)
    for name in ("still", "rev", "brake", "clutch", "left", "right"):
        if name in evidence.steps and np.mean(values[evidence.steps[name]] != neutral) > 0.02:
            return None
    if "gears" in evidence.steps:
        tried = values[evidence.steps["gears"]] - neutral
        if tried.max() < 2.0 or np.mean(np.abs(np.diff(tried)) > 1.0) > 0.02:
            return None
    if column.low - neutral < -1.0:
        return None
    if neutral == 0.0 and column.field.type == "u8" and column.high < 128.0:
        # Reverse is then 255, which is -1 in a byte with a sign.
        f = column.field
        column = replace(column, field=Field(f.offset, "i8", f.big, kind=f.kind))
    unit = "gear" if neutral == 0.0 else f"gear, neutral is {neutral:g}"
    return reading(column, 1.0, -neutral, 1.0, unit, "each of its numbers has its own ratio of engine to road speed")


def settled(evidence: Evidence, gear: Floats) -> Mask:
    """Rows that are not near a change of gear."""
    near = max(1, round(SETTLED / max(float(np.median(np.diff(evidence.t))), 1e-3)))
    changes = np.concatenate([[0], (np.diff(gear) != 0.0).astype(np.int64)])
    count = np.cumsum(changes)
    ahead = count[np.minimum(np.arange(len(gear)) + near, len(gear) - 1)]
    behind = count[np.maximum(np.arange(len(gear)) - near, 0)]
    return np.asarray(ahead == behind)


def _drives_in_neutral(evidence: Evidence, engine: Floats, gear: Candidate, speed: Floats) -> bool:
    """Whether what should be neutral has a gear's ratio: the car did not stand in neutral in the step "still"."""
    rows = evidence.driving & (speed > 0.4 * SLOW * speed.max()) & (gear.values == 0.0)
    ratios = engine[rows & settled(evidence, gear.values)] / speed[rows & settled(evidence, gear.values)]
    if len(ratios) < FEWEST_IN_GEAR:
        return False
    return bool(np.median(np.abs(ratios / np.median(ratios) - 1.0)) <= LOOSE)


def _agree(evidence: Evidence, engine: Floats, gear: Candidate, speed: Floats) -> float | None:
    """Weighted median deviation from the gears' ratios; None where they are no gears' ratios."""
    rows = evidence.driving & (speed > SLOW * speed.max()) & settled(evidence, gear.values)
    if rows.sum() < 100:
        return None
    numbers = gear.values[rows]
    ratios = engine[rows] / speed[rows]
    if np.mean(numbers < 1.0) > 0.05 or _drives_in_neutral(evidence, engine, gear, speed):
        return None
    medians, weighted, total = [], 0.0, 0
    for number in np.unique(numbers[numbers >= 1.0]):
        mine = ratios[numbers == number]
        if len(mine) < FEWEST_IN_GEAR:
            continue
        middle = float(np.median(mine))
        off = float(np.median(np.abs(mine / middle - 1.0)))
        medians.append(middle)
        weighted += off * len(mine)
        total += len(mine)
    if len(medians) < 2 or total < 100:
        return None
    if any(b >= 0.97 * a for a, b in pairwise(medians)):
        return None
    loose = weighted / total
    return loose if loose <= LOOSE else None
