"""Yaw, yaw rate and accelerations: what the path and the speed say of them."""

from __future__ import annotations

import numpy as np

from feeds.finder.choice import pick
from feeds.finder.evidence import Candidate, Evidence, reading
from feeds.finder.fields import Floats
from feeds.finder.position import path_turning
from feeds.finder.signals import alike, mean_over, slope

GRAVITY = 9.80665
"""m/s^2 (NIST SP 811, standard value)"""
ANGLES = {"rad": 1.0, "degrees": np.pi / 180.0}
PULLS = {"m/s^2": 1.0, "g": GRAVITY}
FAST = 8.0
"""m/s above which a path's direction is sure"""
BEHIND = 0.2
"""s: what fits better when it is moved by so much is more than half of that late (choice)"""
BESIDE = 0.06
"""rad: median angle between car and path in a lap; more is no car that keeps the road (choice)"""


def find_body(evidence: Evidence) -> None:
    """Finds yaw, yaw_rate, ax and ay, where speed and position are known."""
    speed, x, y = (evidence.found.get(name) for name in ("speed", "x", "y"))
    if speed is None:
        return
    reach = evidence.reach
    rows = evidence.driving & (speed.values > FAST)
    rows[: 3 * reach] = rows[-3 * reach :] = False
    if rows.sum() < 300:
        return
    _match(evidence, "ax", slope(speed.values, evidence.t, reach), rows, PULLS, "the change of the speed", 0.12)
    if x is None or y is None:
        for channel in ("yaw", "yaw_rate", "ay"):
            evidence.left_out[channel] = "without x and y nothing tells it"
        return
    heading = np.arctan2(slope(y.values, evidence.t, reach), slope(x.values, evidence.t, reach))
    turning = path_turning(x.values, y.values, evidence)
    _yaw(evidence, heading, rows)
    _match(evidence, "yaw_rate", turning, rows, ANGLES, "how fast the path turns", 0.08)
    _match(evidence, "ay", speed.values * turning, rows, PULLS, "speed times how fast the path turns", 0.10)


def _match(
    evidence: Evidence, channel: str, truth: Floats, rows: np.ndarray, units: dict[str, float], what: str, near: float
) -> None:
    """Columns that are `truth` in one of the units, either sign."""
    reach = evidence.reach
    true = mean_over(truth, evidence.t, reach)[rows]
    found: list[Candidate] = []
    for column in evidence.columns:
        if column.distinct < 200 or column.low >= 0.0 or column.high <= 0.0 or column.field.type == "u64":
            continue
        if abs(alike(column.values[rows], truth[rows])) < 0.7:
            continue
        twice = mean_over(mean_over(column.values, evidence.t, reach), evidence.t, reach)[rows]
        fit = alike(twice, true)
        if abs(fit) < 0.95:
            continue
        if _late(evidence, twice, true, abs(fit)):
            continue
        size = float(true @ twice / (twice @ twice))
        for unit, per in units.items():
            if abs(abs(size) / per - 1.0) <= near:
                sign = float(np.sign(size))
                side = "" if sign > 0.0 else ", the other way round"
                found.append(reading(column, sign * per, 0.0, 1.0 - abs(fit), unit + side, f"it is {what}"))
    best, why_not = pick(found, margin=3.0, floor=0.01)
    if best is None:
        evidence.left_out[channel] = why_not
    else:
        evidence.keep(channel, best, 0.97 - best.score)


def _late(evidence: Evidence, values: Floats, true: Floats, fit: float) -> bool:
    """Whether it fits better some time later: it is smoothed, or another car's."""
    step = max(1, round(BEHIND / max(float(np.median(np.diff(evidence.t))), 1e-3)))
    return abs(alike(values[step:], true[:-step])) > fit


def _yaw(evidence: Evidence, heading: Floats, rows: np.ndarray) -> None:
    found = []
    for column in evidence.columns:
        if column.distinct < 200 or column.field.type in ("u8", "i8", "u64"):
            continue
        for unit, per in ANGLES.items():
            if not 0.3 * np.pi <= column.span * per <= 4.2 * np.pi:
                continue
            for sign in (1.0, -1.0):
                turn = np.exp(1j * (sign * per * column.values[rows] - heading[rows]))
                middle = complex(np.mean(turn))
                if abs(middle) < 0.97:
                    continue
                off = np.angle(turn / middle)
                beside = float(np.median(np.abs(off)))
                if beside > BESIDE:
                    continue
                bias = -float(np.angle(middle))
                quarter = np.pi / 2.0 * round(bias / (np.pi / 2.0))
                bias = quarter if abs(bias - quarter) < 0.02 else bias
                why = "the direction of the path, but for the angle at which a car slides"
                side = "" if sign > 0.0 else ", to the right"
                found.append(reading(column, sign * per, bias, beside, unit + side, why))
    for candidate in found:
        candidate.values = np.unwrap(candidate.values)
    best, why_not = pick(found, floor=np.inf)
    if best is None:
        evidence.left_out["yaw"] = why_not
    else:
        evidence.keep("yaw", best, 0.95 - best.score)
