"""The line, for what is followed from sample to sample: a place kept before it has to count from the new line."""

from __future__ import annotations

FALLS = 50.0
"""m: `progress` that falls by more has begun anew at the line; less is a car that rolls back (choice)."""


class LapLine:
    """Tells when the line was crossed. One for each watch."""

    __slots__ = ("_last",)

    def __init__(self) -> None:
        self._last: float | None = None

    def crossed(self, progress: float, step: float) -> float:
        """m to take from every place kept: the lap's length where the line was crossed, else 0.

        `progress` m from the line, `step` m driven since the last call.
        """
        last, self._last = self._last, progress
        return last + step - progress if last is not None and progress < last - FALLS else 0.0

    def forget(self) -> None:
        """The car is somewhere else."""
        self._last = None
