"""Laps: where one ends and the next begins, its number, its time, and what was wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from coach.engine.conduct import WHY_NOT, Conduct
from coach.engine.crossing import crossing_part
from coach.engine.order import GAP
from coach.engine.position import Fix
from coach.engine.tape import Tape
from coach.vocabulary.events import Event, Stream
from coach.vocabulary.sample import Sample

JUMP = 20.0
"""m more than the speed explains: the car was put somewhere else."""
FASTEST = 150.0
"""m/s, where the source sends no speed."""
TIMED_STEP = 1.0
"""s: a line crossed within a longer silence cannot be timed."""
RECENT_STAND = 0.25
"""of a lap: a car that stood this near before the line has started the lap from standing."""
SETTLED_COUNT = 2.0
"""s: a lap count that differs from ours for so long is no late or early packet."""


@dataclass(slots=True)
class ClosedLap:
    """A lap that ended at the line. `time` s, None where the lap was not seen from line to line or cannot be timed.

    `begun`: it began at the line, whatever became of it. `whole`: every metre of it was seen, so that its path and
    marks can be used; `tape` runs from 0 to `length` m then. `flying`: neither begun from standing nor in the pits.
    """

    number: int
    tape: Tape
    length: float
    start: float | None
    end: float
    time: float | None
    begun: bool
    whole: bool
    flying: bool
    why_not: tuple[str, ...]

    @property
    def clean(self) -> bool:
        """Whole, on the road, without incident."""
        return self.whole and self.time is not None and not self.why_not


class LapKeeper:
    """Follows the car round; `step` returns a lap when it ends."""

    def __init__(self, number: int = 0) -> None:
        self.conduct = Conduct()
        self.number = number
        """of the running lap, as the source counts; counted from 1 at the first crossing where it does not"""
        self.tape = Tape()
        self.start: float | None = None
        """s: when the line was crossed; None in a lap that was joined on the way"""
        self.progress: float | None = None
        """m from the line in this lap; may be negative for a car that rolled back over it"""
        self.length: float | None = None
        self._full = 0.0
        """m: the length of the last lap seen from near the line on; a survey cannot tell it of a lap with a jump"""
        self._begun = False
        self._whole = False
        self._broken: str | None = None
        """what is wrong with the step that comes next, if it cannot be trusted"""
        self._blind = False
        """samples have come without a place since the last one with"""
        self._pit_since: float | None = None
        self._seen = False
        self._differs_since: float | None = None
        self._crossings = 0
        self._odometer = 0.0
        self._distance: float | None = None
        self._last: Sample | None = None

    @property
    def since_line(self) -> float | None:
        """s since the line was crossed, None where it was not."""
        if self.start is None or self._last is None:
            return None
        return self._last.t - self.start

    def new_run(self) -> None:
        """Starts afresh, as at the first sample; what is known of the circuit's length stays."""
        length, full, again = self.length, self._full, self._last is not None
        self.__init__()  # type: ignore[misc]
        self.length, self._full = length, full
        if again:
            self.conduct.why.add("reset")

    def doubt(self, reason: str) -> None:
        """The step that comes next cannot be trusted: the lap it belongs to cannot be timed or used any more."""
        self.conduct.why.add(reason)
        self._whole = False
        self._broken = reason

    def step(self, sample: Sample, fix: Fix | None) -> tuple[ClosedLap | None, list[Event]]:
        """Takes in a kept sample; returns the lap it ended, if any, and what the log should know."""
        events = self._pit(sample)
        if fix is None:
            self._blind = True
            self._count(sample)
            self.conduct.watch(sample, self._odometer)
            return None, events
        self.length = fix.length
        closed = self._move(sample, fix, events)
        self._blind, self._broken = False, None
        self._count(sample)
        self.conduct.watch(sample, self._odometer)
        self.tape.append(sample.t, fix.distance if self.progress is None else self.progress, sample)
        return closed, events

    def _move(self, sample: Sample, fix: Fix, events: list[Event]) -> ClosedLap | None:
        last, distance = self._last, self._distance
        self._last, self._distance = sample, fix.distance
        if last is None or distance is None or self.progress is None:
            self.progress = fix.distance
            return None
        step, driven = sample.t - last.t, self._driven(distance, fix.distance)
        shrunk = self.length is not None and self.progress >= self.length
        if shrunk or self._jumped(driven, step, last, sample):
            events.append(self._jump(sample, fix, last))
            return None
        if self._blind and step > GAP:
            self.doubt("gap")
        self._odometer += abs(driven)
        before = self.progress
        self.progress = before + driven
        length = self.length
        if length is None or not before < length <= self.progress:
            return None
        short = length - before if fix.short is None else fix.short
        return self._cross(last, sample, length, short, self.progress - length, step)

    def _driven(self, before: float, now: float) -> float:
        driven = now - before
        length = self.length
        if length is not None:
            if driven < -0.5 * length:
                driven += length
            elif driven > 0.5 * length:
                driven -= length
        return driven

    def _jumped(self, driven: float, step: float, last: Sample, sample: Sample) -> bool:
        speeds = [v for v in (last.speed, sample.speed) if v is not None]
        possible = JUMP + 1.5 * step * (max(speeds) if speeds else FASTEST)
        if abs(driven) > possible:
            return True
        if last.x is None or last.y is None or sample.x is None or sample.y is None:
            return False
        return abs(sample.x - last.x) > possible or abs(sample.y - last.y) > possible

    def _jump(self, sample: Sample, fix: Fix, last: Sample) -> Event:
        placed = sample.in_pit is True or (sample.speed is not None and sample.speed < JUMP / 4)
        self.doubt("reset")
        self.start = None
        self.tape = Tape()
        self.progress = fix.distance
        if self.length is None:
            self._distance = None  # the locator begins to measure anew
        return Stream(sample.t, self.number, "reset" if placed else "teleport", last.t, sample.t)

    def _cross(
        self, last: Sample, sample: Sample, length: float, before: float, after: float, step: float
    ) -> ClosedLap:
        part = crossing_part(before, after, last.speed, sample.speed)
        at = last.t + part * step
        line = replace(_between(last, sample, part), t=at)
        self.tape.append(at, length, line)
        if self.tape.reach[0] < 0.1 * length:
            self._full = length
        if self.start is not None and length > FASTEST * (at - self.start):
            self.conduct.why.add("reset")
            self._whole = False
        timed = self._whole and self.start is not None and step <= TIMED_STEP
        if self.start is None and not self.conduct.why & {"reset", "gap"}:
            self.conduct.why.add("out_lap")
        closed = ClosedLap(
            number=self.number,
            tape=self.tape,
            length=length,
            start=self.start,
            end=at,
            time=at - self.start if timed and self.start is not None else None,
            begun=self._begun,
            whole=self._whole,
            flying=self.conduct.flying,
            why_not=tuple(reason for reason in WHY_NOT if reason in self.conduct.why),
        )
        self.tape = Tape()
        self.tape.append(at, 0.0, line)
        self.start = at if step <= TIMED_STEP else None
        self._begun = True
        self._whole = self.start is not None and self._broken is None
        self.progress = after
        self.number = self._next_number(sample)
        self._crossings += 1
        self.conduct.turn_over(at, self._odometer, RECENT_STAND * max(length, self._full))
        if self._broken is not None:
            self.conduct.why.add(self._broken)
        return closed

    def _next_number(self, sample: Sample) -> int:
        following = self.number + 1
        return sample.lap if sample.lap is not None and sample.lap > following else following

    def _count(self, sample: Sample) -> None:
        """Takes the source's count over where it differs for long: it may come late, early, or never change.

        A count behind ours is believed only at the first line of a run, where a source may call the way to the line
        lap 1 already; later it is a count that does not change.
        """
        lap = sample.lap
        if lap is None or lap == self.number:
            self._differs_since = None
        elif not self._seen:
            self.number = lap
        elif self._differs_since is None:
            self._differs_since = sample.t
        elif sample.t - self._differs_since >= SETTLED_COUNT and (
            lap > self.number or (self._crossings == 1 and lap >= 1 and lap == self.number - 1)
        ):
            self.number = lap
        self._seen = self._seen or lap is not None

    def _pit(self, sample: Sample) -> list[Event]:
        if sample.in_pit is None or sample.in_pit == self.conduct.in_pit:
            return []
        if sample.in_pit:
            self._pit_since = sample.t
            return [Stream(sample.t, self.number, "pit", sample.t, None)]
        return [Stream(sample.t, self.number, "pit", self._pit_since, sample.t)]


def _between(last: Sample, sample: Sample, part: float) -> Sample:
    """The sample at the line: speed and place interpolated, the rest as it was before the line."""

    def mix(a: float | None, b: float | None) -> float | None:
        return None if a is None or b is None else a + part * (b - a)

    return replace(
        last,
        speed=mix(last.speed, sample.speed),
        x=mix(last.x, sample.x),
        y=mix(last.y, sample.y),
        edge_left=mix(last.edge_left, sample.edge_left),
        edge_right=mix(last.edge_right, sample.edge_right),
    )
