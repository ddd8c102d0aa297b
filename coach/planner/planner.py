"""The cue planner: findings in, cues out. Its only clock is the samples' own, so what is said replays."""

from __future__ import annotations

from coach.planner import cues, rules
from coach.planner.lengths import PhraseLengths
from coach.planner.room import Opening, Room
from coach.planner.start import PlannerStart
from coach.planner.waiting import Finding, Waiting
from coach.planner.wording import phrases
from coach.planner.worth import why_not
from coach.vocabulary.events import Corners, Detector, Event, Fault, Moment, Reference, Run, Stream

_JUMPS = {
    "reset": "the car was reset",
    "rewind": "the session was rewound",
    "teleport": "the car was moved",
    "pit": "in the pits",
    "pause": "paused",
    "source": "the source changed",
}
_NEW_RUN = ("reset", "rewind", "source")
_NO_ROOM = "no room before the corner came again"


class Planner:
    """Decides what is said, and when.

    `push` takes every event of the engine in order, `finish` ends the run; both return the cues that follow. Each
    Fault ends in exactly one Cue, spoken or held back with its reason. Never raises for what a stream may hold.
    """

    def __init__(self, start: PlannerStart) -> None:
        self._start = start
        self._lengths = PhraseLengths(start.lengths)
        self._room = Room(start.earliest)
        self._waiting = Waiting()
        self._told: set[tuple[int, int]] = set()
        self._moment: Moment | None = None
        self._spent: int | None = None
        self._silent_from: float | None = None
        self._t, self._lap = 0.0, 0

    def push(self, event: Event) -> list[Event]:
        """Take one event of the engine; give back what is said and what is held back."""
        if isinstance(event, Moment):
            return self._sample(event)
        if isinstance(event, Fault):
            return self._fault(event)
        if isinstance(event, (Reference, Corners)):
            self._learn(event)
        elif isinstance(event, Stream) and event.what in _JUMPS:
            return self._jump(event.t, event.lap, _JUMPS[event.what], event.what in _NEW_RUN)
        elif isinstance(event, Detector) and event.name == "reference" and not event.on:
            self._room.forget_circuit()
        elif isinstance(event, Run):
            self._room.forget_circuit()
            return self._jump(event.t, event.lap, "a new session began", True)
        return []

    def finish(self) -> list[Event]:
        """The run is over: what still waits is held back."""
        return self._drop(self._waiting.clear("the run ended first"))

    def _sample(self, moment: Moment) -> list[Event]:
        out: list[Event] = []
        if self._moment is not None and moment.t < self._moment.t:
            out += self._jump(moment.t, moment.lap, _JUMPS["rewind"], True)
        self._moment, self._t, self._lap = moment, moment.t, moment.lap
        self._room.update(moment)
        if moment.distance is not None and self._room.stretch_index() != self._spent:
            self._spent = None
        if self._waiting:
            out += self._expire(moment)
            out += self._speak(moment)
        return out

    def _fault(self, fault: Fault) -> list[Event]:
        self._t = fault.t
        self._lap = fault.lap if self._moment is None else self._lap
        reason = why_not(fault, self._start.focus)
        if reason is None and self._room.windows is None:
            reason = "no lap known yet to time it by"
        if reason is None and fault.corner is not None and (fault.lap, fault.corner) in self._told:
            reason = "another cue for this corner"
        finding = Finding(fault, fault.t)
        return self._drop([(finding, reason)] if reason is not None else self._waiting.add(finding))

    def _learn(self, event: Reference | Corners) -> None:
        spent_here = self._spent is not None and self._spent == self._room.stretch_index()
        if isinstance(event, Reference):
            self._room.know_reference(event.trace)
        else:
            self._room.know_corners(event.corners, event.trace)
        self._spent = self._room.stretch_index() if spent_here else None

    def _jump(self, t: float, lap: int, reason: str, new_run: bool) -> list[Event]:
        self._t, self._lap = t, lap
        self._room.forget_driver()
        self._spent = None
        if new_run:
            self._told.clear()
            self._silent_from = None
        return self._drop(self._waiting.clear(reason))

    def _expire(self, moment: Moment) -> list[Event]:
        """Drop what has waited until its corner is in sight again."""
        windows = self._room.windows
        late: list[tuple[Finding, str]] = []
        for finding in self._waiting:
            if windows is None or moment.t - finding.since > 2 * windows.lap_time:
                late.append((finding, finding.obstacle or _NO_ROOM))
                continue
            if moment.distance is None:
                continue
            brake = self._room.corners.brake(finding.fault.corner)
            place = finding.fault.distance if brake is None else brake
            if not windows.in_sight(moment.distance, place):
                finding.away = True
            elif finding.away:
                late.append((finding, finding.obstacle or _NO_ROOM))
        for finding, _ in late:
            self._waiting.remove(finding)
        return self._drop(late)

    def _speak(self, moment: Moment) -> list[Event]:
        if self._silent_from is not None and moment.t < self._silent_from + rules.GAP - rules.ROUNDING:
            return []
        opening = self._room.opening(moment)
        if opening is None or opening.stretch == self._spent:
            return []
        for finding in self._waiting:
            text = self._fitting(finding, moment, opening)
            if text is None:
                continue
            if moment.quiet:
                finding.obstacle = f"silent: {moment.quiet}"
                continue
            return [self._say(finding, text, moment, opening)]
        return []

    def _fitting(self, finding: Finding, moment: Moment, opening: Opening) -> str | None:
        """The fullest wording that may start now and ends in time."""
        if moment.t > max(opening.since, finding.since) + self._start.latest + rules.ROUNDING:
            return None
        fault, latest_end = finding.fault, opening.deadline - self._start.margin
        named = fault.corner is not None and not self._room.corners.is_last(fault.corner, opening.place)
        if named and not opening.settled:
            return None
        texts = phrases(fault.fault, fault.corner if named else None)
        for text in texts:
            length = self._lengths.of(text)
            if moment.t + length <= latest_end and (length <= rules.LONGEST or text == texts[-1]):
                return text
        return None

    def _say(self, finding: Finding, text: str, moment: Moment, opening: Opening) -> Event:
        fault = finding.fault
        self._waiting.remove(finding)
        if fault.corner is not None:
            self._told.add((fault.lap, fault.corner))
        self._spent = opening.stretch
        cue = cues.spoken(fault, moment.t, moment.lap, text, self._lengths.of(text), opening.deadline)
        self._silent_from = cue.ends
        return cue

    def _drop(self, findings: list[tuple[Finding, str]]) -> list[Event]:
        return [cues.held_back(finding.fault, self._t, self._lap, reason) for finding, reason in findings]
