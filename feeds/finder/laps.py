"""The lap counter and the lap's clocks: they change where the lap begins anew."""

from __future__ import annotations

import numpy as np

from feeds.finder.choice import overlap, thinned
from feeds.finder.columns import Column
from feeds.finder.distance import AGAIN
from feeds.finder.evidence import Candidate, Evidence, reading
from feeds.finder.fields import WIDTH, Floats
from feeds.finder.speed import Rows

NEAR_LINE = 0.25
"""s between the line and what changes there: a few packets (choice)."""
SHORTEST_LAP = 10.0
"""s (choice: 300 m at 30 m/s)."""
LATE = 1.0
"""s behind the line at which a lap's time may be sent (choice)."""
RUNS_FOR, FEWEST_ROWS, OFF = 4.0, 20, 0.06
"""s before and behind its new begin in which a lap's clock is held against the time, the fewest rows of that, and s
that it may be off, of which the packets' jitter is most (choice)."""
RESET = 0.05
"""of its span by which a clock falls where it begins anew (choice: it may have run for minutes before the drive)"""
MOST_LAPS = 1000
CLOCKS = {"s": 1.0, "ms": 0.001}
"""s in one of it."""


def find_laps(evidence: Evidence, wraps: list[int]) -> None:
    """Finds lap_time, last_lap_time and lap; `wraps` are the rows at which the distance begins anew."""
    running = _lap_time(evidence, wraps)
    lines, sure = sorted(wraps), bool(wraps)
    if running is not None:
        candidate, resets = running
        evidence.keep("lap_time", candidate, 0.95)
        # The lap's clock may run on over the first line.
        lines = lines or resets
    _lap(evidence, lines, sure)
    _last_lap_time(evidence, running[0] if running is not None else None, lines)


def _lap_time(evidence: Evidence, wraps: list[int]) -> tuple[Candidate, list[int]] | None:
    found: list[tuple[Candidate, list[int]]] = []
    t = evidence.t
    for column in evidence.columns:
        if column.distinct < 150 or column.field.width < 4 or column.field.type == "u64":
            continue
        steps = np.diff(column.values)
        resets = np.flatnonzero(steps < -RESET * column.span)
        if not 1 <= len(resets) <= 60:
            continue
        unit = next((u for u, per in CLOCKS.items() if _runs(evidence, column, per, resets)), None)
        if unit is None:
            continue
        per = CLOCKS[unit]
        if (column.values[resets + 1] * per).max() > NEAR_LINE:
            continue
        if wraps and not all(min(abs(t[r + 1] - t[w]) for w in wraps) <= NEAR_LINE for r in resets):
            continue
        if not wraps and not _a_lap_apart(evidence, resets + 1):
            continue
        why = "rises by 1 s a second and begins anew at the line"
        found.append((reading(column, per, 0.0, 0.0, unit, why), [int(r) + 1 for r in resets]))
    if not found:
        evidence.left_out["lap_time"] = "no clock begins anew at the line"
        return None
    kept = thinned([f[0] for f in found])
    best = next(f for f in found if f[0] is kept[0])
    found = [f for f in found if any(f[0] is one for one in kept)]
    if any(np.abs(best[0].values - f[0].values).max() > 0.1 for f in found):
        evidence.left_out["lap_time"] = "several clocks begin anew"
        return None
    return best


def _runs(evidence: Evidence, column: Column, per: float, resets: Rows) -> bool:
    """Whether it runs with time before and after each reset."""
    if per != 1.0 and column.field.type[0] == "f":
        return False
    values, t = column.values * per, evidence.t
    for reset in resets:
        before = (t >= t[reset] - RUNS_FOR) & (np.arange(len(t)) <= reset)
        after = (t <= t[reset + 1] + RUNS_FOR) & (np.arange(len(t)) > reset)
        for rows in (before, after):
            if rows.sum() < FEWEST_ROWS:
                return False
            off = values[rows] - t[rows]
            if np.quantile(np.abs(off - np.median(off)), 0.97) > OFF:
                return False
    return True


def _last_lap_time(evidence: Evidence, running: Candidate | None, lines: list[int]) -> None:
    if len(lines) < 2 and (running is None or not lines):
        evidence.left_out["last_lap_time"] = "no whole lap with a line at both ends was seen"
        return
    t, found = evidence.t, []
    ended = float(running.values[lines[-1] - 1]) if running is not None else float(t[lines[-1]] - t[lines[-2]])
    for column in evidence.columns:
        if column.distinct > len(lines) + 1 or column.field.type in ("u8", "i8", "u16", "i16", "u64"):
            continue
        changes = np.flatnonzero(np.diff(column.values) != 0.0) + 1
        if not len(changes) or not all(min(abs(t[c] - t[line]) for line in lines) <= LATE for c in changes):
            continue
        if abs(t[changes[-1]] - t[lines[-1]]) > LATE:
            continue
        for unit, per in CLOCKS.items():
            if ended > 10.0 and abs(column.values[-1] * per - ended) < 0.1:
                found.append(reading(column, per, 0.0, 0.0, unit, "takes the lap's time at the line"))
    if not found:
        evidence.left_out["last_lap_time"] = "nothing takes the lap's time at the line"
        return
    best = min(found, key=lambda f: (f.column.field.type[0] != "f", f.column.field.width))
    if any(np.abs(best.values - f.values).max() > 0.2 for f in found):
        evidence.left_out["last_lap_time"] = "several numbers take the lap's time at the line and differ"
        return
    evidence.keep("last_lap_time", best, 0.85)


def _lap(evidence: Evidence, lines: list[int], sure: bool) -> None:
    t = evidence.t
    chosen: list[tuple[Column, list[int]]] = []
    for column in sorted(evidence.columns, key=lambda c: WIDTH[c.field.type]):
        if not column.whole or column.distinct > 60 or column.low < 0.0 or column.high > MOST_LAPS:
            continue
        steps = np.diff(column.values)
        changes = np.flatnonzero(steps) + 1
        if not np.all(steps[changes - 1] == 1.0) or not evidence.driving[changes].all():
            continue
        if not _at_line(evidence, lines, sure, changes):
            continue
        one = (column, changes.tolist())
        rivals = [other for other in chosen if overlap(other[0], column)]
        if all(_better(*one, *rival) for rival in rivals):
            chosen = [other for other in chosen if not overlap(other[0], column)] + [one]
    if not chosen:
        evidence.left_out["lap"] = "no whole number goes up by one at the line, and only there"
        return
    found = chosen
    most = max(len(changes) for _, changes in found)
    best = [column for column, changes in found if len(changes) == most]
    # Laps started and laps done go up together: the started ones are more.
    best = [column for column in best if not _digit(column)]
    top = max((column.high for column in best), default=0.0)
    if not best or top - min(column.high for column in best) > 1.0 or _elsewhere(t, chosen, most):
        evidence.left_out["lap"] = "several numbers count laps and differ, or it is a digit of a text"
        return
    best = [column for column in best if column.high == top]
    at_all = most >= sum(1 for line in lines if line < len(t) - 5)
    why = "goes up by one where the lap begins anew, and only there"
    if len(lines) < 1 and most < 2:
        evidence.left_out["lap"] = "it was seen to change once only: drive on over the line once more"
        return
    kept = reading(min(best, key=lambda c: c.field.width), 1.0, 0.0, 0.0, "laps started", why)
    evidence.keep("lap", kept, 0.95 if at_all else 0.8)


def _digit(column: Column) -> bool:
    """Whether it is a digit in a text: "2" is the byte 50."""
    return column.field.width == 1 and ord("0") <= column.low and column.high <= ord("9")


def _elsewhere(t: Floats, counters: list[tuple[Column, list[int]]], most: int) -> bool:
    """Whether one of the counters changes where none of the one with most changes does: it is another car's."""
    line = next(changes for _, changes in counters if len(changes) == most)
    return any(min(abs(t[c] - t[at]) for at in line) > NEAR_LINE for _, changes in counters for c in changes)


def _better(column: Column, changes: list[int], rival: Column, rivals: list[int]) -> bool:
    """Of two readings of the same bytes: the one that counts more lines, then the one that counts from less."""
    return (len(changes), -column.low) > (len(rivals), -rival.low)


def _at_line(evidence: Evidence, lines: list[int], sure: bool, changes: Rows) -> bool:
    """Whether all changes are at the line, which may have been crossed before the first of `lines` unless `sure`."""
    t = evidence.t
    if not len(changes):
        return False
    if lines:
        there = [min(abs(t[change] - t[line]) for line in lines) <= NEAR_LINE for change in changes]
        if not there[-1] or abs(t[changes[-1]] - t[lines[-1]]) > NEAR_LINE or (sure and not all(there)):
            return False
        if sure:
            return True
    if evidence.path is None or (len(changes) < 2 and not lines):
        return False
    return _a_lap_apart(evidence, changes)


def _a_lap_apart(evidence: Evidence, rows: Rows) -> bool:
    """Whether the car is at one place in these rows, a lap apart; a sector's clock begins anew elsewhere too."""
    if evidence.path is None:
        return False
    x, y = evidence.path
    way = np.hypot(x[rows] - x[rows[0]], y[rows] - y[rows[0]])
    return bool(way.max() <= AGAIN and (len(rows) < 2 or np.diff(evidence.t[rows]).min() > SHORTEST_LAP))
