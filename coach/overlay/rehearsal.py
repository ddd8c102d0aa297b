"""A drive that nobody drives, as events: an invented circuit on which all that the overlay shows comes once a minute.

The same every time, and endless. Each round begins as a session does, waits for its reference, drives a lap against it
that loses and then gains, and part of a second one, with a pause, a silent stream and a stop in the pits.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import count
from math import pi, sin

from coach.vocabulary.actions import MARK
from coach.vocabulary.events import Action, Cue, Delta, Event, Lap, Moment, Reference, Run, Spoken, Stream, Topic
from coach.vocabulary.trace import LapTrace

RATE = 60
"""moments a second, as a simulator sends"""
DELTA_EVERY = 6
"""moments from one delta to the next: ten a second, as the engine gives them"""
FAULTS = ("late_throttle", "early_braking", "missed_apex", "early_downshift", "wheelspin")
"""What the rounds work on, one of each family after the other."""

_STEP = 2.0
_LABEL = "rehearsal"
_OUT_LAP = 1


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the lap on which all is even: m, m/s, pedals 0..1, m/s^2."""

    metres: float
    speed: float
    throttle: float = 1.0
    brake: float = 0.0
    lateral: float = 0.0


_CIRCUIT = (
    Part(300, 60.0),
    *(Part(80, 40.0, 0.0, 0.8, 2.0), Part(70, 28.0, 0.3, 0.0, 18.0), Part(60, 40.0, 1.0, 0.0, 12.0)),
    Part(300, 50.0),
    *(Part(60, 40.0, 0.0, 0.8, 2.0), Part(56, 28.0, 0.3, 0.0, 18.0), Part(40, 40.0, 1.0, 0.0, 12.0)),
    Part(70, 47.0),
    *(Part(40, 40.0, 0.0, 0.6, 2.0), Part(60, 30.0, 0.4, 0.0, 18.0), Part(40, 40.0, 1.0, 0.0, 12.0)),
    Part(220, 55.0),
)
_CUE_AT = 540.0
"""m: behind the first corner, where the straight has begun"""
_CUE_TAKES, _CUE_ROOM = 1.2, 5.0
"""s that the cue takes, and from its start to where the driver is busy again"""
_REPORTED = 0.5
"""s from the line to the lap's result, which the coach looks over first"""
_SWING = 0.4
"""s that the driven lap swings to both sides of the reference"""
_GAIN = 0.18
"""s by which it is the better one in the end"""


@dataclass(frozen=True, slots=True)
class _Scene:
    """A piece of a round. `moves`: time passes for the car; `seen`: its samples come in."""

    name: str
    seconds: float
    moves: bool = True
    seen: bool = True


_SCENES = (
    _Scene("begin", 1.5, moves=False, seen=False),
    _Scene("out lap", 2.5),
    _Scene("drive", 38.0),
    _Scene("pause", 3.0, moves=False, seen=False),
    _Scene("drive", 3.0),
    _Scene("lost", 3.0, seen=False),
    _Scene("drive", 1.5),
    _Scene("pit", 4.0, moves=False),
)
"""The first drive is the lap and the first seconds of the next."""
_OUT = 2.5
"""s until the line is crossed first"""
ROUND = sum(scene.seconds for scene in _SCENES)
"""s of one round"""


class Rehearsal:
    """Gives the events as their time comes."""

    def __init__(self) -> None:
        self._events = rehearsal()
        self._next = next(self._events)

    def until(self, now: float) -> Iterator[Event]:
        """What has happened since the last call, up to `now` (s since the beginning)."""
        while self._next.t <= now:
            yield self._next
            self._next = next(self._events)


def rehearsal() -> Iterator[Event]:
    """Every event in the order of its `t`, from 0 s on, without end."""
    for number in count():
        topics = [FAULTS[(2 * number + lap) % len(FAULTS)] for lap in (0, 1)]
        yield from _Round(round(number * ROUND * RATE), topics).events()


@cache
def reference() -> LapTrace:
    """The lap that is driven against."""
    return lap_of(_CIRCUIT, _STEP)


def lap_of(parts: Iterable[Part], step: float) -> LapTrace:
    """A lap of even pieces, each a whole number of steps (m) long; a grid point is of the piece that it begins."""
    cells = [part for part in parts for _ in range(round(part.metres / step))]
    points = [*cells, cells[0]]
    time = [0.0]
    for part in cells:
        time.append(time[-1] + step / part.speed)
    return LapTrace(
        length=step * len(cells),
        step=step,
        time=time,
        speed=[part.speed for part in points],
        throttle=[part.throttle for part in points],
        brake=[part.brake for part in points],
        lateral=[part.lateral for part in points],
    )


class _Round:
    """One round from its first sample on. What is worked on changes with the second lap."""

    def __init__(self, first: int, topics: Sequence[str]) -> None:
        self._sample, self._moved = first, 0
        self._topics = topics
        self._trace = reference()
        self._whole = self._trace.time[-1]
        self._lap_seconds = self._whole + _delta(self._whole, self._whole, 0)
        self._lap = _OUT_LAP
        self._reported = self._cued = False

    def events(self) -> Iterator[Event]:
        """All of them, in order."""
        for number, scene in enumerate(_SCENES):
            since = self._t
            yield from self._opened(scene, number)
            for _ in range(round(scene.seconds * RATE)):
                if scene.seen:
                    yield from self._seen(scene.name == "pit")
                self._sample += 1
                self._moved += scene.moves
            yield from self._closed(scene, since)

    @property
    def _t(self) -> float:
        return self._sample / RATE

    def _opened(self, scene: _Scene, number: int) -> Iterator[Event]:
        t, lap = self._t, self._lap
        if scene.name == "drive" and lap == _OUT_LAP:
            yield Reference(t, _OUT_LAP, self._whole, _LABEL, self._trace)
            yield Topic(t, lap, self._topics[0])
        elif scene.name == "drive":
            yield Action(t, lap, MARK, self._place()[1])
        elif scene.name in ("pause", "pit", "lost"):
            yield Stream(t, lap, scene.name, t, None)

    def _closed(self, scene: _Scene, since: float) -> Iterator[Event]:
        t, lap = self._t, self._lap
        if scene.name == "begin":
            yield Run(t, lap, "", _LABEL, _LABEL, None, None, _LABEL)
            yield Topic(t, lap, None)
        elif scene.name in ("pause", "pit"):
            yield Stream(t, lap, scene.name, since, t)
        elif scene.name == "lost":
            yield Stream(t, lap, "back", since, t)

    def _seen(self, pit: bool) -> Iterator[Event]:
        """What a sample brings."""
        t = self._t
        number, distance, own, delta = self._place()
        if number != self._lap:
            self._lap = number
            if number > _OUT_LAP + 1:
                yield Topic(t, number, self._topics[1])
        if number > _OUT_LAP and not pit:
            yield from self._told(t, distance, own)
            if self._moved % DELTA_EVERY == 0:
                yield Delta(t, number, distance, delta, self._whole + delta)
        trace, cell = self._trace, min(int(distance / _STEP), len(self._trace.time) - 2)
        if pit:
            yield Moment(t, number, distance, 0.0, 0.0, 0.5, 0.0, "pit")
        else:
            yield Moment(
                t, number, distance, trace.speed[cell], trace.throttle[cell], trace.brake[cell], trace.lateral[cell]
            )

    def _told(self, t: float, distance: float, own: float) -> Iterator[Event]:
        """What the coach says of the lap: a cue on its second straight, and its result."""
        if self._lap == _OUT_LAP + 1 and not self._cued and distance >= _CUE_AT:
            self._cued = True
            fault = self._topics[0]
            of = (Spoken(self._lap, 1, fault),)
            text = fault.replace("_", " ")
            yield Cue(t, self._lap, "correction", fault, of, 1, text, True, t, t + _CUE_TAKES, t + _CUE_ROOM, None)
        if self._lap == _OUT_LAP + 2 and not self._reported and own >= _REPORTED:
            self._reported = True
            time, delta = self._lap_seconds, self._lap_seconds - self._whole
            yield Lap(t, self._lap - 1, time, None, True, (), delta, self._whole)

    def _place(self) -> tuple[int, float, float, float]:
        """Where the car is: the lap's number, m and s since its line, and the delta (s) there."""
        elapsed = self._moved / RATE - _OUT
        if elapsed < 0.0:
            return _OUT_LAP, self._distance(self._whole + elapsed), elapsed, 0.0
        lap, own = (0, elapsed) if elapsed < self._lap_seconds else (1, elapsed - self._lap_seconds)
        theirs = own
        for _ in range(8):  # the delta changes by less than a tenth of a second in one: each pass is ten times as near
            theirs = own - _delta(theirs, self._whole, lap)
        return _OUT_LAP + 1 + lap, self._distance(theirs), own, own - theirs

    def _distance(self, seconds: float) -> float:
        """m that the reference has gone after that many s."""
        trace = self._trace
        cell = max(0, min(bisect_right(trace.time, seconds), len(trace.time) - 1) - 1)
        passed = (seconds - trace.time[cell]) / (trace.time[cell + 1] - trace.time[cell])
        return max(0.0, min(trace.length, (cell + passed) * _STEP))


def _delta(seconds: float, whole: float, lap: int) -> float:
    """s behind where the reference is after `seconds` of its `whole` lap: on the first lap first lost, on the second
    first gained."""
    share = seconds / whole
    return (_SWING if lap == 0 else -_SWING) * sin(2.0 * pi * share) - _GAIN * share**2
