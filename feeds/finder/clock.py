"""The source's own clock: what rises with the receive time at an even rate."""

from __future__ import annotations

import numpy as np

from feeds.finder.columns import column_of
from feeds.finder.evidence import Candidate, Evidence, nearest, reading
from feeds.finder.fields import CODES, Field

UNITS = {1.0: "s", 1e3: "ms", 1e6: "us"}
"""Counts a second of a clock, and its unit."""
DRIFT = 3e-3
"""Two computers' clocks agree at least so well over a minute (choice: a hundred times a quartz's error)."""
OFF = 0.1
"""s: packets come no later than this behind an even clock, but for a few (choice)."""
AGREES = 0.05
"""s that two kinds of packet may be apart by their clocks, to have the same one (choice: a few frames)"""
SHORT = 0.02
"""of score that 32 bits of microseconds cost: they begin anew after 72 minutes, and are mostly half of 64"""
FRAMES = (19.0, 1010.0)
"""Frames a second of a frame counter."""


def find_clock(evidence: Evidence) -> None:
    """Finds `t`, in other kinds of packet too, and gives the evidence its times; else the receive time stays."""
    candidates = [c for column in evidence.columns if (c := _clock(evidence, column.field)) is not None]
    if len(evidence.received) >= 64:
        candidates += _long(evidence)
    if not candidates:
        evidence.left_out["t"] = "no number rises evenly with time: the receive time has to do"
        return
    ranked = sorted(candidates, key=lambda c: (c.score, c.column.field.width))
    best = ranked[0]
    evidence.keep("t", best, 0.99 - min(best.score, 0.3))
    if best.column.field.kind == 0:
        evidence.t = np.maximum.accumulate(best.values)
    for one in ranked:
        kind = one.column.field.kind
        agrees = float(np.median(np.abs(one.values - best.values))) < AGREES
        if kind != best.column.field.kind and kind not in evidence.clocks and agrees:
            evidence.clocks[kind] = one.place


def _long(evidence: Evidence) -> list[Candidate]:
    """Clocks of 64 bits."""
    found = []
    for kind, record in enumerate(evidence.records):
        for place in range(record.rows.shape[1] - 7):
            for big in (False, True):
                cut = np.ascontiguousarray(record.rows[[0, len(record.rows) // 2, -1], place : place + 8])
                a, b, c = (int(v) for v in cut.view(np.dtype((">" if big else "<") + CODES["u64"]))[:, 0])
                if a < b < c < 2**53:
                    candidate = _clock(evidence, Field(place, "u64", big, kind=kind))
                    if candidate is not None:
                        found.append(candidate)
    return found


def _clock(evidence: Evidence, place: Field) -> Candidate | None:
    record = evidence.records[place.kind]
    raw, received = place.raw(record.rows), record.received
    if not np.isfinite(raw).all() or raw[-1] <= raw[0]:
        return None
    steps = np.diff(raw)
    if np.mean(steps < 0.0) > 0.01 or np.mean(steps > 0.0) < 0.6:
        return None
    third = len(raw) // 3
    rate = float((raw[-third:].mean() - raw[:third].mean()) / (received[-third:].mean() - received[:third].mean()))
    off = raw / rate - received
    off -= np.median(off)
    if np.quantile(np.abs(off), 0.95) > OFF:
        return None
    unit, scale, penalty = "", 0.0, 0.0
    for count, name in UNITS.items():
        if abs(rate / count - 1.0) < DRIFT:
            unit, scale = name, 1.0 / count
    whole = bool(np.all(raw == np.rint(raw)))
    if not unit and whole and FRAMES[0] <= rate <= FRAMES[1]:
        frames = np.round(rate) if abs(rate / np.round(rate) - 1.0) < DRIFT else rate
        unit, scale, penalty = f"frames, {frames:g} a second", 1.0 / float(frames), 0.2
    if not unit:
        return None
    even = np.diff(raw) * scale
    uneven = float(np.median(np.abs(even - np.median(even)))) / max(float(np.median(even)), 1e-9)
    column = column_of(place, raw[nearest(received, evidence.received)])
    if column is None:
        return None
    if unit == "us" and place.width < 8:
        penalty = SHORT
    why = f"rises by {rate:.6g} a second of receive time"
    return reading(column, scale, 0.0, penalty + min(uneven, 0.1) + 0.1 * (place.kind > 0), unit, why)
