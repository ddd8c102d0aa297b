"""What one corner pass of a drive was like, read from the datagrams by code of its own: nothing of the engine's.

Places are m from the line of the pass's lap; they may be negative or beyond the lap's length.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

BRAKED, PRESSED = 0.1, 0.05
"""Pedal: more is a brake that is on; less is a pedal that is off."""
COMMITTED, COMMITTED_FOR = 0.5, 0.3
"""Throttle that is power, and s in whose mean it must be (the first as the contract has it, the second a choice)."""
LIFTED, SURE = 0.3, 0.5
"""Throttle: a lift is less than the first after more than the second."""
FEET = 0.15
"""s that a foot needs from one pedal to another (choice)"""
SHIFTED = 0.5
"""s behind a shift down in which the engine speed is its doing"""
ROLLING = 5.0
"""m/s: slower tells nothing of slip"""
AROUND = 50.0
"""m before the usual brake point and behind the exit over which a pass is timed"""
BEFORE, BEHIND, RECOVERS = 90.0, 60.0, 150.0
"""m before the brake mark from which, and behind the exit to which, a pass is looked at; an off shows up to later"""
TURNING_IN = (80.0, 20.0)
"""m before and behind the bend's beginning where the road on the outside is used"""
COMING_OUT = 40.0
"""m behind the bend's end up to which it is used again"""


@dataclass(frozen=True, slots=True)
class Bend:
    """One corner: `brake`, `turn_in`, `slow`, `exit` in m; `side` +1 is left; `since`, `until` the neighbours' slowest
    place before and brake mark behind."""

    corner: int
    side: int
    brake: float
    turn_in: float
    slow: float
    exit: float
    since: float
    until: float


@dataclass(frozen=True, slots=True)
class Pass:
    """One corner pass. `rolled` is the longest stretch with neither pedal, `rolled_all` all that are no change of feet;
    `off` m by which the centre was beyond an edge for 0.1 s; `seconds` the whole of it."""

    brake: float
    committed: float
    rolled: float
    rolled_all: float
    lifted: float
    lift_at: float
    slowest: float
    entry_gap: float
    apex_gap: float
    exit_gap: float
    downshift: float
    upshift: float
    braking: float
    lock: float
    spin: float
    off: float
    seconds: float


def bends(corners: list[dict[str, Any]], length: float) -> list[Bend]:
    """The corners of a drive, each with what bounds it."""
    out = []
    for i, c in enumerate(corners):
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        since = before["slow"] - (length if i == 0 else 0.0)
        until = after["brake"] + (length if i + 1 == len(corners) else 0.0)
        brake = c["brake"] - (length if c["brake"] > c["slow"] else 0.0)
        out.append(Bend(c["corner"], c["side"], brake, c["turn_in"], c["slow"], c["exit"], since, until))
    return out


class Run:
    """A drive's channels by row. `place` is m since lap 0 began, however many laps ago."""

    def __init__(self, rows: list[dict[str, Any]], length: float, width: float) -> None:
        def channel(read: Callable[[dict[str, Any]], float]) -> Floats:
            return np.array([read(row) for row in rows], dtype=np.float64)

        self.length, self.width = length, width
        self.t = channel(lambda r: r["t"])
        self.lap = channel(lambda r: r["lap"])
        self.place = np.maximum.accumulate(self.lap * length + channel(lambda r: r["lap_distance"]))
        self.throttle, self.brake = channel(lambda r: r["throttle"]), channel(lambda r: r["brake"])
        self.speed, self.ax = channel(lambda r: r["speed"]), channel(lambda r: r["ax"])
        self.turns = channel(lambda r: r["engine_speed"])
        self.gear = _held(channel(lambda r: r["gear"]))
        self.left, self.right = channel(lambda r: r["edge_left"]), channel(lambda r: r["edge_right"])
        self.slide = np.arctan2(channel(lambda r: r["vy"]), np.maximum(channel(lambda r: r["vx"]), 1.0))
        self.half = rows[0]["car_width"] / 2
        wheels = np.array([row["wheel_speed"] for row in rows])
        ground = np.maximum(self.speed, ROLLING)
        self.locking: Floats = 1.0 - wheels.min(axis=1) / ground
        self.spinning: Floats = wheels.max(axis=1) / ground - 1.0

    @property
    def laps(self) -> list[int]:
        """Whole laps, from the first."""
        return list(range(1, int(self.lap[-1])))

    def time(self, place: float) -> float:
        """s at which the car came to `place`."""
        return float(np.interp(place, self.place, self.t))

    def between(self, begins: float, ends: float) -> slice:
        """The rows from one place to another."""
        return slice(int(np.searchsorted(self.place, begins)), int(np.searchsorted(self.place, ends)))

    def measure(self, lap: int, bend: Bend, start: float) -> Pass:
        """The pass of `bend` on lap `lap`; timed about `start` (m), where it is usually braked."""
        zero = lap * self.length
        begins, ends = max(bend.brake - BEFORE, bend.since), bend.exit + BEHIND
        whole = self.between(zero + begins, zero + ends)
        into, out = self.between(zero + begins, zero + bend.slow), self.between(zero + bend.slow, zero + bend.until)
        inside, outside = (self.left, self.right) if bend.side > 0 else (self.right, self.left)
        turning = self.between(
            zero + max(bend.turn_in - TURNING_IN[0], bend.since), zero + bend.turn_in + TURNING_IN[1]
        )
        coming = self.between(zero + bend.slow, zero + bend.exit + COMING_OUT)
        within = self.between(zero + bend.turn_in, zero + bend.exit)
        lifted, lift_at = self._lift(out)
        rolled = self._seconds(whole, (self.throttle < PRESSED) & (self.brake < PRESSED))
        return Pass(
            brake=self._brake_point(into) - zero,
            committed=self._committed(slice(into.stop, out.stop)) - zero,
            rolled=max(rolled, default=0.0),
            rolled_all=sum(s for s in rolled if s > FEET),
            lifted=lifted,
            lift_at=lift_at - zero,
            slowest=float(self.speed[within].min()),
            entry_gap=float(outside[turning].min()) - self.half,
            apex_gap=float(inside[within].min()) - self.half,
            exit_gap=float(outside[coming].min()) - self.half,
            downshift=self._downshift(whole),
            upshift=self._upshift(out),
            braking=self._braking(into),
            lock=_most(self.locking[into], self.brake[into] > BRAKED),
            spin=_most(self.spinning[out], self.throttle[out] > LIFTED),
            off=self._off(self.between(zero + bend.turn_in - AROUND, zero + bend.exit + RECOVERS)),
            seconds=self.time(zero + bend.exit + AROUND) - self.time(zero + start - AROUND),
        )

    def incidents(self, slides: float) -> list[tuple[int, float, float]]:
        """(lap, m, m): from where to where the centre was beyond an edge, or the car slid by more than `slides` rad."""
        gap = np.minimum(self.left, self.right)
        bad = (gap < 0.0) | (np.abs(self.slide) > slides)
        out = []
        for first, last in _stretches(bad):
            lap = int(self.lap[first])
            out.append((lap, float(self.place[first]) - lap * self.length, float(self.place[last]) - lap * self.length))
        return out

    def _brake_point(self, into: slice) -> float:
        """Where the brake comes on for good before the slowest place; NaN where it does not."""
        on = np.flatnonzero(self.brake[into] > BRAKED)
        if not on.size:
            return float("nan")
        i = into.start + int(on[0])
        if on[0] == 0:
            return float(self.place[i])
        share = (BRAKED - self.brake[i - 1]) / (self.brake[i] - self.brake[i - 1])
        return float(self.place[i - 1] + share * (self.place[i] - self.place[i - 1]))

    def _committed(self, out: slice) -> float:
        """Where the throttle is power for good."""
        t, throttle = self.t[out], self.throttle[out]
        for i in np.flatnonzero(throttle > COMMITTED).tolist():
            held = throttle[i : int(np.searchsorted(t, t[i] + COMMITTED_FOR)) + 1]
            if held.mean() > COMMITTED:
                row = out.start + i
                before, now = self.throttle[row - 1], self.throttle[row]
                share = 1.0 if i == 0 or before >= COMMITTED else (COMMITTED - before) / (now - before)
                return float(self.place[row - 1] + share * (self.place[row] - self.place[row - 1]))
        return float("nan")

    def _seconds(self, rows: slice, flags: Flags) -> list[float]:
        """s of each stretch in which `flags` hold."""
        step = float(np.median(np.diff(self.t[rows])))
        return [float(self.t[rows][b] - self.t[rows][a]) + step for a, b in _stretches(flags[rows])]

    def _lift(self, out: slice) -> tuple[float, float]:
        """s of the longest lift after power that is followed by power again, and where it begins."""
        throttle, brake, t = self.throttle[out], self.brake[out], self.t[out]
        sure = np.flatnonzero(throttle > SURE)
        best = (0.0, float("nan"))
        if not sure.size:
            return best
        for first, last in _stretches(throttle < LIFTED):
            braked = bool((brake[first : last + 2] > PRESSED).any())
            if first <= sure[0] or last + 1 >= len(t) or braked:
                continue
            best = max(best, (float(t[last + 1] - t[first]), float(self.place[out][first])))
        return best

    def _downshift(self, rows: slice) -> float:
        """rev/min, the most within half a second behind a shift down."""
        gear, turns, t = self.gear[rows], self.turns[rows], self.t[rows]
        most = 0.0
        for i in (np.flatnonzero(np.diff(gear) < 0) + 1).tolist():
            most = max(most, float(turns[i : int(np.searchsorted(t, t[i] + SHIFTED))].max()))
        return most

    def _upshift(self, rows: slice) -> float:
        """rev/min in the middle of the shifts up; NaN without one."""
        gear, turns = self.gear[rows], self.turns[rows]
        shifts = np.flatnonzero(np.diff(gear) > 0)
        return float(np.median([turns[max(i - 1, 0) : i + 2].max() for i in shifts])) if shifts.size else float("nan")

    def _braking(self, rows: slice) -> float:
        """m/s^2, what the hardest tenth of the braking begins with."""
        braked = -self.ax[rows][self.brake[rows] > BRAKED]
        return float(np.percentile(braked, 90)) if braked.size else float("nan")

    def _off(self, rows: slice) -> float:
        beyond = -np.minimum(self.left[rows], self.right[rows])
        held = max(1, round(0.1 / float(np.median(np.diff(self.t[rows])))))
        least = [float(beyond[i : i + held].min()) for i in range(len(beyond) - held + 1)]
        return max(least, default=0.0)


def usual(passes: Iterable[Pass]) -> Pass:
    """The median of each measure; NaN where most laps have none."""
    passes = list(passes)
    values = {f.name: _median([getattr(p, f.name) for p in passes]) for f in fields(Pass)}
    return Pass(**values)


def _held(gear: Floats) -> Floats:
    """The last gear that was in, where none is."""
    known = np.maximum.accumulate(np.where(gear > 0, np.arange(len(gear)), 0))
    return gear[known]


def _median(values: list[float]) -> float:
    known = [v for v in values if v == v]
    return float(np.median(known)) if 2 * len(known) > len(values) else float("nan")


def _most(values: Floats, where: Flags) -> float:
    return float(values[where].max()) if where.any() else 0.0


def _stretches(flags: Flags) -> list[tuple[int, int]]:
    """(first, last) of each stretch in which the flags hold."""
    edges = np.diff(np.concatenate(([0], flags.astype(np.int8), [0])))
    first, behind = np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist()
    return [(a, b - 1) for a, b in zip(first, behind, strict=True)]
