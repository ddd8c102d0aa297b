"""A piece of driving cut out for judgement: the rows of one corner pass, of the driver's lap or of the reference."""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from coach.engine.along import value_along
from coach.engine.lap import Floats, GridLap
from coach.engine.tape import CHANNELS, NAN, Tape

HOLD = 0.3
"""s for which a value that is not sent again still stands."""

T = TypeVar("T")


class Stretch:
    """Rows between two places. `t` s and `d` m never fall; other channels by name, NaN where not sent.

    Distances count from the line of the lap in which the stretch ends; in the lap before they are negative.
    """

    __slots__ = ("_read", "columns", "d", "t")

    def __init__(self, t: array[float], d: array[float], columns: dict[str, array[float]]) -> None:
        self.t = t
        self.d = d
        self.columns = columns
        self._read: dict[object, Any] = {}

    def __len__(self) -> int:
        return len(self.t)

    def __getitem__(self, channel: str) -> array[float]:
        return self.columns[channel]

    def once(self, read: Callable[..., T], *at: float | str) -> T:
        """`read(rows, *at)`, worked out at the first asking: many judge one pass, and none changes what was read."""
        key = (read, at)
        if key not in self._read:
            self._read[key] = read(self, *at)
        made: T = self._read[key]
        return made

    def has(self, *channels: str) -> bool:
        """Whether each channel was sent at some row."""
        return all(any(value == value for value in self.columns[channel]) for channel in channels)

    def index(self, distance: float) -> int:
        """The first row at or beyond `distance`."""
        return bisect_left(self.d, distance)

    def index_at_time(self, t: float) -> int:
        """The first row at or after `t`."""
        return bisect_left(self.t, t)

    def time_at(self, distance: float) -> float | None:
        """s: when `distance` was first reached; None outside the stretch."""
        return value_along(self.d, self.t, distance)

    def value_at(self, channel: str, distance: float) -> float | None:
        """The channel at `distance`, interpolated; None outside or not sent."""
        return value_along(self.d, self.columns[channel], distance)

    def longest_step(self, since: float) -> float:
        """s: the longest silence between two rows from `since` m on."""
        t = np.asarray(self.t)[max(0, self.index(since) - 1) :]
        return float(np.diff(t).max()) if len(t) > 1 else 0.0


def from_tapes(before: Tape | None, before_length: float, tape: Tape, start: float, end: float) -> Stretch | None:
    """The driver's rows from `start` to `end` m; `start` < 0 reaches into the lap `before`, which must join on.

    None where the lap was not seen from `start` on.
    """
    pieces: list[tuple[Tape, int, int, float]] = []
    if start < 0.0:
        if before is None:
            return None
        low = before.index(before_length + start)
        if low == 0 and before.reach[0] > before_length + start:
            return None
        pieces.append((before, max(0, low - 1), len(before) - 1, -before_length))
    elif tape.reach[0] > start:
        return None
    low = 0 if start < 0.0 else max(0, tape.index(start) - 1)
    pieces.append((tape, low, min(len(tape), tape.index(end) + 1), 0.0))
    t, d = array("d"), array("d")
    columns: dict[str, array[float]] = {name: array("d") for name in (*CHANNELS, "front", "rear")}
    for piece, a, b, shift in pieces:
        t.extend(piece.t[a:b])
        d.frombytes((np.asarray(piece.reach[a:b]) + shift).tobytes())
        for name in CHANNELS:
            columns[name].extend(piece.columns[name][a:b])
        columns["front"].extend(piece.front[a:b])
        columns["rear"].extend(piece.rear[a:b])
    for column in columns.values():
        _bridge(column, t)
    return Stretch(t, d, columns)


def _bridge(column: array[float], t: array[float]) -> None:
    """A channel that a source sends less often than others holds its last value for up to `HOLD` s."""
    missing = np.flatnonzero(np.isnan(np.frombuffer(column, dtype=np.float64)))
    if len(missing) in (0, len(column)):
        return
    sent_at: float | None = None
    for i, value in enumerate(column):
        if value == value:
            sent_at = t[i]
        elif sent_at is not None and t[i] - sent_at <= HOLD:
            column[i] = column[i - 1]


def from_lap(lap: GridLap, start: float, end: float) -> Stretch:
    """The reference's rows from `start` to `end` m; `start` may be negative, `end` may pass the length.

    Times count from the line of the lap in which distance 0 lies.
    """
    step, last = lap.step, len(lap.time) - 1
    first, final = int(np.floor(start / step)), int(np.ceil(end / step))
    index = np.arange(first, final + 1)
    turns, place = np.divmod(index, last)
    t = lap.time[place] + turns * lap.total
    columns = {name: _column(lap.get(name), place) for name in CHANNELS}
    nothing = array("d", [NAN]) * len(index)
    columns["front"] = columns["rear"] = nothing
    return Stretch(array("d", t.tolist()), array("d", (index * step).tolist()), columns)


def _column(values: Floats | None, place: NDArray[np.intp]) -> array[float]:
    return array("d", [NAN] * len(place) if values is None else values[place].tolist())
