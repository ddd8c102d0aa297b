"""A column read at a place between its rows."""

from __future__ import annotations

from array import array
from bisect import bisect_left


def value_along(places: array[float], column: array[float], place: float) -> float | None:
    """The column at `place`, interpolated; `places` never fall. None outside them and where NaN stands for not sent.

    Of rows at one place the first counts.
    """
    after = bisect_left(places, place)
    if after >= len(places):
        return None
    if places[after] == place:
        value = column[after]
    elif after == 0:
        return None
    else:
        part = (place - places[after - 1]) / (places[after] - places[after - 1])
        value = column[after - 1] + (column[after] - column[after - 1]) * part
    return value if value == value else None
