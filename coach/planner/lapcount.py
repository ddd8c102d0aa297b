"""Laps counted over all runs: a source begins anew with each, and a lap's number alone says not which lap it was."""

from __future__ import annotations


class LapCount:
    """Fed the source's lap number once a sample."""

    def __init__(self) -> None:
        self._shift = 0
        self._fresh = True
        self.now = 0
        """the running lap"""
        self.first = 1
        """the first lap of this run"""

    def new_run(self) -> None:
        """The source counts anew from the next sample on."""
        self._fresh = True

    def update(self, lap: int) -> None:
        """The source is on `lap`."""
        if self._fresh:
            self._fresh = False
            self.first = self.now + 1
            self._shift = self.first - lap
        self.now = self.of(lap)

    def of(self, lap: int) -> int:
        """The lap that the source calls `lap` in this run."""
        return lap + self._shift
