"""Laps with cues and laps without, where they alternate: which is which, and what each came to."""

from __future__ import annotations

from statistics import median

from coach.vocabulary.events import Advice, Lap


class Alternation:
    """Every other lap of a run is without a word (2.8: Park, Shea & Wright 2000; 2.16: judge by laps without)."""

    def __init__(self, on: bool) -> None:
        self._on = on
        self._first: int | None = None
        self._times: tuple[list[float], list[float]] = ([], [])

    def new_run(self) -> None:
        """Another run begins, with a lap with cues."""
        self._first = None

    def is_cued(self, lap: int) -> bool:
        """Whether there are cues on this lap."""
        if not self._on:
            return True
        if self._first is None:
            self._first = lap
        return (lap - self._first) % 2 == 0

    def lap_over(self, lap: Lap) -> None:
        """A lap ended: a clean one counts."""
        if self._on and lap.clean and lap.time is not None:
            self._times[0 if self.is_cued(lap.lap) else 1].append(lap.time)

    def report(self, t: float, lap: int) -> Advice | None:
        """Both, side by side; None where there is nothing to compare."""
        cued, uncued = self._times
        if not cued or not uncued:
            return None
        numbers = {
            "cued": median(cued),
            "uncued": median(uncued),
            "cued_laps": float(len(cued)),
            "uncued_laps": float(len(uncued)),
        }
        text = (
            f"clean laps with cues {numbers['cued']:.3f} s, without {numbers['uncued']:.3f} s "
            f"(medians of {len(cued)} and {len(uncued)})"
        )
        return Advice(t, lap, "practice", text, numbers)
