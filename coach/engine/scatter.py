"""The driver's own lap-to-lap scatter: what lies within it is no fault."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from math import isfinite
from statistics import median
from typing import Any, TypeVar

from coach.vocabulary.errors import FormatError

REMEMBERED = 20
"""Passes of a corner that count; older ones are forgotten as the driver changes."""
RECENT = 60
"""Passes of any corner that count for a feature: a handful of laps."""
TODAY = 12
"""Passes of any corner that show what is common to them today: about a lap."""
PRIOR_WEIGHT = 4
"""Passes that the prior is worth: one's own scatter is known from a handful of passes (choice)."""
POOLED_WEIGHT = 8
"""Passes that the scatter of all corners together is worth beside a corner's own (choice)."""
USUAL = 3
"""Passes that make a median worth having."""
ENOUGH = 6
"""Passes before a common shift is believed (choice)."""
NORMAL = 1.4826
"""The median absolute deviation times this is a normal distribution's standard deviation (handbook constant)."""

ONE_SIGMA = 0.6827
"""Of a normal distribution this share lies within one standard deviation (handbook constant)."""

Key = tuple[int, str]
T = TypeVar("T")


class Scatter:
    """Values of each feature of each corner, pass by pass; faults among them do not widen it, as it is robust.

    A feature's scatter is known for one corner after many laps, for all corners together after one: the spread is
    drawn from the prior to that of the run which the reference is from, to that of all corners today, and on to the
    corner's own, as passes come.
    """

    def __init__(self, usual: dict[Key, float] | None = None, before: Scatter | None = None) -> None:
        """`usual`: what the reference's driver usually did, from which the first passes of a corner are measured.

        `before`: the scatter of the run that the reference is from.
        """
        self._usual = {} if usual is None else usual
        self._before: dict[str, list[float]] = {} if before is None else before._offsets()
        self._values: dict[Key, deque[float]] = {}
        self._off: dict[str, deque[float]] = {}

    def add(self, corner: int, feature: str, value: float) -> None:
        """One more pass of `corner`; what is not finite was not measured."""
        if not isfinite(value):
            return
        key = (corner, feature)
        values = self._values.setdefault(key, deque(maxlen=REMEMBERED))
        middle = self._usual.get(key)
        if middle is None and len(values) >= USUAL:
            middle = median(values)
        if middle is not None:
            self._off.setdefault(feature, deque(maxlen=RECENT)).append(value - middle)
        values.append(value)

    def spread(self, corner: int, feature: str, prior: float) -> float:
        """A standard deviation in the feature's unit.

        Of one corner taken from the median absolute deviation about the median, so that up to half of its passes may
        be faulty. Some corners scatter more than others: of all together it is the deviation that 68 % stay within,
        which a third of faulty passes, all on one side, cannot move far.
        """
        earlier = _drawn(_wide(self._before.get(feature, ())), prior, PRIOR_WEIGHT)
        today = _drawn(_wide(self._off.get(feature, ())), earlier, PRIOR_WEIGHT)
        return _drawn(_narrow(self._values.get((corner, feature), ())), today, POOLED_WEIGHT)

    def common(self, feature: str) -> float:
        """How far the feature has lain from the usual in the last passes, whatever the corner: the day's part."""
        last = list(self._off.get(feature, ()))[-TODAY:]
        return median(last) if len(last) >= ENOUGH else 0.0

    def medians(self) -> dict[Key, float]:
        """The usual value of each feature seen in at least `USUAL` passes."""
        return {key: median(values) for key, values in self._values.items() if len(values) >= USUAL}

    def remember(self, usual: dict[Key, float], before: Scatter) -> None:
        """What was shown on earlier days became known only now, or measures no more; arguments as the constructor's."""
        self._usual, self._before = usual, before._offsets()
        self._off.clear()

    def renumber(self, numbers: Mapping[int, int]) -> None:
        """The corners have other numbers now, by their old ones; what is of a corner without one is forgotten."""
        self._values = renumbered(self._values, numbers)
        self._usual = renumbered(self._usual, numbers)

    def behind(self, before: Scatter | None) -> Scatter:
        """The passes of `before` and these behind them, as a scatter of its own."""
        joined = Scatter()
        for one in (before, self):
            for key, values in () if one is None else one._values.items():
                joined._values.setdefault(key, deque(maxlen=REMEMBERED)).extend(values)
        return joined

    def _offsets(self) -> dict[str, list[float]]:
        """By feature: how far each pass lay from its corner's median."""
        off: dict[str, list[float]] = {}
        for (_, feature), values in self._values.items():
            if len(values) >= USUAL:
                middle = median(values)
                off.setdefault(feature, []).extend(value - middle for value in values)
        return off

    def to_json(self) -> list[Any]:
        """Plain JSON for a recording's head: [corner, feature, [values]]."""
        return [[corner, feature, list(values)] for (corner, feature), values in self._values.items()]

    @classmethod
    def from_json(cls, data: Any) -> Scatter:
        """The scatter that `to_json` wrote. Raises FormatError naming what is wrong."""
        scatter = cls()
        try:
            for corner, feature, values in data:
                for value in values:
                    scatter.add(int(corner), str(feature), float(value))
        except (TypeError, ValueError, OverflowError) as error:
            raise FormatError(f"the learned scatter cannot be read ({error!r}): record it again") from error
        return scatter


def renumbered(by_key: Mapping[Key, T], numbers: Mapping[int, int]) -> dict[Key, T]:
    """The same by the corners' new numbers, without the corners that have none."""
    return {(numbers[corner], name): one for (corner, name), one in by_key.items() if corner in numbers}


Spread = tuple[int, float]
"""How many values, and their standard deviation."""


def _narrow(values: Iterable[float]) -> Spread:
    off = _deviations(values)
    return len(off), NORMAL * median(off) if off else 0.0


def _wide(values: Iterable[float]) -> Spread:
    off = sorted(_deviations(values))
    return len(off), off[int(ONE_SIGMA * (len(off) - 1))] if off else 0.0


def _deviations(values: Iterable[float]) -> list[float]:
    known = list(values)
    middle = median(known) if known else 0.0
    return [abs(value - middle) for value in known]


def _drawn(spread: Spread, prior: float, weight: int) -> float:
    """The spread, drawn towards `prior`, which counts as `weight` values."""
    count, own = spread
    if count < 2:
        return prior
    return float(((count * own * own + weight * prior * prior) / (count + weight)) ** 0.5)
