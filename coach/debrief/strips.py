"""The laps of a session as a screen can show them: channels on one thinned grid of distance, what was lost where."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from statistics import median_high

import numpy as np

from coach.debrief.markup import cut
from coach.debrief.numerals import nice
from coach.engine.lap import Floats, GridLap, same_lap
from coach.review.model import KeptLap, KeptSession
from coach.vocabulary.events import CornerMark
from coach.vocabulary.laptime import lap_time

POINTS = 900
"""places of a lap that are kept: one for each px of a wide chart."""
ORIGIN = 40
"""characters of where a reference is from: they stand in pictures, on one line."""
ALIKE = 0.01
"""of the length: laps that differ by more are not held against each other."""
WINDOW = 20.0
"""m to each side over which what is lost is evened out (choice): a car takes a third of a second for it."""
MILD = 0.25
"""of the scale: what is under it counts as even (choice)."""
STRONG_SHARE = 0.9
"""of all places lose less than the scale's strong step, nearly (choice)."""
LEAST_SCALE = 0.002
"""s in 100 m: less is the source's own rounding."""
BINS = ("gained2", "gained1", "even", "lost1", "lost2")
"""What is lost at a place, by number: gained much, gained, even, lost, lost much."""
_KMH, _PERCENT = 3.6, 100.0


@dataclass(frozen=True, slots=True)
class Strip:
    """One lap at the screen's places, arrays of one shape (n,), None for what was not sent.

    `time` s since the line; `speed` km/h; `throttle`, `brake` %; `delta` s to the lap that all are held against and
    `rate`, what is lost there, in s in 100 m; `xs`, `ys` m.
    """

    lap: KeptLap
    time: Floats
    delta: Floats
    rate: Floats
    speed: Floats | None
    throttle: Floats | None
    brake: Floats | None
    gear: Floats | None
    xs: Floats | None
    ys: Floats | None


@dataclass(frozen=True, slots=True)
class Screen:
    """All laps with channels. `places` m (n,); `against`: which lap they are held against, in words, and `own`: its
    place in `strips` where it is one of them; `best`, `middle`: places in `strips` of the quickest lap and of the one
    in the middle of the clean ones; `scale` s in 100 m: what counts as lost much. `base`: the path of the lap held
    against, or, where `has_line` says that it has none, of a lap that has one; `left` and `right` the edges, x and y in
    m.
    """

    length: float
    places: Floats
    strips: tuple[Strip, ...]
    against: str
    own: int | None
    best: int
    middle: int
    scale: float
    base: tuple[Floats, Floats] | None
    has_line: bool
    left: tuple[Floats, Floats] | None
    right: tuple[Floats, Floats] | None

    @property
    def shown(self) -> tuple[int, ...]:
        """What is shown at the start: the best lap and the middle one."""
        return (self.best,) if self.best == self.middle else (self.best, self.middle)

    @property
    def alone(self) -> bool:
        """There is one lap, and none to hold it against."""
        return self.own is not None and len(self.strips) == 1

    def bins(self, strip: Strip) -> np.ndarray[tuple[int], np.dtype[np.uint8]]:
        """What is lost at each place, as numbers of `BINS`."""
        limits = np.array([-self.scale, -MILD * self.scale, MILD * self.scale, self.scale])
        return np.asarray(np.digitize(strip.rate, limits), dtype=np.uint8)


def screen_of(session: KeptSession, reference: GridLap | None = None) -> Screen | None:
    """The laps that have channels; None for no lap.

    They are held against `reference`, or the one that the session had, or, where there is none of this length, against
    the session's best.
    """
    reference = session.reference if reference is None else reference
    kept = [(lap, lap.grid) for lap in session.laps if lap.grid is not None and lap.time is not None]
    if not kept:
        return None
    clean = [pair for pair in kept if pair[0].clean] or kept
    quickest = min(clean, key=lambda pair: pair[1].total)
    base = quickest[1]
    if reference is not None and abs(reference.length - base.length) <= ALIKE * base.length:
        base = reference
    kept = [pair for pair in kept if abs(pair[1].length - base.length) <= ALIKE * base.length]
    clean = [pair for pair in clean if abs(pair[1].length - base.length) <= ALIKE * base.length]
    count = min(POINTS, len(base.time))
    share = np.linspace(0.0, 1.0, count)
    goal = _at(base.time, share)
    strips = tuple(_strip(lap, grid, share, goal, base.length) for lap, grid in kept)
    middle_time = median_high(grid.total for _, grid in clean)
    middle = next(pair for pair in clean if pair[1].total == middle_time)
    by_lap = {id(lap): index for index, (lap, _) in enumerate(kept)}
    own = next((index for index, (_, grid) in enumerate(kept) if same_lap(grid, base)), None)
    path = _path(base, share)
    paths = (_path(grid, share) for _, grid in (quickest, *kept))
    edged = next((g for g in (base, *(g for _, g in kept)) if _edges(g, share) is not None), None)
    sides = None if edged is None else _edges(edged, share)
    return Screen(
        length=base.length,
        places=share * base.length,
        strips=strips,
        against=_against(session, base, None if own is None else kept[own][0], quickest[0]),
        own=own,
        best=by_lap[id(quickest[0])],
        middle=by_lap[id(middle[0])],
        scale=_scale(strips),
        base=path if path is not None else next((found for found in paths if found is not None), None),
        has_line=path is not None,
        left=None if sides is None else sides[0],
        right=None if sides is None else sides[1],
    )


def _against(session: KeptSession, base: GridLap, own: KeptLap | None, best: KeptLap) -> str:
    """The lap that all are held against, in words; `own`: as a lap of the session."""
    if own is not None:
        which = "the best lap of the session" if own is best else "the chosen lap of the session"
        return f"{which}, lap {own.number}: {lap_time(base.total)}"
    its = session.reference is not None and same_lap(session.reference, base)
    origin = session.reference_origin if its else None
    if not origin or not origin.strip():
        return f"the reference, lap {base.number}: {lap_time(base.total)}"
    return f"the reference, {cut(origin, ORIGIN)}: {lap_time(base.total)}"


def corners_of(session: KeptSession) -> list[CornerMark]:
    """The corners that can be drawn: those whose places are numbers."""
    return [mark for mark in session.corners if isfinite(mark.brake + mark.entry + mark.apex + mark.exit)]


def _at(column: Floats, share: Floats) -> Floats:
    """A channel at shares 0..1 of the lap, by linear interpolation."""
    found: Floats = np.interp(share * (len(column) - 1), np.arange(len(column)), column)
    return found


def _strip(lap: KeptLap, grid: GridLap, share: Floats, goal: Floats, length: float) -> Strip:
    def channel(name: str, times: float = 1.0) -> Floats | None:
        column = grid.get(name)
        return None if column is None else _at(column, share) * times

    gear = grid.get("gear")
    nearest = None if gear is None else _held(gear)[np.round(share * (len(gear) - 1)).astype(np.intp)]
    time = _at(grid.time, share)
    path = _path(grid, share)
    return Strip(
        lap=lap,
        time=time,
        delta=time - goal,
        rate=_rate(time - goal, length / (len(share) - 1)),
        speed=channel("speed", _KMH),
        throttle=channel("throttle", _PERCENT),
        brake=channel("brake", _PERCENT),
        gear=nearest,
        xs=None if path is None else path[0],
        ys=None if path is None else path[1],
    )


def _held(gear: Floats) -> Floats:
    """The gears without the neutral between two of them, which is part of the change: the one before holds on."""
    rows = np.maximum.accumulate(np.where(gear != 0.0, np.arange(len(gear)), 0))
    held: Floats = gear[rows]
    return held


def _rate(delta: Floats, step: float) -> Floats:
    """s lost in 100 m around each place."""
    reach = max(1, round(WINDOW / step))
    count = len(delta)
    low = np.clip(np.arange(count) - reach, 0, count - 1)
    high = np.clip(np.arange(count) + reach, 0, count - 1)
    lost: Floats = (delta[high] - delta[low]) / ((high - low) * step) * 100.0
    return lost


def _scale(strips: tuple[Strip, ...]) -> float:
    """A round number of s in 100 m: half of what nine tenths of all that is lost or gained in clean laps lie under."""
    clean = [strip for strip in strips if strip.lap.clean] or strips
    rates = np.concatenate([np.abs(strip.rate) for strip in clean])
    felt = rates[rates > LEAST_SCALE * MILD]
    if not len(felt):
        return LEAST_SCALE
    return max(LEAST_SCALE, nice(float(np.quantile(felt, STRONG_SHARE)) / 2.0))


def _path(grid: GridLap, share: Floats) -> tuple[Floats, Floats] | None:
    x, y = grid.get("x"), grid.get("y")
    if x is None or y is None or float(np.ptp(x)) + float(np.ptp(y)) <= 0.0:
        return None
    return _at(x, share), _at(y, share)


def _edges(grid: GridLap, share: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]] | None:
    """The road's edges beside a lap's path; None where the lap does not tell them."""
    path, left, right = _path(grid, share), grid.get("edge_left"), grid.get("edge_right")
    if path is None or left is None or right is None:
        return None
    x, y = path
    dx, dy = np.gradient(x), np.gradient(y)
    size = np.maximum(np.hypot(dx, dy), 1e-9)
    to_left, to_right = _at(left, share), -_at(right, share)
    return (
        (x - dy / size * to_left, y + dx / size * to_left),
        (x - dy / size * to_right, y + dx / size * to_right),
    )
