"""Every place and type of a packet as a column of numbers, and a sieve that keeps what could be a signal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feeds.finder.fields import CODES, WIDTH, Bytes, Field, Floats
from feeds.finder.kinds import Record

BLOCKS, BLOCK = 48, 20
"""The sieve looks at so many stretches of so many packets in a row (choice)."""
LARGEST, LEAST = 1e10, {"f32": 1e-30, "f64": 1e-10}
"""Sizes of a number that a source sends; a float read from the wrong bytes is soon beyond them. What comes to rest
smoothly is as small as 1e-20 (choice); two f32 read as one f64 are small too, so there the bound is closer."""
MAD_SHARE = 0.02
"""of a float's values may be beyond LARGEST or LEAST or no number"""
MANY = 1000
"""Numbers among which different ones are counted."""
ROUGHEST = 0.8
"""Mean second difference over mean deviation: white noise has 2.45 (sqrt(6)), a signal of a car far less (choice)."""


@dataclass(slots=True)
class Column:
    """`values` on the common rows; `whole`: only whole numbers; `distinct`: how many different ones, up to MANY."""

    field: Field
    values: Floats
    low: float
    high: float
    whole: bool
    distinct: int
    rough: float
    """mean second difference, as a share of the span: of several readings of the same bytes the true one has least"""

    @property
    def span(self) -> float:
        """Greatest less least value."""
        return self.high - self.low


def numbers(rows: Bytes, type_: str, big: bool) -> Floats:
    """[n, places]: the number of a type that begins at each place."""
    width = WIDTH[type_]
    windows = np.lib.stride_tricks.sliding_window_view(rows, width, axis=1)
    code = np.dtype((">" if big else "<") + CODES[type_])
    with np.errstate(invalid="ignore", over="ignore"):
        return np.ascontiguousarray(windows).view(code)[..., 0].astype(np.float64)


def sieve(record: Record, kind: int, index: NDArray[np.intp]) -> list[Column]:
    """The columns of one kind that move as a signal may. `index`: the kind's row for each common row."""
    rows = record.rows
    moving = np.flatnonzero(rows.min(axis=0) != rows.max(axis=0))
    if not len(moving) or len(rows) < BLOCK + 2:
        return []
    starts = np.unique(np.linspace(0, len(rows) - BLOCK, BLOCKS).astype(int))
    some = rows[(starts[:, None] + np.arange(BLOCK)).ravel()]
    alive = np.zeros(rows.shape[1] + 1, dtype=int)
    alive[moving + 1] = 1
    alive = np.cumsum(alive)
    kept: list[Column] = []
    for type_, width in WIDTH.items():
        if width > rows.shape[1] or type_ == "u64":
            continue
        for big in (False, True) if width > 1 else (False,):
            values = numbers(some, type_, big)
            moves = alive[width:] - alive[:-width] > 0
            moves &= ~_needless(rows, type_, big)
            for place in np.flatnonzero(moves & _plausible(values, type_, len(starts))):
                place_ = Field(int(place), type_, big, kind=kind)
                column = column_of(place_, place_.raw(rows)[index])
                if column is not None:
                    kept.append(column)
    return kept


def _needless(rows: Bytes, type_: str, big: bool) -> NDArray[np.bool_]:
    """[places]: whole numbers that a type of half the width, or without a sign, holds as well."""
    width = WIDTH[type_]
    places = rows.shape[1] - width + 1
    if type_[0] == "f":
        return np.zeros(places, dtype=bool)
    at = np.arange(places)
    needless = np.zeros(places, dtype=bool)
    if width > 1:
        empty = np.concatenate([[0], np.cumsum(rows.max(axis=0) == 0)])
        upper = at if big else at + width // 2
        needless = empty[upper + width // 2] - empty[upper] == width // 2
    if type_[0] == "i":
        top = at if big else at + width - 1
        needless |= rows.max(axis=0)[top] < 0x80
    return needless


def _plausible(values: Floats, type_: str, blocks: int) -> NDArray[np.bool_]:
    """[places]"""
    if type_[0] == "f":
        finite = np.isfinite(values)
        size = np.abs(np.where(finite, values, 0.0))
        mad = ~finite | (size > LARGEST) | ((size < LEAST[type_]) & (size > 0.0))
        fine = mad.mean(axis=0) <= MAD_SHARE
        values = np.where(mad, 0.0, values)
    else:
        fine = np.ones(values.shape[1], dtype=bool)
    blocked = values.reshape(blocks, BLOCK, -1)
    bend = np.abs(np.diff(blocked, n=2, axis=1)).mean(axis=(0, 1))
    deviation = np.abs(values - values.mean(axis=0)).mean(axis=0)
    # A signal that is still in all the stretches moves between them, or is too rare to be seen here: it may pass.
    calm: NDArray[np.bool_] = fine & (bend <= ROUGHEST * deviation)
    return calm


def column_of(place: Field, values: Floats) -> Column | None:
    """None where the numbers are constant or not finite."""
    finite = np.isfinite(values)
    if not finite.all():
        if finite.mean() < 1.0 - MAD_SHARE:
            return None
        values = np.where(finite, values, 0.0)
    low, high = float(values.min()), float(values.max())
    if low == high or max(abs(low), abs(high)) > LARGEST:
        return None
    whole = bool(np.all(values == np.rint(values)))
    distinct = len(set(values[:: max(len(values) // MANY, 1)].tolist()))
    if distinct < 16:
        distinct = len(np.unique(values))
    bend = np.abs(values[2:] - 2.0 * values[1:-1] + values[:-2]).mean() if len(values) > 2 else 0.0
    return Column(place, values, low, high, whole, distinct, float(bend) / (high - low))
