"""Pedals and wheel: what moves in the step in which a person moves it, and rests in the others."""

from __future__ import annotations

import numpy as np

from feeds.finder.choice import WRITE_IN, at, first_of, overlap, pick, thinned
from feeds.finder.columns import Column
from feeds.finder.evidence import Candidate, Evidence, reading
from feeds.finder.fields import Floats
from feeds.finder.signals import Mask

QUIET = 0.03
"""of the travel: what a pedal at rest, or a hand on the wheel, still moves (choice)"""
FULL = 0.97
"""of the travel that a full press reaches (choice: a pedal's calibration)"""
_FLOAT = (1.0, 100.0, 255.0)
_WIDE = (65535.0, 1000.0, 10000.0, 100.0, 255.0)
FULL_VALUES = {
    **{"f32": _FLOAT, "f64": _FLOAT, "u32": _WIDE, "i32": _WIDE},
    **{"u8": (255.0, 100.0, 200.0, 250.0, 127.0), "i8": (127.0, 100.0)},
    **{"u16": (*_WIDE, 1023.0, 4095.0, 32767.0), "i16": (32767.0, 1000.0, 10000.0, 100.0, 255.0)},
}
"""What sources send for a pedal that is fully pressed (common practice: the greatest number of a type, or a share)."""
NEAR_FULL = 0.006
"""of it"""
LOOSE, NEAR_LOOSE = {("f32", 1.0), ("f64", 1.0), ("u16", 65535.0)}, 0.03
"""Ranges that no other is near to: there a pedal may rest a little pressed, or not reach its stop (choice)."""
OFF_CENTRE = 0.2
"""of its travel that a wheel's number may be off 0 at the centre, in a float (choice)"""
WIDEST = 65_535.0
"""The widest range that is named as a pedal's; wider ones are other numbers' bytes (choice)."""
MOST_WAY = 7.0
"""times its travel that a pedal goes when it is pressed twice (choice): a byte of a number goes to and fro far more"""
FEWEST_VALUES = 8
"""Different numbers of a pedal; a light has two (choice)."""

ONLY_STEPS = 'only the guided steps tell a pedal or the wheel from what follows it: do them, with "still" and "drive"'
MOVES = {"throttle": "rev", "brake": "brake", "clutch": "clutch"}
RESTS = {
    "throttle": ("still", "brake", "clutch", "left", "right"),
    "brake": ("still", "rev", "clutch", "left", "right"),
    "clutch": ("still", "rev", "brake", "left", "right"),
}


def find_controls(evidence: Evidence) -> None:
    """Finds throttle, brake, clutch and steer; nothing of them without the guided steps."""
    if not evidence.steps:
        for channel in (*MOVES, "steer"):
            evidence.left_out[channel] = ONLY_STEPS
        return
    for channel, step in MOVES.items():
        if step not in evidence.steps:
            evidence.left_out[channel] = f'the step "{step}" was not done'
            continue
        candidates = [c for column in evidence.columns if (c := _pedal(evidence, column, channel)) is not None]
        _settle(evidence, channel, candidates)
        if not candidates:
            _say_unscaled(evidence, channel)
    if "left" in evidence.steps and "right" in evidence.steps:
        candidates = [c for column in evidence.columns if (c := _wheel(evidence, column)) is not None]
        _settle_wheel(evidence, candidates)
    else:
        evidence.left_out["steer"] = 'the steps "left" and "right" were not done'


def _settle(evidence: Evidence, channel: str, candidates: list[Candidate]) -> None:
    best, why_not = pick(candidates, floor=np.inf)
    if best is None:
        evidence.left_out[channel] = why_not
    else:
        evidence.keep(channel, best, 0.98 - best.score)


def _say_unscaled(evidence: Evidence, channel: str) -> None:
    """Names the number that is pressed and released in the step, but over a range that no pedal is known to have."""
    floats = [column for column in evidence.columns if column.field.type[0] == "f"]
    like = [
        (column, pressed)
        for column in evidence.columns
        if (pressed := _pressed(evidence, column, channel)) is not None
        and abs(pressed[0]) <= QUIET * abs(pressed[1]) <= QUIET * WIDEST
        and (column.field.type[0] == "f" or not any(overlap(column, one) for one in floats))
    ]
    if like:
        column, (rest, travel, _) = min(like, key=lambda one: one[0].rough)
        f = column.field
        evidence.left_out[channel] = (
            f"bytes {f.offset} ({f.type}) move like it, from {rest:.4g} to {rest + travel:.4g}: write it in with "
            "scale and bias for 0 to 1 if you know it to be the pedal"
        )


def _moved(values: Floats, rows: Mask, rest: float) -> float:
    """How far from rest, but for a few rows."""
    return float(np.quantile(np.abs(values[rows] - rest), 0.98))


def _pedal(evidence: Evidence, column: Column, channel: str) -> Candidate | None:
    pressed = _pressed(evidence, column, channel)
    if pressed is None:
        return None
    rest, travel, noise = pressed
    low, high = (rest, rest + travel) if travel > 0.0 else (rest + travel, rest)
    full = _round(column, low, high)
    if full is None:
        return None
    scale, bias = (1.0 / full, 0.0) if travel > 0.0 else (-1.0 / full, 1.0)
    unit = f"0..{full:g}" + ("" if travel > 0.0 else ", pressed at 0")
    why = f'moves over its whole travel in the step "{MOVES[channel]}" and rests in the other steps'
    return reading(column, scale, bias, noise / abs(travel), unit, why)


def _pressed(evidence: Evidence, column: Column, channel: str) -> tuple[float, float, float] | None:
    """(rest, travel, greatest move in the other steps) of what is pressed in the channel's step and only there."""
    if column.distinct < FEWEST_VALUES or column.field.type == "u64":
        return None
    rest = evidence.rest(column)
    travel = column.high - rest if column.high - rest >= rest - column.low else column.low - rest
    if abs(travel) < FULL * column.span:
        return None
    step = evidence.steps[MOVES[channel]]
    if _moved(column.values, step, rest) < FULL * abs(travel):
        return None
    noise = 0.0
    for name in RESTS[channel]:
        if name in evidence.steps:
            noise = max(noise, _moved(column.values, evidence.steps[name], rest))
    if noise > QUIET * abs(travel):
        return None
    if not 1.8 <= _way(column.values[step]) / abs(travel) <= MOST_WAY:
        return None
    pressed = np.mean(np.abs(column.values[step] - rest) >= 0.5 * abs(travel))
    return (rest, travel, noise) if 0.05 <= pressed <= 0.9 else None


def _round(column: Column, low: float, high: float) -> float | None:
    """What the source sends for fully pressed, if the column runs from 0 to such a number."""
    for full in FULL_VALUES[column.field.type]:
        near = full * (NEAR_LOOSE if (column.field.type, full) in LOOSE else NEAR_FULL)
        if abs(high - full) <= near and abs(low) <= near:
            return full
    return None


def _wheel(evidence: Evidence, column: Column) -> Candidate | None:
    if column.distinct < FEWEST_VALUES or column.field.type == "u64":
        return None
    rest = evidence.rest(column)
    left, right = (column.values[evidence.steps[name]] - rest for name in ("left", "right"))
    if float(left.mean()) * float(right.mean()) >= 0.0:
        return None
    way_left, way_right = _furthest(left), _furthest(right)
    if way_left * way_right >= 0.0:
        return None
    less, more = sorted((abs(way_left), abs(way_right)))
    if less < 0.8 * more or more < 0.4 * column.span:
        return None
    if column.field.type[0] == "f" and abs(rest) > OFF_CENTRE * more:
        return None
    for aside, way in ((left, way_left), (right, way_right)):
        if np.quantile(-aside * np.sign(way), 0.95) > QUIET * more:
            return None
    if max(_way(left), _way(right)) > MOST_WAY * more:
        return None
    noise = max(
        _moved(column.values, evidence.steps[name], rest)
        for name in ("still", "rev", "brake", "clutch")
        if name in evidence.steps
    )
    if noise > QUIET * more:
        return None
    centre = 0.0 if abs(rest) <= 0.02 * more else rest
    size = 1.0
    unit = "share of the lock, or rad"
    if column.field.type[0] != "f":
        size, unit = 1.0 / more, f"whole numbers, {more:g} at the lock"
    elif more > 15.0:
        size, unit = float(np.pi / 180.0), "degrees"
    scale = size * (1.0 if way_left > 0.0 else -1.0)
    why = 'goes one way in the step "left", as far the other way in "right", and rests in the other steps'
    return reading(column, scale, -centre * scale, noise / more + 0.1 * (1.0 - less / more), unit, why)


def _way(values: Floats) -> float:
    """The whole way it went, to and fro."""
    return float(np.abs(np.diff(values)).sum())


def _furthest(values: Floats) -> float:
    low, high = np.quantile(values, (0.02, 0.98))
    return float(high if high >= -low else low)


def _settle_wheel(evidence: Evidence, candidates: list[Candidate]) -> None:
    """Any constant ratio is right for the wheel, so readings are compared by their lock."""
    if not candidates:
        evidence.left_out["steer"] = "nothing in the packet moves like it"
        return
    ranked = sorted(thinned(candidates), key=lambda c: (round(c.score, 3), c.column.rough))
    best, rival = first_of(ranked, [c.values / float(np.abs(c.values).max()) for c in ranked])
    if rival is not None:
        evidence.left_out["steer"] = f"bytes {at(best)} and {at(rival)} both look like it and differ{WRITE_IN}"
        return
    evidence.keep("steer", best, 0.98 - best.score)
