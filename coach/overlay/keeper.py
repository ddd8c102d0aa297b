"""Keeps the view: events in, and what is to be seen now out. Source time is its clock; it decides, it does not ease."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coach.overlay.number import AFTER, AFTER_SPEECH, Number
from coach.overlay.room import ReadingRoom
from coach.overlay.scales import offset_of, trend_of
from coach.overlay.slope import Slope
from coach.overlay.view import State, View
from coach.vocabulary.events import Cue, Delta, Detector, Event, Lap, Moment, Reference, Run, Stream

_STALE = 0.5
"""s after which a delta no longer counts: it comes ten times a second, or with each sample of a slower source."""
_RESULT = 2.5
"""s for which the lap's result stands behind the line, where the running delta begins again at nothing (choice)."""
_MOVED = ("reset", "teleport")
_ANOTHER_CLOCK = ("rewind", "source")
_DIMMED = 0.42
"""Brightness of the float that only waits: 3:1 on the plate still."""
_LEAST = 0.7
"""Brightness of the float at no delta, 4.5:1 on the plate in each of its colours; the rest comes with its size."""


class ViewKeeper:
    """`take` every event in order; `goal` is the view that follows from them.

    `take` costs a few microseconds and never raises for what a stream may hold. One thread may take while another
    reads `goal`: it is set whole. `spoken`: cues sound, so a number gives way to them and waits until none can begin.
    """

    def __init__(self, spoken: bool = True) -> None:
        self.goal = View(brightness=_DIMMED)
        self._room = ReadingRoom()
        self._slope = Slope()
        self._number = Number(AFTER_SPEECH if spoken else AFTER)
        self._delta: Delta | None = None
        self._trend = 0.0
        self._result: tuple[int, float, float] | None = None
        """the lap that ended, its delta (s), and until when (s of the source) it stands"""
        self._pit = self._paused = self._lost = False
        self._take: dict[type[Event], Callable[[Any], None]] = {
            Moment: self._moment,
            Delta: self._measured,
            Lap: self._ended,
            Reference: self._know,
            Detector: self._detected,
            Stream: self._streamed,
            Run: self._began,
        }
        if spoken:
            self._take[Cue] = self._number.hear

    def take(self, event: Event) -> View:
        """Take one event; returns the view as it is now, not eased."""
        take = self._take.get(type(event))
        if take is not None:
            take(event)
            self._show()
        return self.goal

    def _moment(self, moment: Moment) -> None:
        self._pit = moment.quiet == "pit"
        if self._delta is not None and not 0.0 <= moment.t - self._delta.t <= _STALE:
            self._forget()
        if self._result is not None and moment.t >= self._result[2]:
            self._result = None
        self._room.update(moment)
        self._number.update(moment.t, self._room, self._standing())

    def _measured(self, delta: Delta) -> None:
        before = self._delta
        if before is not None and delta.lap != before.lap:
            self._slope.clear()
            follows = delta.lap == before.lap + 1 and 0.0 <= delta.t - before.t <= _STALE
            self._result = (before.lap, before.delta, delta.t + _RESULT) if follows else None
        self._delta = delta
        self._trend = trend_of(self._slope.add(delta.t, delta.delta))

    def _ended(self, lap: Lap) -> None:
        """A lap's own delta is exact; the last running one is up to a tenth of a second old."""
        if self._result is not None and self._result[0] == lap.lap and lap.delta is not None:
            self._result = (lap.lap, lap.delta, self._result[2])

    def _know(self, reference: Reference) -> None:
        self._room.know(reference.trace)

    def _detected(self, detector: Detector) -> None:
        if detector.name == "reference" and not detector.on:
            self._forget()
            self._room.know(None)

    def _streamed(self, stream: Stream) -> None:
        if stream.what in _MOVED:
            self._moved()
        elif stream.what in _ANOTHER_CLOCK:
            self._restart()
        elif stream.what == "pit":
            self._pit = stream.end is None
        elif stream.what == "pause":
            self._paused = stream.end is None
        elif stream.what in ("lost", "back"):
            self._lost = stream.what == "lost"
        else:
            return
        self._room.leave()
        self._number.hide()

    def _began(self, run: Run) -> None:
        self._restart()
        self._room.know(None)

    def _moved(self) -> None:
        """The car was moved: what it was doing no longer holds."""
        self._forget()
        self._pit = self._paused = False

    def _restart(self) -> None:
        """Another run: times of before mean nothing on its clock."""
        self._moved()
        self._room.leave()
        self._number.reset()

    def _forget(self) -> None:
        self._delta = self._result = None
        self._trend = 0.0
        self._slope.clear()

    def _standing(self) -> float | None:
        """s: the delta to show, None where there is none."""
        if self._delta is None:
            return None
        return self._delta.delta if self._result is None else self._result[1]

    def _state(self) -> State:
        if self._lost:
            return "lost"
        if self._paused or self._pit:
            return "rest"
        return "waiting" if self._delta is None else "driving"

    def _show(self) -> None:
        state, standing = self._state(), self._standing()
        if state != "driving" or standing is None:
            if self.goal.state != state:
                self.goal = View(state, brightness=_DIMMED)
            return
        offset = offset_of(standing)
        trend = self._trend if self._result is None else 0.0
        number, goal = self._number, self.goal
        same = goal.state == state and goal.offset == offset and goal.trend == trend
        if not same or goal.number != number.text or goal.number_alpha != number.alpha:
            bright = _LEAST + (1.0 - _LEAST) * abs(offset)
            self.goal = View(state, offset, bright, trend, number.text, number.alpha)
