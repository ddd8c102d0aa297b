"""A lap resampled on an even grid of distance: what references, circuits and the delta are made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from coach.engine.tape import CHANNELS, Tape
from coach.vocabulary.errors import FormatError
from coach.vocabulary.trace import LapTrace

Floats = NDArray[np.float64]

STEP = 1.0
"""m between grid points, nearly: at 15 m/s that is 15 Hz worth of samples at 4 times the rate, at 80 m/s finer than
the source's own."""
TIME_DIGITS, CHANNEL_DIGITS = 6, 4
"""Rounded once, when made, so that a lap read back from a recording's head is the same lap."""
SEAM = 100.0
"""m to each side of the line over which a lap's path is closed: 1 m in 100 is a heading off by half a degree."""
SILENT = 1.0
"""s without a value after which a channel is not known all the way round."""
SMOOTH_LATERAL = 0.1
"""s, half-width of the running mean that takes kerb noise out of the lateral acceleration."""


@dataclass(slots=True)
class GridLap:
    """Channels on `n + 1` even places from 0 to `length` m, both ends included.

    `time` s since the line, strictly increasing; `lateral` m/s^2, absolute and smoothed. `channels` holds each of
    `tape.CHANNELS` that the source sent all the way, by name, as a float array of the same shape (n + 1,).
    """

    number: int
    length: float
    time: Floats
    lateral: Floats
    channels: dict[str, Floats] = field(default_factory=dict)
    track: str | None = None
    car: str | None = None

    @property
    def step(self) -> float:
        """m between grid points."""
        return self.length / (len(self.time) - 1)

    @property
    def total(self) -> float:
        """s: the lap time."""
        return float(self.time[-1])

    @property
    def distance(self) -> Floats:
        """m, the grid itself."""
        return np.linspace(0.0, self.length, len(self.time))

    def get(self, channel: str) -> Floats | None:
        """The channel, or None where the lap does not have it."""
        return self.channels.get(channel)

    def closed_path(self) -> tuple[Floats, Floats] | None:
        """x, y (m) on the grid, bent so that the lap ends where it began; None where the lap has no positions.

        A driver crosses the line a metre further left or right each time. That step is spread over `SEAM` m to each
        side of the line; left as it is, it would read as a sharp kink there.
        """
        x, y = self.get("x"), self.get("y")
        if x is None or y is None:
            return None
        distance = self.distance
        share = 0.5 * (np.maximum(0.0, 1.0 - distance / SEAM) - np.maximum(0.0, 1.0 - (self.length - distance) / SEAM))
        return x + share * (x[-1] - x[0]), y + share * (y[-1] - y[0])

    def trace(self) -> LapTrace:
        """The lap as plain lists, for the planner and the overlay. Channels it lacks are all zero."""
        still = np.zeros(len(self.time))
        return LapTrace(
            length=self.length,
            step=self.step,
            time=self.time.tolist(),
            speed=self.channels.get("speed", still).tolist(),
            throttle=self.channels.get("throttle", still).tolist(),
            brake=self.channels.get("brake", still).tolist(),
            lateral=self.lateral.tolist(),
        )

    def to_json(self) -> dict[str, Any]:
        """Plain JSON for a recording's head."""
        return {
            "number": self.number,
            "length": self.length,
            "track": self.track,
            "car": self.car,
            "time": self.time.tolist(),
            "lateral": self.lateral.tolist(),
            "channels": {name: column.tolist() for name, column in self.channels.items()},
        }

    @classmethod
    def from_json(cls, data: Any) -> GridLap:
        """The lap that `to_json` wrote. Raises FormatError naming what is wrong."""
        try:
            time = np.array(data["time"], dtype=np.float64)
            lap = cls(
                number=int(data["number"]),
                length=float(data["length"]),
                time=time,
                lateral=np.array(data["lateral"], dtype=np.float64),
                channels={str(k): np.array(v, dtype=np.float64) for k, v in data["channels"].items()},
                track=data["track"],
                car=data["car"],
            )
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
            raise FormatError(f"the reference lap cannot be read ({error!r}): record it again") from error
        columns = [lap.lateral, *lap.channels.values()]
        if time.ndim != 1 or len(time) < 3 or any(c.shape != time.shape for c in columns):
            raise FormatError("the reference lap's channels are not of one length: record it again")
        finite = 0.0 < lap.length < np.inf and all(np.isfinite(c).all() for c in (time, *columns))
        if not (finite and time[0] == 0.0 and (np.diff(time) > 0).all()):
            raise FormatError("the reference lap holds values that are not finite or times that fall: record it again")
        return lap


def same_lap(one: GridLap, other: GridLap) -> bool:
    """Whether both are the same driving, wherever they were kept."""
    return one.length == other.length and np.array_equal(one.time, other.time)


def resample(tape: Tape, length: float, start: float, number: int, track: str | None, car: str | None) -> GridLap:
    """The lap of `tape`, which runs from 0 to `length` m, on the even grid.

    Where the car stood or rolled back, a place counts as reached when it was first reached; time increases strictly
    from place to place. A channel that was absent anywhere is left out, but for gaps shorter than the lap's grid can
    show: these are bridged.
    """
    reach = np.frombuffer(tape.reach, dtype=np.float64)
    rows = np.flatnonzero(np.diff(reach, prepend=-np.inf) > 1e-6)
    at, places = reach[rows], np.linspace(0.0, length, max(3, round(length / STEP) + 1))
    clock = np.frombuffer(tape.t, dtype=np.float64)[rows]
    time = np.interp(places, at, clock - start)
    time = np.round(time, TIME_DIGITS)
    if not (np.diff(time) > 0.0).all():  # quicker than the digits can tell: a source's clock that stumbled
        least = np.arange(len(places)) * 10.0**-TIME_DIGITS
        time = np.round(np.maximum.accumulate(time - least) + least, TIME_DIGITS)
    channels: dict[str, Floats] = {}
    for name in CHANNELS:
        column = np.frombuffer(tape[name], dtype=np.float64)[rows]
        known = np.isfinite(column)
        if not _sent(known, clock):
            continue
        if name == "gear":
            following = np.clip(np.searchsorted(at[known], places), 0, int(known.sum()) - 1)
            channels[name] = column[known][following]
        else:
            channels[name] = np.round(np.interp(places, at[known], column[known]), CHANNEL_DIGITS)
    lateral = np.round(_lateral(tape, rows, places), CHANNEL_DIGITS)
    return GridLap(number, length, time, lateral, channels, track, car)


def _sent(known: NDArray[np.bool_], clock: Floats) -> bool:
    """Whether a channel was sent all the way round, without a silence of more than `SILENT` s."""
    if not known.any():
        return False
    heard = np.maximum.accumulate(np.where(known, clock, clock[0]))
    return bool((clock - heard).max() <= SILENT)


def _lateral(tape: Tape, rows: NDArray[np.intp], places: Floats) -> Floats:
    """|lateral acceleration|, smoothed over 0.2 s of driving: sent, else yaw rate times speed, else zero."""
    t = np.frombuffer(tape.t, dtype=np.float64)[rows]
    pull = np.abs(np.frombuffer(tape["ay"], dtype=np.float64)[rows])
    if not _sent(np.isfinite(pull), t):
        turn = np.frombuffer(tape["yaw_rate"], dtype=np.float64)[rows]
        pull = np.abs(turn * np.frombuffer(tape["speed"], dtype=np.float64)[rows])
    known = np.isfinite(pull)
    if not _sent(known, t):
        return np.zeros(len(places))
    area = np.concatenate([[0.0], np.cumsum(0.5 * (pull[known][1:] + pull[known][:-1]) * np.diff(t[known]))])
    low = np.clip(t - SMOOTH_LATERAL, t[0], t[-1])
    high = np.clip(t + SMOOTH_LATERAL, t[0], t[-1])
    mean = (np.interp(high, t[known], area) - np.interp(low, t[known], area)) / np.maximum(high - low, 1e-9)
    smooth: Floats = np.interp(places, np.frombuffer(tape.reach, dtype=np.float64)[rows], mean)
    return smooth
