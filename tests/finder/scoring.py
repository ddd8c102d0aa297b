"""Whether what was found is what is there: decoded values beside the true ones of each row."""

from __future__ import annotations

import math

import numpy as np

from feeds.base import Datagram
from feeds.finder import Proposal
from tests.finder.columns import Columns, Floats

EIGHT = ("speed", "engine_speed", "gear", "throttle", "brake", "steer", "place", "lap")
"""The channels that the issue asks for; place: x with y, or lap_distance."""
NEAR = 0.01
"""of the channel's range: what counts as right (the brief's)"""
ROWS = 0.985
"""share of the rows that must be near (choice: a frame's rounding at a jump of the signal costs a row or two)"""


def near(values: Floats, true: Floats) -> bool:
    """Within 1 % of the range."""
    span = float(true.max() - true.min())
    if span == 0.0:
        span = max(abs(float(true[0])), 1e-9)
    return float(np.mean(np.abs(values - true) <= NEAR * span + 1e-9)) >= ROWS


def judged(proposal: Proposal, packets: list[Datagram], rows: list[int], columns: Columns) -> dict[str, bool]:
    """channel: right? of what was found."""
    of_kind = [
        [i for i, p in enumerate(packets) if len(p.data) == kind.length and all(p.data[o] == v for o, v in kind.marks)]
        for kind in proposal.kinds
    ]
    values, truth = {}, {}
    for channel, place in proposal.fields.items():
        chosen = of_kind[place.kind]
        matrix = np.array([np.frombuffer(packets[i].data, dtype=np.uint8) for i in chosen])
        values[channel] = place.read(matrix)
        truth[channel] = columns[channel][np.array(rows)[chosen]]
    out = {}
    for channel, found in values.items():
        true = truth[channel]
        if channel == "t":
            out[channel] = near(found - np.median(found - true), true)
        elif channel == "steer":
            ratio = float(found @ true / max(float(found @ found), 1e-12))
            out[channel] = ratio > 0.0 and near(ratio * found, true)
        elif channel in ("x", "y"):
            continue
        elif channel == "yaw":
            turn = np.angle(np.exp(1j * (found - true)))
            shift = np.angle(np.mean(np.exp(1j * turn)))
            off = np.abs(np.angle(np.exp(1j * (turn - shift))))
            out[channel] = bool(np.mean(off <= NEAR * math.tau) >= ROWS)
        else:
            out[channel] = near(found, true)
    if "x" in values and "y" in values:
        out["x+y"] = same_path(values["x"], values["y"], truth["x"], truth["y"])
    elif "x" in values or "y" in values:
        out["x+y"] = False
    return out


def same_path(x: Floats, y: Floats, true_x: Floats, true_y: Floats) -> bool:
    """The same but for a rotation and a shift; not mirrored, not scaled."""
    found, true = x + 1j * y, true_x + 1j * true_y
    found, true = found - found.mean(), true - true.mean()
    turn = np.vdot(found, true)
    turn /= max(abs(turn), 1e-12)
    span = max(np.ptp(true_x), np.ptp(true_y))
    return bool(np.mean(np.abs(found * turn - true) <= NEAR * span) >= ROWS)
