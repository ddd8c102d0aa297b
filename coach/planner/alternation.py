"""Laps with cues and laps without, where they alternate: which is which, and what each came to."""

from __future__ import annotations

from statistics import median

from coach.vocabulary.events import Advice
from coach.vocabulary.laptime import lap_time


class Alternation:
    """Every other lap is without a word (2.8: Park, Shea & Wright 2000; 2.16: judge by laps without).

    The first that can be judged has cues: an out-lap is neither.
    """

    def __init__(self, on: bool) -> None:
        self._on = on
        self._first: int | None = None
        self._times: tuple[list[float], list[float]] = ([], [])

    def judged(self, lap: int) -> None:
        """A corner of this lap was held against the marks."""
        if self._first is None:
            self._first = lap

    def new_run(self) -> None:
        """Another run begins, with a lap with cues."""
        self._first = None

    def is_cued(self, lap: int) -> bool:
        """Whether there are cues on this lap."""
        return not self._on or self._first is None or (lap - self._first) % 2 == 0

    def lap_over(self, lap: int, time: float | None) -> None:
        """A lap ended; `time` s of a clean one, None of others."""
        if self._on and self._first is not None and time is not None:
            self._times[0 if self.is_cued(lap) else 1].append(time)

    def report(self, t: float, lap: int, said: bool, timed: bool = True) -> Advice | None:
        """Both, side by side; None where there is nothing to compare. `said`: whether there was any cue at all;
        `timed`: whether the text may tell the times."""
        cued, uncued = self._times
        if not cued or not uncued:
            return None
        numbers = {
            "cued": median(cued),
            "uncued": median(uncued),
            "cued_laps": float(len(cued)),
            "uncued_laps": float(len(uncued)),
        }
        text = f"{len(cued)} clean laps with cues, {len(uncued)} without"
        if timed:
            text = (
                f"clean laps with cues {lap_time(numbers['cued'])}, without {lap_time(numbers['uncued'])} "
                f"(medians of {len(cued)} and {len(uncued)})"
            )
        text += "" if said else "; but nothing was said on either"
        return Advice(t, lap, "practice", text, numbers)
