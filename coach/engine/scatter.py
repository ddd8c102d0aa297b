"""The driver's own lap-to-lap scatter: what lies within it is no fault."""

from __future__ import annotations

from collections import deque
from math import isfinite
from typing import Any

from coach.vocabulary.errors import FormatError

REMEMBERED = 20
"""Passes of a corner that count; older ones are forgotten as the driver changes."""
PRIOR_WEIGHT = 4
"""Passes that the prior is worth: one's own scatter is known from a handful of laps (choice)."""
USUAL = 3
"""Passes that make a median worth having."""
NORMAL = 1.4826
"""The median absolute deviation times this is a normal distribution's standard deviation (handbook constant)."""


class Scatter:
    """Values of one feature of one corner, pass by pass; faults among them do not widen it, as it is robust."""

    def __init__(self) -> None:
        self._values: dict[tuple[int, str], deque[float]] = {}

    def add(self, corner: int, feature: str, value: float) -> None:
        """One more pass of `corner`; what is not finite was not measured."""
        if not isfinite(value):
            return
        key = (corner, feature)
        if key not in self._values:
            self._values[key] = deque(maxlen=REMEMBERED)
        self._values[key].append(value)

    def spread(self, corner: int, feature: str, prior: float) -> float:
        """A standard deviation in the feature's unit: the passes', drawn towards `prior` while they are few.

        Taken from the median absolute deviation about the median, so that up to half the passes may be faulty.
        """
        values = self._values.get((corner, feature))
        if not values or len(values) < 2:
            return prior
        count = len(values)
        middle = _median(values)
        own = NORMAL * _median([abs(value - middle) for value in values])
        return float(((count * own * own + PRIOR_WEIGHT * prior * prior) / (count + PRIOR_WEIGHT)) ** 0.5)

    def medians(self) -> dict[tuple[int, str], float]:
        """The usual value of each feature seen in at least `USUAL` passes."""
        return {key: _median(values) for key, values in self._values.items() if len(values) >= USUAL}

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


def _median(values: Any) -> float:
    ranked = sorted(values)
    half = len(ranked) // 2
    return float(ranked[half] if len(ranked) % 2 else 0.5 * (ranked[half - 1] + ranked[half]))
