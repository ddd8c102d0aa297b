"""The order of samples: what is dropped, what is a gap, and where a new run begins."""

from __future__ import annotations

from dataclasses import dataclass

from coach.vocabulary.events import Event, Stream
from coach.vocabulary.sample import Sample

REWIND = 1.0
"""s: `t` back by this or more is a new run; by less, a late datagram (contract, "Order and jumps")."""
GAP = 0.2
"""s: a silence this long hides 12 m at 60 m/s, more than a braking point's scatter; the lap is no longer clean."""
GAP_STEPS = 4.0
"""A silence counts as a gap only from this many usual steps on, so that a slow source is not all gaps."""
HAIR = 1e-6
"""s: clocks are written with few digits, so 12.3 back to 11.3 is a whole second although the floats differ by less."""
LEARN = 0.05
"""How much one step weighs in the usual step."""
TELL_EVERY = 10.0
"""s of source time between two events about dropped datagrams of one cause."""


@dataclass(slots=True)
class Verdict:
    """What to do with a sample. `step` s since the last kept one, None for the first of a run."""

    keep: bool
    step: float | None = None
    new_run: bool = False
    gap: bool = False


class _Dropped:
    """Counts datagrams dropped for one cause; one event at first, then at most one each `TELL_EVERY`."""

    __slots__ = ("count", "first", "last", "told", "what")

    def __init__(self, what: str) -> None:
        self.what = what
        self.count = 0
        self.first = self.last = 0.0
        self.told: float | None = None

    def add(self, now: float, t: float, lap: int) -> list[Event]:
        if self.count == 0:
            self.first = t
        self.count += 1
        self.last = t
        if self.told is not None and abs(now - self.told) < TELL_EVERY:
            return []
        self.told = now
        return self.flush(now, lap)

    def flush(self, now: float, lap: int) -> list[Event]:
        if self.count == 0:
            return []
        event = Stream(now, lap, self.what, self.first, self.last, self.count)
        self.count = 0
        return [event]


class Order:
    """Judges each sample against the last kept one. Equal `t` is a duplicate; `t` back under 1 s is late."""

    __slots__ = ("_duplicate", "_lap", "_late", "_t", "_usual")

    def __init__(self) -> None:
        self._t: float | None = None
        self._lap: int | None = None
        self._usual: float | None = None
        self._late = _Dropped("late")
        self._duplicate = _Dropped("duplicate")

    def judge(self, sample: Sample, lap: int) -> tuple[Verdict, list[Event]]:
        """The verdict on `sample`, and what the log should know; `lap` is the running lap's number."""
        last, t = self._t, sample.t
        if last is None:
            self._accept(sample)
            return Verdict(True, new_run=True), []
        step = t - last
        if step > 0.0:
            return self._forward(sample, step, last, lap)
        if step == 0.0:
            return Verdict(False), self._duplicate.add(last, t, lap)
        if step > -REWIND + HAIR:
            return Verdict(False), self._late.add(last, t, lap)
        events = self.flush(lap)
        self._usual = self._lap = None
        self._accept(sample)
        return Verdict(True, new_run=True), [*events, Stream(t, lap, "rewind", last, t)]

    def _forward(self, sample: Sample, step: float, last: float, lap: int) -> tuple[Verdict, list[Event]]:
        falling = sample.lap is not None and self._lap is not None and sample.lap < self._lap
        usual = self._usual
        longest = GAP_STEPS * (GAP if usual is None else usual)
        gap = step > GAP - HAIR and step > longest - HAIR
        if usual is None:
            self._usual = min(step, GAP)
        else:  # a source that went slow for good is gaps only until its pace is learned
            self._usual = usual + LEARN * (min(step, longest) - usual)
        self._accept(sample)
        if falling:
            return Verdict(True, new_run=True), [Stream(sample.t, lap, "reset", last, sample.t)]
        if gap:
            return Verdict(True, step, gap=True), [Stream(sample.t, lap, "gap", last, sample.t)]
        return Verdict(True, step), []

    def _accept(self, sample: Sample) -> None:
        self._t = sample.t
        if sample.lap is not None:
            self._lap = sample.lap

    def flush(self, lap: int) -> list[Event]:
        """Events for dropped datagrams not told yet."""
        now = self._t if self._t is not None else 0.0
        return self._late.flush(now, lap) + self._duplicate.flush(now, lap)
