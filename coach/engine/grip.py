"""What the car has shown that it can do: the accelerations reached on whole laps, as limits by speed.

Along the road acceleration is read from the speed's own change, since a sent `ax` may hold gravity and jumps on kerbs;
across it is path curvature times speed squared. Both are means over `WINDOW`, so that one row is nothing. A limit is
not the greatest value, but one that a fifth of the corners, braking zones or ways out reach: a car in a draught, on a
slope or in a banked bend shows more than it has elsewhere.

Beside cornering what is left to brake and drive with is (ax / ax_max)^e + (ay / ay_max)^e = 1. With e = 2 it is the
friction ellipse: with ay at 0.8 of its limit ax has 0.6 of its own (checked in the tests; Milliken & Milliken, Race Car
Vehicle Dynamics, SAE R-146, 1995, ch. 9, from memory). A whole car keeps to less, since its wheels do not reach their
limits together, and most drivers too: e is read from how braking and turning were mixed, between 1 and 2.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from coach.engine.curvature import path_curvature
from coach.engine.lap import Floats, GridLap

WINDOW = 0.2
"""s to each side over which accelerations are meant: a kerb's shock is shorter, a braking zone longer."""
LOOKS = 9
"""Values in that time of which the median is taken."""
LAPS = 5
"""Laps that count; older ones are forgotten, as fuel, tyres and driver change."""
SHOWN = 0.8
"""The quantile of what was shown that is taken for the limit (choice)."""
BEND = 1 / 500
"""1/m: what is straighter is no bend (as on the circuit's map)."""
APART = 1.3
"""Speeds of which the greater is this much the smaller, and more, tell how a limit grows with speed; a lazy corner
is slower by less than a fifth (choice)."""
SHORTEST = 0.3
"""s: a bend, a braking zone or a way out that is shorter shows nothing."""
BRAKES = 2.0
"""m/s^2: more than an engine and the air slow a car, at most speeds (choice)."""
PULLS = 0.3
"""m/s^2: what pulls less does not show what the engine can do."""
STRAIGHT_SHARE, MIXED_SHARE = 0.3, 0.85
"""of the limit across: below the first the ellipse leaves 95 % and more along, so that the limit along can be read;
between the two it is seen how the two mix; beyond the second what is left is small against the noise."""
DIAMOND, ELLIPSE = 1.0, 2.0
"""The exponents between which tyres and drivers mix the two."""
HALVINGS = 20
"""of that range in which an exponent is found: to 1e-6."""
BRAKE_BIN, PULL_BIN = 5.0, 3.0
"""m/s of speed that count as one."""
TOUCHED, FLOORED = 0.05, 0.9
"""Pedal, the throttle's of its most: on at all; fully on."""
PART, MORE = 0.15, 1.1
"""Throttle from which on its part of the pull can be told; how much more than was pulled full throttle must promise to
be believed."""
COASTS = 0.5
"""m/s^2 that a car slows without pedals where none was seen to (choice)."""
SOME = 3
"""Times of rolling free that make a median worth having."""
FASTEST = 130
"""m/s: as far as the limits are laid out, every 1 m/s; a source that sends more has stumbled."""
TIGHTEST = 1.0
"""1/m: no car turns tighter than round itself."""


@dataclass(frozen=True, slots=True)
class Envelope:
    """Limits in m/s^2 at 0, 1, ... `FASTEST` m/s, each of shape (FASTEST + 1,), all positive.

    `lateral`: the tyres, sideways; `braking`: under brakes; `traction`: the tyres, under power; `pull`: the most
    that was seen under power; `full`: what full throttle would give, which is more where the wheels would spin.
    `exponent`: of the mixing; `coasting`: how much the car slows with neither pedal.
    """

    lateral: Floats
    braking: Floats
    traction: Floats
    pull: Floats
    full: Floats
    exponent: float = ELLIPSE
    coasting: float = COASTS


def even(lateral: float, braking: float, pull: float) -> Envelope:
    """An envelope of the same limits (m/s^2) at every speed."""
    flat = np.ones(FASTEST + 1)
    return Envelope(lateral * flat, braking * flat, braking * flat, pull * flat, pull * flat)


@dataclass(frozen=True, slots=True)
class Forces:
    """One lap's motion on its grid: `speed` m/s, `along` and `across` m/s^2 (across is absolute), `curvature` 1/m."""

    time: Floats
    speed: Floats
    along: Floats
    across: Floats
    curvature: Floats
    throttle: Floats | None
    brake: Floats | None


def forces(lap: GridLap) -> Forces | None:
    """What the car did on `lap`; None where neither path, yaw rate nor lateral acceleration tells how it turned."""
    curvature = path_curvature(_without_shocks(lap))
    if curvature is None:
        return None
    curvature = np.nan_to_num(np.clip(curvature, -TIGHTEST, TIGHTEST))
    speed = np.clip(_speed(lap), 0.0, float(FASTEST))
    time = lap.time
    before, after = np.maximum(time - WINDOW, time[0]), np.minimum(time + WINDOW, time[-1])
    along = (np.interp(after, time, speed) - np.interp(before, time, speed)) / np.maximum(after - before, 1e-6)
    pull = np.abs(curvature) * speed * speed
    area = np.concatenate([[0.0], np.cumsum(0.5 * (pull[1:] + pull[:-1]) * np.diff(time))])
    across = (np.interp(after, time, area) - np.interp(before, time, area)) / np.maximum(after - before, 1e-6)
    return Forces(time, speed, along, across, curvature, lap.get("throttle"), lap.get("brake"))


def _without_shocks(lap: GridLap) -> GridLap:
    """Turning read from a sensor jumps on kerbs, for a row at a time: the median over `WINDOW` to each side has none
    of it. A path does not jump."""
    if lap.get("x") is not None and lap.get("y") is not None:
        return lap
    channels = dict(lap.channels)
    for name in ("yaw_rate", "ay"):
        if name in channels:
            looks = [
                np.interp(lap.time + ahead, lap.time, channels[name]) for ahead in np.linspace(-WINDOW, WINDOW, LOOKS)
            ]
            channels[name] = np.median(looks, axis=0)
    return replace(lap, channels=channels)


def _speed(lap: GridLap) -> Floats:
    sent = lap.get("speed")
    return np.gradient(lap.distance, lap.time) if sent is None else sent


@dataclass(frozen=True, slots=True)
class _Shown:
    """Pairs of speed (m/s) and acceleration (m/s^2) that one lap adds; shapes (2, n)."""

    lateral: Floats
    forces: Forces


class GripShown:
    """Collects laps and reads the limits from them."""

    def __init__(self) -> None:
        self._laps: deque[_Shown] = deque(maxlen=LAPS)

    def add(self, lap: GridLap) -> None:
        """One more whole lap; one that does not tell how the car turned shows nothing."""
        seen = forces(lap)
        if seen is not None:
            self.take(seen)

    def take(self, seen: Forces) -> None:
        """One more whole lap whose motion is known already."""
        self._laps.append(_Shown(corner_peaks(seen), seen))

    def envelope(self) -> Envelope | None:
        """The limits; None before anything was shown of bends and of power."""
        peaks = np.concatenate([lap.lateral for lap in self._laps], axis=1) if self._laps else np.empty((2, 0))
        if peaks.shape[1] == 0:
            return None
        lateral = _over(*upper(peaks))
        braking = self._braking(lateral)
        pull = self._pull()
        if pull is None:
            return None
        mixing = self._mixing(lateral, braking)
        traction = self._traction(lateral, braking, mixing)
        coasting = self._coasting(lateral)
        return Envelope(lateral, braking, traction, pull, self._full(pull, coasting), mixing, coasting)

    def _braking(self, lateral: Floats) -> Floats:
        """Of each braking zone the mean in each 5 m/s. Tyres are tyres: where no zone was seen, what they hold
        sideways."""
        points = []
        for lap in self._laps:
            f = lap.forces
            points += _binned(f, _brakes(f) & (_share(f, lateral) < STRAIGHT_SHARE), -f.along, BRAKE_BIN)
        return lateral if not points else _over(*upper(_shown_by_speed(points, BRAKE_BIN), 0.5))

    def _mixing(self, lateral: Floats, braking: Floats) -> float:
        """The exponent that the best place of each way in needs; an ellipse where nobody brakes into a bend."""
        needed = []
        for lap in self._laps:
            f = lap.forces
            across = _share(f, lateral)
            along = np.clip(-f.along / _at(braking, f.speed), 0.0, 0.999)
            mixed = _brakes(f) & (across > STRAIGHT_SHARE) & (across < MIXED_SHARE)
            needs = np.full(len(mixed), DIAMOND)
            needs[mixed] = exponent(along[mixed], across[mixed])
            needed += [float(needs[a:b].max()) for a, b in _runs(f, mixed)]
        return float(np.quantile(needed, SHOWN)) if needed else ELLIPSE

    def _pull(self) -> Floats | None:
        """By speed, over the ways out on which it was asked for in full. A faster car than was seen pulls less, by as
        much as the pull fell before."""
        points = []
        for lap in self._laps:
            f = lap.forces
            on = f.along > PULLS
            if f.throttle is not None and float(f.throttle.max()) > TOUCHED:
                on &= f.throttle >= FLOORED * float(f.throttle.max())
            points += _binned(f, on, f.along, PULL_BIN)
        if not points:
            return None
        at, shown = _shown_by_speed(points, PULL_BIN)
        grid = np.arange(FASTEST + 1.0)
        limits: Floats = np.interp(grid, at, shown)
        beyond = grid > at[-1]
        half = len(at) // 2
        if half > 0:
            slope = min(0.0, float((shown[-1] - shown[half - 1]) / (at[-1] - at[half - 1])))
            limits[beyond] = np.maximum(0.0, shown[-1] + slope * (grid[beyond] - at[-1]))
        return limits

    def _full(self, pull: Floats, coasting: float) -> Floats:
        """Read from throttle part open, as if pull rose evenly with it."""
        points = []
        for lap in self._laps:
            f = lap.forces
            if f.throttle is not None and float(f.throttle.max()) > TOUCHED:
                opened = f.throttle / float(f.throttle.max())
                part = (f.along > PULLS) & (opened > PART) & (opened < FLOORED)
                points += _binned(f, part, (f.along + coasting) / np.maximum(opened, PART) - coasting, PULL_BIN)
        if not points:
            return pull
        at, shown = _shown_by_speed(points, PULL_BIN, 0.5)
        guessed = np.interp(np.arange(FASTEST + 1.0), at, shown, right=0.0)
        return np.where(guessed > MORE * pull, guessed, pull)

    def _traction(self, lateral: Floats, braking: Floats, mixing: float) -> Floats:
        """The share of what the tyres brake with that was shown under power, beside cornering or not."""
        shares = []
        for lap in self._laps:
            f = lap.forces
            across = _share(f, lateral)
            on = (f.along > PULLS) & (across < MIXED_SHARE)
            left = (1.0 - np.minimum(across, MIXED_SHARE) ** mixing) ** (1.0 / mixing)
            used = f.along / (_at(braking, f.speed) * left)
            shares += [float(used[a:b].max()) for a, b in _runs(f, on)]
        share = min(1.0, float(np.quantile(shares, SHOWN))) if shares else 1.0
        return share * braking

    def _coasting(self, lateral: Floats) -> float:
        slowed: list[float] = []
        for lap in self._laps:
            f = lap.forces
            if f.throttle is not None and f.brake is not None:
                free = (f.throttle < TOUCHED) & (f.brake < TOUCHED) & (_share(f, lateral) < STRAIGHT_SHARE)
                slowed += [-float(np.median(f.along[a:b])) for a, b in _runs(f, free)]
        return max(0.0, float(np.median(slowed))) if len(slowed) >= SOME else COASTS


def corner_peaks(f: Forces) -> Floats:
    """Speed and acceleration across where each bend pulled most, shape (2, bends)."""
    peaks = []
    for sign in (1.0, -1.0):
        for a, b in _runs(f, sign * f.curvature > BEND):
            most = a + int(f.across[a:b].argmax())
            peaks.append((f.speed[most], f.across[most]))
    return np.array(peaks).T if peaks else np.empty((2, 0))


def exponent(along: Floats, across: Floats) -> Floats:
    """e with along^e + across^e = 1, at least `DIAMOND` and at most `ELLIPSE`; shares of the limits, 0 to below 1.

    0.6 and 0.8 need 2; 0.5 and 0.5 need 1.
    """
    low, high = np.full(along.shape, DIAMOND), np.full(along.shape, ELLIPSE)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        over = along**middle + across**middle > 1.0  # outside this one: it takes a rounder one
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    found: Floats = 0.5 * (low + high)
    return found


def upper(points: Floats, share: float = SHOWN) -> tuple[float, float, float, float]:
    """The line a + b v^2, b >= 0, that a `share` of the points (speed, acceleration; shape (2, n)) lies under.

    Returns a, b and the least and greatest speed. The tyres' own grip and the drag and downforce that grow with the
    square of speed are of this form. It is the quantile regression's line, found by trying those through each point and
    each two points: the best one is always among them (Koenker & Bassett 1978, from memory). Two points of nearly one
    speed make no line: who was slow in a corner had less of both there, which is no downforce.
    """
    v, a = points
    square = v * v
    rise = np.subtract.outer(a, a)
    run = np.subtract.outer(square, square)
    slopes = np.divide(
        rise, run, out=np.zeros_like(rise), where=np.maximum.outer(v, v) > APART * np.minimum.outer(v, v)
    )
    one, other = np.nonzero(np.triu(slopes > 0.0))
    b = np.concatenate([np.zeros(len(v)), slopes[one, other]])
    base = np.concatenate([a, a[one] - slopes[one, other] * square[one]])
    over = a[None, :] - base[:, None] - b[:, None] * square[None, :]
    cost = np.where(over > 0.0, share * over, (share - 1.0) * over).sum(axis=1)
    best = int(cost.argmin())
    return float(base[best]), float(b[best]), float(v.min()), float(v.max())


def _over(base: float, rise: float, least: float, most: float) -> Floats:
    """The limit by speed; outside the speeds that were seen it is what it was at the nearest of them."""
    speed = np.clip(np.arange(FASTEST + 1.0), least, most)
    limit: Floats = np.maximum(base + rise * speed * speed, PULLS)
    return limit


def _at(limit: Floats, speed: Floats) -> Floats:
    at: Floats = np.interp(speed, np.arange(FASTEST + 1.0), limit)
    return at


def _share(f: Forces, lateral: Floats) -> Floats:
    """How much of the limit across is used, at most just under 1."""
    share: Floats = np.minimum(f.across / _at(lateral, f.speed), 0.999)
    return share


def _brakes(f: Forces) -> NDArray[np.bool_]:
    on: NDArray[np.bool_] = f.along < -BRAKES
    return on if f.brake is None else on & (f.brake > TOUCHED)


def _runs(f: Forces, on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Stretches of the lap where `on` holds for `SHORTEST` s or more, as half-open ranges."""
    return [(a, b) for a, b in stretches(on) if f.time[b - 1] - f.time[a] >= SHORTEST]


def stretches(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where `on`, shape (n,), holds, as half-open ranges of places."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _binned(f: Forces, on: NDArray[np.bool_], value: Floats, width: float) -> list[tuple[float, float]]:
    """Of each run the mean speed and value in each `width` m/s of speed, weighted by time."""
    bins = int(FASTEST / width) + 2
    kind = np.minimum(f.speed / width, bins - 1.0).astype(np.intp)
    runs = np.full(len(f.time), -1)
    for number, (a, b) in enumerate(_runs(f, on)):
        runs[a:b] = number
    here = np.flatnonzero(runs >= 0)
    if len(here) == 0:
        return []
    which, weight = runs[here] * bins + kind[here], np.gradient(f.time)[here]
    total = np.bincount(which, weight)
    some = total > 0.0
    speed = np.bincount(which, weight * f.speed[here])[some] / total[some]
    mean = np.bincount(which, weight * value[here])[some] / total[some]
    return list(zip(speed.tolist(), mean.tolist(), strict=True))


def _shown_by_speed(points: list[tuple[float, float]], width: float, share: float = SHOWN) -> Floats:
    """The points (speed, value) of each `width` m/s as one: their mean speed and their quantile `share`, (2, n)."""
    speed, value = np.array(points).T
    kind = np.floor(speed / width)
    kinds = np.unique(kind)
    return np.array([[speed[kind == k].mean() for k in kinds], [np.quantile(value[kind == k], share) for k in kinds]])
