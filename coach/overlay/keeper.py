"""Keeps the view: events in, and what is to be seen now out. Source time is its clock; it decides, it does not ease."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coach.overlay.look import Look
from coach.overlay.palette import DIMMEST, FAINT
from coach.overlay.reading import Reading
from coach.overlay.room import ReadingRoom
from coach.overlay.scales import offset_of, trend_of
from coach.overlay.signs import Sign, sign_of
from coach.overlay.slope import Slope
from coach.overlay.view import State, View
from coach.vocabulary.actions import ACTIONS
from coach.vocabulary.events import (
    Action,
    Cue,
    Delta,
    Detector,
    Event,
    Lap,
    Moment,
    Reference,
    Run,
    Stage,
    Stream,
    Topic,
)
from coach.vocabulary.stages import shows_times

_STALE = 0.5
"""s after which a delta no longer counts: it comes ten times a second, or with each sample of a slower source."""
_RESULT = 2.5
"""s for which the lap's result stands behind the line, where the running delta begins again at nothing (choice)."""
_MOVED = ("reset", "teleport")
_ANOTHER_CLOCK = ("rewind", "source")
_NOTED = 0.5
"""s of the source for which a press is noted, before its mark fades (choice)."""
_USUAL = Look()


class ViewKeeper:
    """`take` every event in order; `goal` is the view that follows from them.

    `take` costs a few microseconds and never raises for what a stream may hold. One thread may take while another
    reads `goal`: it is set whole. Where lap time is hidden, by the look or by the stage of practice, it never hears of
    a delta, so none can show; it then waits only for the reference, which says where there is room to read.
    """

    def __init__(self, look: Look = _USUAL) -> None:
        self._look = look
        self._timed = look.times
        self.goal = View(brightness=FAINT, timed=look.times)
        self._room = ReadingRoom()
        self._slope = Slope()
        self._reading = Reading(look)
        self._sign: Sign | None = None
        self._presses, self._noted_until = 0, float("-inf")
        self._delta: Delta | None = None
        self._trend = 0.0
        self._result: tuple[int, float, float] | None = None
        """the lap that ended, its delta (s), and until when (s of the source) it stands"""
        self._heard = self._referred = self._pit = self._paused = self._lost = False
        self._take: dict[type[Event], Callable[[Any], None]] = {
            Moment: self._moment,
            Reference: self._know,
            Detector: self._detected,
            Stream: self._streamed,
            Run: self._began,
            Cue: self._reading.hear,
            Topic: self._work_on,
            Action: self._acted,
            Stage: self._staged,
        }
        self._times: dict[type[Event], Callable[[Any], None]] = {Delta: self._measured, Lap: self._ended}
        if look.times:
            self._take |= self._times

    def take(self, event: Event) -> View:
        """Take one event; returns the view as it is now, not eased."""
        take = self._take.get(type(event))
        if take is not None:
            take(event)
            self._show()
        return self.goal

    def _moment(self, moment: Moment) -> None:
        self._heard = True
        if moment.t >= self._noted_until:
            self._noted_until = float("-inf")
        self._pit = moment.quiet == "pit"
        if self._delta is not None and not 0.0 <= moment.t - self._delta.t <= _STALE:
            self._forget()
        if self._result is not None and moment.t >= self._result[2]:
            self._result = None
        self._room.update(moment)
        if self._state() == "driving":
            standing = self._standing()
            offset = 0.0 if standing is None else offset_of(standing)
            self._reading.update(moment.t, self._room, standing, offset)
        else:
            self._reading.hide()

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
        self._referred = True
        self._settle()  # deltas to another lap are no gain or loss
        self._room.know(reference.trace)

    def _work_on(self, topic: Topic) -> None:
        self._sign = sign_of(topic.fault)

    def _staged(self, stage: Stage) -> None:
        timed = self._look.times and shows_times(stage.stage)
        if timed == self._timed:
            return
        self._timed = timed
        self._forget()
        if timed:
            self._take |= self._times
        else:
            self._reading.hide()  # a number that stands there is a delta
            for kind in self._times:
                del self._take[kind]

    def _acted(self, action: Action) -> None:
        if action.action in ACTIONS:
            self._presses += 1
            self._noted_until = action.t + _NOTED

    def _detected(self, detector: Detector) -> None:
        if detector.name == "reference" and not detector.on:
            self._forget()
            self._forgo()

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
        self._reading.hide()

    def _began(self, run: Run) -> None:
        self._heard = True
        self._restart()
        self._forgo()

    def _forgo(self) -> None:
        """There is no reference any more."""
        self._referred = False
        self._room.know(None)

    def _moved(self) -> None:
        """The car was moved: what it was doing no longer holds."""
        self._forget()
        self._pit = self._paused = False

    def _restart(self) -> None:
        """Another run: times of before mean nothing on its clock."""
        self._moved()
        self._room.leave()
        self._reading.reset()
        self._noted_until = float("-inf")

    def _forget(self) -> None:
        self._delta = self._result = None
        self._settle()

    def _settle(self) -> None:
        """Nothing is known of the trend."""
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
            return "paused" if self._paused else "pit"
        if not self._heard:
            return "silent"
        knows = self._delta is not None if self._timed else self._referred
        return "driving" if knows else "waiting"

    def _show(self) -> None:
        """Make another view only where something changed: `take` is called with every sample."""
        state, standing = self._state(), self._standing()
        driving, reading, goal = state == "driving", self._reading, self.goal
        offset = offset_of(standing) if driving and standing is not None else 0.0
        trend = self._trend if driving and self._result is None else 0.0
        text, alpha = (reading.text, reading.alpha) if driving else (None, 0.0)
        runs = state in ("driving", "waiting", "pit")  # elsewhere the source's clock stands
        noted = 1.0 if runs and self._noted_until > float("-inf") else 0.0
        new = (state, offset, trend, text, alpha, reading.above, self._sign, noted, self._presses, self._timed)
        old = (goal.state, goal.offset, goal.trend, goal.text, goal.text_alpha, goal.text_above, goal.sign, goal.noted)
        if new != (*old, goal.presses, goal.timed):
            bright = DIMMEST + (1.0 - DIMMEST) * abs(offset) if driving else FAINT
            read = (text, alpha, reading.above)
            self.goal = View(state, offset, bright, trend, *read, self._sign, noted, self._presses, self._timed)
