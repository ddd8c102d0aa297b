"""Where on a lap there is room to speak: the stretches on which the reference is quiet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from coach.planner import rules
from coach.vocabulary.trace import LapTrace


@dataclass(frozen=True, slots=True)
class Stretch:
    """A quiet stretch. `start` m from the line; `end` m, greater than start, past the length where it wraps."""

    index: int
    start: float
    end: float


class Windows:
    """The quiet stretches of one lap.

    Quiet is: throttle at least 80 %, brake at most 5 %, lateral acceleration under `bound` (m/s^2, None where the lap
    has none to speak of). A dip of the throttle alone, no longer than a gear change, ends no stretch. A lap that is
    quiet all the way round is cut in two, so that every stretch has an end.
    """

    def __init__(self, trace: LapTrace) -> None:
        self.trace = trace
        self.length = trace.length
        self.bound = _bound(trace.lateral)
        quickest = min(later - sooner for sooner, later in pairwise(trace.time))
        self._far = rules.SIGHT * trace.step / quickest if quickest > 0 else trace.length
        cells = _bridge(_quiet_cells(trace, self.bound), _hard_cells(trace, self.bound), trace.time)
        self.stretches = _stretches(cells, trace.length, trace.step)
        self._owner: list[Stretch | None] = [None] * len(cells)
        for stretch in self.stretches:
            first, last = round(stretch.start / trace.step), round(stretch.end / trace.step)
            for cell in range(first, last):
                self._owner[cell % len(cells)] = stretch

    def at(self, distance: float) -> Stretch | None:
        """The stretch at `distance` (m from the line, any lap), None where the reference is busy."""
        cell = int(distance % self.length / self.trace.step)
        return self._owner[min(cell, len(self._owner) - 1)]

    def seconds(self, here: float, there: float) -> float:
        """s that the reference took from `here` on to the next `there` (m from the line, any lap)."""
        took = self.trace.at(self.trace.time, there) - self.trace.at(self.trace.time, here)
        return took if took >= 0 else took + self.lap_time

    def in_sight(self, here: float, there: float) -> bool:
        """Whether the reference came from `here` to `there` (m from the line, any lap) in so little time that the place
        counts as in sight."""
        return (there - here) % self.length <= self._far and self.seconds(here, there) <= rules.SIGHT

    def speed(self, here: float) -> float:
        """m/s of the reference at `here`."""
        return self.trace.at(self.trace.speed, here)

    @property
    def lap_time(self) -> float:
        """s of the whole lap."""
        return self.trace.time[-1] - self.trace.time[0]


def usable(trace: LapTrace) -> bool:
    """Whether a trace holds a lap at all; windows can be made of no other."""
    grid = len(trace.time)
    channels = (trace.speed, trace.throttle, trace.brake, trace.lateral)
    return trace.length > 0 and trace.step > 0 and grid >= 2 and all(len(channel) == grid for channel in channels)


def _bound(lateral: list[float]) -> float | None:
    known = sorted(value for value in lateral if math.isfinite(value))
    high = known[int(rules.LATERAL_SHARE * (len(known) - 1))] if known else 0.0
    return rules.QUIET_LATERAL * high if high > 0 else None


def _quiet_cells(trace: LapTrace, bound: float | None) -> list[bool]:
    points = [
        throttle >= rules.QUIET_THROTTLE and brake <= rules.QUIET_BRAKE and (bound is None or lateral <= bound)
        for throttle, brake, lateral in zip(trace.throttle, trace.brake, trace.lateral, strict=True)
    ]
    return [here and there for here, there in pairwise(points)]


def _hard_cells(trace: LapTrace, bound: float | None) -> list[bool]:
    points = [
        not (brake <= rules.QUIET_BRAKE and (bound is None or lateral <= bound))
        for brake, lateral in zip(trace.brake, trace.lateral, strict=True)
    ]
    return [here or there for here, there in pairwise(points)]


def _bridge(quiet: list[bool], hard: list[bool], time: list[float]) -> list[bool]:
    """Quiet again where only the throttle dipped, for no longer than a gear change."""
    if True not in quiet:
        return quiet
    bridged, count = list(quiet), len(quiet)
    first = quiet.index(True)
    dip: list[int] = []
    for cell in range(first, first + count + 1):
        cell %= count
        if not quiet[cell]:
            dip.append(cell)
        elif dip:
            took = sum(time[place + 1] - time[place] for place in dip)
            if took <= rules.CUT and not any(hard[place] for place in dip):
                for place in dip:
                    bridged[place] = True
            dip = []
    return bridged


def _stretches(cells: list[bool], length: float, step: float) -> list[Stretch]:
    count = len(cells)
    if False not in cells:
        half = count // 2
        runs = [(0, half), (half, count)] if half else [(0, count)]
    else:
        runs, start = [], None
        first = cells.index(False)
        for cell in range(first, first + count + 1):
            if cells[cell % count] and start is None:
                start = cell
            elif not cells[cell % count] and start is not None:
                runs.append((start, cell))
                start = None
        runs = [(a % count, a % count + b - a) for a, b in runs]
    return [Stretch(index, a * step, b * step) for index, (a, b) in enumerate(sorted(runs))]
