"""The patchwork lap: the driver's own best passage of each piece of the circuit, joined, with the time it would give.

A piece is a corner with the straight behind it, from a corner's braking to the next one's: what is won on the way in is
often paid for on the way out, so that the best braking of one lap and the best exit of another are no pace that anyone
has shown. The line cuts a piece in two, since laps end there. The time is the sum of the best pieces, the theoretical
best of the trade (Segers, Analysis Techniques for Racecar Data Acquisition, SAE R-408, 2014, from memory).

At a joint the speeds of two laps meet: the speed steps there and is left as it was driven. The line does not step: over
`JOIN` m to each side it goes over from the one lap's to the other's.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from coach.engine.lap import TIME_DIGITS, Floats, GridLap
from coach.engine.ledger import Bounds

JOIN = 40.0
"""m: a change of line by 2 m over twice as much bends by less than 1/500 m, so that no bend is seen in it."""
LINE = ("x", "y", "edge_left", "edge_right")
"""Channels that go over."""
SHORTEST = 1.0
"""m: a shorter piece is rounding."""


class Patchwork:
    """Keeps of the clean laps those that hold a best piece. At most one lap a piece, so it does not grow."""

    def __init__(self) -> None:
        self._laps: list[GridLap] = []

    def add(self, lap: GridLap) -> None:
        """One more clean lap, whole and timed."""
        self._laps.append(lap)

    def join(self, bounds: Sequence[Bounds]) -> GridLap | None:
        """The patchwork with joints at the beginnings of `bounds`; None without a lap.

        Laps that hold no best piece are forgotten: with other bounds one of them might have.
        """
        if not self._laps:
            return None
        base = min(self._laps, key=lambda lap: lap.total)
        cuts = pieces(bounds, base.length)
        best = [min(self._laps, key=lambda lap: _spent(lap, cut, base.length)) for cut in cuts]
        self._laps = [lap for lap in self._laps if any(lap is held for held in best)]
        return _joined(base, cuts, best)


def pieces(bounds: Sequence[Bounds], length: float) -> list[tuple[float, float]]:
    """m from the line: from one corner's braking to the next one's, cut at the line; they cover the lap."""
    cuts = [0.0]
    for place in sorted(b.braking % length for b in bounds):
        if place - cuts[-1] >= SHORTEST and length - place >= SHORTEST:
            cuts.append(place)
    return list(pairwise([*cuts, length]))


def _spent(lap: GridLap, piece: tuple[float, float], length: float) -> float:
    """s that `lap` took for the piece of a lap of `length` m."""
    start, end = (_time(lap, place / length) for place in piece)
    return end - start


def _time(lap: GridLap, part: float) -> float:
    """s at `part` of the way round."""
    place = part * (len(lap.time) - 1)
    index = min(int(place), len(lap.time) - 2)
    low, high = float(lap.time[index]), float(lap.time[index + 1])
    return low + (high - low) * (place - index)


def _joined(base: GridLap, cuts: list[tuple[float, float]], best: list[GridLap]) -> GridLap:
    """On the grid of `base`. Channels that one of the laps lacks are left out."""
    grid = base.distance
    part = grid / base.length
    channels = set.intersection(*({*lap.channels} for lap in best))
    time = np.zeros(len(grid))
    lateral = np.zeros(len(grid))
    columns = {name: np.zeros(len(grid)) for name in base.channels if name in channels}
    begun = 0.0
    for (start, end), lap in zip(cuts, best, strict=True):
        here = (grid >= start) & (grid <= end)
        at = part[here]
        own = lap.distance / lap.length
        time[here] = begun + np.interp(at, own, lap.time) - _time(lap, start / base.length)
        lateral[here] = np.interp(at, own, lap.lateral)
        for name, column in columns.items():
            column[here] = _read(lap, name, at, own)
        begun += _spent(lap, (start, end), base.length)
    time = np.round(time, TIME_DIGITS)
    time[0] = 0.0
    joined = GridLap(base.number, base.length, time, lateral, columns, base.track, base.car)
    for (start, middle), (_, end), before, behind in zip(cuts, cuts[1:], best, best[1:], strict=False):
        if before is not behind:
            _go_over(joined, before, behind, middle, min(JOIN, 0.5 * (middle - start), 0.5 * (end - middle)))
    return joined


def _read(lap: GridLap, name: str, at: Floats, own: Floats) -> Floats:
    """A channel at parts of the way round; gears change from place to place and have nothing in between."""
    column = lap.channels[name]
    if name != "gear":
        return np.interp(at, own, column)
    return column[np.clip(np.searchsorted(own, at - 1e-9), 0, len(column) - 1)]


def _go_over(joined: GridLap, before: GridLap, behind: GridLap, place: float, reach: float) -> None:
    """Leads the line from the one lap's to the other's within `reach` m of the joint at `place` m."""
    grid = joined.distance
    near = np.abs(grid - place) < reach
    way = (grid[near] - place + reach) / (2.0 * reach)
    share = way * way * (3.0 - 2.0 * way)  # begins and ends without a kink
    at = grid[near] / joined.length
    for name in LINE:
        if name in joined.channels:
            a = _read(before, name, at, before.distance / before.length)
            b = _read(behind, name, at, behind.distance / behind.length)
            joined.channels[name][near] = (1.0 - share) * a + share * b
