"""Figures as people read them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

import numpy as np

FIRST, LAST = 0.0, 253_402_300_799.0
"""s since 1970: the years 1970 to 9999, which a date can be written for."""
SHOWN = 12
"""lap numbers that are listed; the rest are counted."""


def signed(seconds: float | None, digits: int = 3) -> str:
    """`+0.412`, or `-` where there is none; never `-0.000`."""
    if seconds is None or not isfinite(seconds):
        return "-"
    return f"{round(seconds, digits) + 0.0:+.{digits}f}"


def share(part: float | None) -> str:
    """`62 %` of 0..1, or `-`."""
    return "-" if part is None or not isfinite(part) else f"{part * 100:.0f} %"


def luck(chance: float | None) -> str:
    """A chance 0..1: `5 %`, `less than 1 %`, or `-`."""
    return "less than 1 %" if chance is not None and chance < 0.01 else share(chance)


def plain(number: float | None, digits: int = 2, unit: str = "") -> str:
    """`1.25 m`, or `-`."""
    if number is None or not isfinite(number):
        return "-"
    return f"{round(number, digits) + 0.0:.{digits}f}{' ' + unit if unit else ''}"


def sized(number: float, unit: str) -> str:
    """A fault's size in its unit: whole revs, hundredths of all else."""
    return plain(number, 0 if unit == "rev/min" else 2, unit)


def count(number: int, thing: str, things: str | None = None) -> str:
    """`1 lap`, `2 laps`."""
    return f"{number} {thing if number == 1 else things or thing + 's'}"


def moment(begun: float | None) -> str | None:
    """`2025-12-29T09:20:00Z` for s since 1970; None where it is not known, or no date can be written."""
    if begun is None or not FIRST <= begun <= LAST:
        return None
    return f"{np.datetime64(int(begun), 's')}Z"


def readable(stamp: str) -> str:
    """A moment as a person reads it: `2025-12-29 09:20 UTC`."""
    return stamp[:16].replace("T", " ") + " UTC"


def runs(numbers: Iterable[int]) -> str:
    """`1-3, 5`; of very many how many more."""
    found: list[list[int]] = []
    for number in sorted(set(numbers)):
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    shown = ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in found[:SHOWN])
    rest = sum(len(run) for run in found[SHOWN:])
    return f"{shown} and {rest} more" if rest else shown


def nice(size: float, steps: Sequence[float] = (1.0, 2.0, 5.0)) -> float:
    """The least round number (1, 2 or 5 times a power of ten) that is not under `size`, which is over 0."""
    power = 10.0 ** np.floor(np.log10(size))
    return float(next((step * power for step in steps if step * power >= size * (1 - 1e-9)), 10.0 * power))


def ticks(low: float, high: float, many: int) -> list[float]:
    """About `many` round numbers from `low` to `high`."""
    step = nice((high - low) / many)
    return [number * step for number in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1)]
