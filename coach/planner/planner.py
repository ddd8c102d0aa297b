"""The cue planner: findings in, cues out. Its only clock is the samples' own, so what is said replays."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from coach.planner.alternation import Alternation
from coach.planner.answers import Answers
from coach.planner.focus import Focus, Turned
from coach.planner.lapcount import LapCount
from coach.planner.lapwords import HALF, LapWords
from coach.planner.phrases import Phrases
from coach.planner.practising import Practising
from coach.planner.record import Record
from coach.planner.room import Room
from coach.planner.settled import INCIDENTS
from coach.planner.speaking import CHEAP_TOLD, NO_LAP, Speaking, held_back
from coach.planner.stages import NOT_AT_THIS_STAGE, at_stage, speaks_of_seconds
from coach.planner.start import PlannerStart
from coach.planner.state import Practised, State
from coach.planner.stores import Tank
from coach.planner.waiting import ANOTHER, Dropped
from coach.planner.wish import CORRECTION, PRAISE, SUMMARY, Rank, Wish
from coach.planner.worth import costs_nothing, is_slight, why_excluded, why_not, worth
from coach.vocabulary.actions import NEXT_TOPIC, topic_of
from coach.vocabulary.events import (
    Action,
    Advice,
    Answer,
    Corners,
    Detector,
    Event,
    Fault,
    Lap,
    Loss,
    Moment,
    Passed,
    Reference,
    Run,
    Spoken,
    Stage,
    Stores,
    Stream,
    Topic,
)
from coach.vocabulary.stages import PACE, STAGES

_JUMPS = {
    "reset": "the car was reset",
    "rewind": "the session was rewound",
    "teleport": "the car was moved",
    "pit": "in the pits",
    "pause": "paused",
    "source": "the source changed",
}
_NEW_RUN = ("reset", "rewind", "source")
_NO_FLYING_LAP = {"out_lap", "in_lap", "standing_start", "pit", "paused", "gap", "reset"}
"""What makes a lap's time say nothing of how its driver drives."""


class Planner:
    """Decides what is said, and when.

    `push` takes every event of the engine in order, `finish` ends the run; both return the cues that follow, and the
    advice on what is worked on. Each Fault stands in exactly one correction, spoken or held back with its reason, or in
    a reminder, which may speak of one that was held back too. Never raises for what a stream may hold.
    """

    def __init__(self, start: PlannerStart) -> None:
        self._start = start
        self._told_stage = PACE
        self._room = Room(start.earliest)
        self._moment: Moment | None = None
        self._t, self._lap = 0.0, 0
        self._topic: str | None = None
        self._new_session(None, None)

    def push(self, event: Event) -> list[Event]:
        """Take one event of the engine; give back what is said and what is held back."""
        if isinstance(event, Moment):
            return self._sample(event)
        if isinstance(event, Fault):
            return self._fault(event)
        if isinstance(event, Passed):
            return self._passed(event)
        if isinstance(event, Lap):
            return self._lap_over(event)
        if isinstance(event, Stores):
            self._tank.update(event)
            self._practising.stores(event)
        elif isinstance(event, Loss):
            self._words.loss(event)
        elif isinstance(event, (Reference, Corners)):
            self._learn(event)
        elif isinstance(event, Action):
            return self._act(event)
        elif isinstance(event, Answer):
            self._t, self._lap = event.t, event.lap
            return self._drop(self._answers.answered(event, self._speaking.waiting, self._phrases))
        elif isinstance(event, Stream) and event.what in _JUMPS:
            return self._jump(event.t, event.lap, _JUMPS[event.what], event.what in _NEW_RUN)
        elif isinstance(event, Detector) and event.name == "reference" and not event.on:
            self._room.forget_circuit()
        elif isinstance(event, Run):
            return self._run(event)
        return []

    def recall(self, state: dict[str, Any] | None, stage: str | None) -> list[Event]:
        """What is kept of this driver, car and circuit: the `state` of another day's `Practised`, and the stage.

        Raises FormatError for a state that is none.
        """
        known = None if state is None else State.from_json(state)
        return [*self._go_to(stage), *([] if known is None else self._recall(known))]

    def finish(self) -> list[Event]:
        """The run is over: what still waits is held back."""
        out = self._drop(self._speaking.waiting.clear("the run ended first")) + self._report()
        return out if self._moment is None else [*out, self._practised(self._laps.now)]

    def _new_session(self, track: str | None, car: str | None) -> None:
        """Another driver, car or circuit: nothing of what was learned holds."""
        playbook = self._start.playbook
        self._phrases = Phrases(playbook, track)
        self._class = playbook.car_class(car)
        self._laps = LapCount()
        self._record = Record()
        named = self._start.stage or playbook.stage
        self._practising = Practising(named or PACE, named is not None)
        self._book = at_stage(playbook, self._practising.stage)
        self._focus = Focus(self._book, self._start.focus, self._record)
        self._words = LapWords(self._book.talk, speaks_of_seconds(self._practising.stage))
        self._tank = Tank()
        self._answers = Answers()
        self._alternation = Alternation(playbook.talk.alternate)
        self._speaking = Speaking(
            replace(self._start, playbook=self._book),
            self._room,
            self._phrases,
            self._record,
            self._focus,
            self._answers,
            self._alternation,
            self._laps,
        )
        self._at_the_line = False
        self._is_race = False

    def _run(self, event: Run) -> list[Event]:
        self._room.forget_circuit()
        out = self._jump(event.t, event.lap, "a new session began", True) + self._report()
        self._new_session(event.track, event.car)
        return out + self._tell_topic() + self._told(self._practising.begin(event.t, event.lap, self._told_stage))

    def _sample(self, moment: Moment) -> list[Event]:
        out: list[Event] = []
        if self._moment is not None and moment.t < self._moment.t:
            self._speaking.turned_back(self._moment.t - moment.t)
            out += self._jump(moment.t, moment.lap, _JUMPS["rewind"], True)
        self._moment, self._t, self._lap = moment, moment.t, moment.lap
        if moment.quiet in ("", "race"):  # any other reason hides whether it is a race
            self._is_race = moment.quiet == "race"
        self._laps.update(moment.lap)
        self._room.update(moment)
        if self._at_the_line:
            self._at_the_line = False
            out += self._sentence(moment)
        for cue, wish in self._speaking.sample(moment):
            out.append(cue)
            if wish is not None:
                out += self._said(wish, cue.text)
        return out

    def _said(self, wish: Wish, text: str) -> list[Event]:
        """What follows from a cue: what it tells need not be told once more."""
        self._words.said(wish, text, self._phrases)
        if wish.rank is Rank.FUEL:
            self._tank.warned()
        waiting = self._speaking.waiting
        known = [one for one in waiting if one.kind == SUMMARY and one.about is not None and one.about == wish.about]
        for one in known:
            waiting.remove(one)
        return self._drop([(one, "a cue has told it") for one in known])

    def _fault(self, fault: Fault) -> list[Event]:
        self._t = fault.t
        self._lap = fault.lap if self._moment is None else self._lap
        self._speaking.settling.found(fault)
        self._practising.found(fault)
        reason = why_not(fault, self._start.focus, self._start.playbook, self._class)
        if reason is None and not self._is_coached(fault.fault):
            reason = NOT_AT_THIS_STAGE
        if reason is None:
            lap = self._laps.of(fault.lap)
            self._record.found(fault, lap)
            self._words.found()
            reason = self._focus.found(fault, lap)
            if reason is not None:
                self._record.told(fault, lap)  # let pass: no reminder is to make up for it
        elif is_slight(fault, self._class):
            self._record.slight(fault)
        if reason is None and self._room.windows is None:
            reason = NO_LAP
        if reason is None and self._speaking.was_told(fault):
            reason = ANOTHER
        if reason is None and self._speaking.was_told_cheaply(fault):
            reason = CHEAP_TOLD
        wish = self._correction(fault)
        return self._drop([(wish, reason)] if reason is not None else self._speaking.waiting.add(wish))

    def _correction(self, fault: Fault) -> Wish:
        topic = self._focus.topic(fault.fault)
        first = fault.fault in self._book.first
        first = first and (fault.fault in INCIDENTS or not costs_nothing(fault))
        attempt = 0 if topic is None else topic.attempt
        brake = self._room.corners.brake(fault.corner)
        return Wish(
            CORRECTION,
            Rank.FIRST if first else Rank.TOPIC if topic is not None else Rank.OTHER,
            fault.t,
            self._phrases.correction(fault.fault, fault.size, None, attempt),
            () if fault.corner is None else self._phrases.correction(fault.fault, None, fault.corner, attempt),
            self._phrases.everywhere(fault.fault, attempt),
            worth=worth(fault),
            about=fault.fault,
            of=(Spoken(fault.lap, fault.corner, fault.fault),),
            corner=fault.corner,
            lap=self._laps.of(fault.lap),
            place=fault.distance if brake is None else brake,
            fault=fault,
        )

    def _passed(self, event: Passed) -> list[Event]:
        lap = self._laps.of(event.lap)
        if event.judged:
            self._alternation.judged(lap)
        self._record.passed(event, lap)
        self._practising.passed(event)
        turned = self._focus.passed(event)
        return [] if turned is None else self._turn([turned], event.t, event.lap)

    def _lap_over(self, event: Lap) -> list[Event]:
        lap, flying = self._laps.of(event.lap), not _NO_FLYING_LAP.intersection(event.why_not)
        self._record.lap_over(lap, event.time is not None and flying)
        self._words.lap_over(event)
        self._tank.lap_over(event.time)
        self._alternation.lap_over(lap, event.time if event.clean else None)
        self._at_the_line = True
        slower = (
            event.delta / event.reference_time if flying and event.delta is not None and event.reference_time else None
        )
        out = self._turn(self._focus.lap_over(lap, slower), event.t, event.lap)
        return [*out, *self._told(self._practising.lap_over(event, self._topic)), self._practised(lap)]

    def _practised(self, lap: int) -> Practised:
        """What another day may go on from, after `lap`."""
        record = self._record
        state = State(record.reference, self._words.best, record.kept(lap))
        self._focus.keep(lap, state)
        return Practised(self._t, self._lap, state.to_json())

    def _recall(self, state: State) -> list[Event]:
        self._record.recall(state.trails, state.reference)
        self._words.recall(state.best)

        def coached(fault: str) -> bool:
            excluded = why_excluded(fault, self._start.focus, self._start.playbook)
            return excluded is None and self._is_coached(fault)

        return self._turn(self._focus.recall(state, coached), self._t, self._lap)

    def _turn(self, turned: list[Turned], t: float, lap: int) -> list[Event]:
        """The topic has changed: it is logged, shown, said at the line, and praised where it is mended."""
        out: list[Event] = []
        for one in turned:
            out.append(_advice(one, t, lap, self._has_seconds))
            fault = one.topic.fault
            if one.what in ("chosen", "returned", "asked", "resumed"):
                if self._book.talk.focus and not one.topic.fixed:
                    self._words.focus(fault, self._phrases.focus(fault))
                continue
            self._words.left(fault)
            if one.what == "mended" and self._book.talk.praise:
                texts = self._phrases.mended(fault, one.gain if self._has_seconds else None)
                praise = Wish(PRAISE, Rank.PRAISE, t, texts, about=fault, lap=lap, until=t + self._lap_time)
                out += self._drop(self._speaking.waiting.add(praise))
        return out + self._tell_topic()

    def _tell_topic(self) -> list[Event]:
        """What is worked on now, where that is another thing than before; of several, the first."""
        topic = next((topic.fault for topic in self._focus.topics), None)
        if topic == self._topic:
            return []
        self._topic = topic
        return [Topic(self._t, self._lap, topic)]

    def _told(self, events: list[Event]) -> list[Event]:
        """What the stage gave rise to, which stage that is being remembered."""
        for event in events:
            if isinstance(event, Stage):
                self._told_stage = event.stage
        return events

    def _go_to(self, stage: str | None) -> list[Event]:
        """On with the stage of an earlier day, unless one was named for today, or it is the one that it is at: pace, at
        which everyone begins, is told of only where somebody named it."""
        named = self._start.stage or self._start.playbook.stage
        if stage not in STAGES or named is not None or stage == self._practising.stage:
            return []
        self._practising.name(stage)
        self._book = at_stage(self._start.playbook, stage)
        self._focus.narrow(self._book)
        self._words.narrow(self._book.talk, self._has_seconds)
        self._speaking.narrow(replace(self._start, playbook=self._book))
        return self._tell_topic() + self._told(self._practising.begin(self._t, self._lap, self._told_stage))

    def _is_coached(self, fault: str) -> bool:
        """Whether it is spoken of at this stage; what was asked for by name is at any."""
        return bool(self._start.focus) or self._book.coaches(fault)

    @property
    def _has_seconds(self) -> bool:
        """Whether seconds are spoken of."""
        return speaks_of_seconds(self._practising.stage)

    def _sentence(self, moment: Moment) -> list[Event]:
        """Once what the lap came to is known: the one sentence that is said of it."""
        wish = self._words.sentence(moment.t, moment.lap, self._tank, self._phrases, self._practising)
        if wish is None:
            return []
        wish.until = moment.t + HALF * self._lap_time
        fuel = self._tank.advice(moment.t, moment.lap) if wish.rank is Rank.FUEL else None
        return [*([] if fuel is None else [fuel]), *self._drop(self._speaking.waiting.add(wish))]

    def _act(self, action: Action) -> list[Event]:
        self._t, self._lap = action.t, action.lap
        waiting = self._speaking.waiting
        race = self._is_race and self._start.playbook.silence.race
        out = self._drop(self._answers.act(action, waiting, self._tank, self._phrases, race))
        fault = topic_of(action.action)
        if fault is not None and why_excluded(fault, self._start.focus, self._start.playbook) is not None:
            return [*out, _not_coached(fault, action, "the playbook or --focus leaves it out")]
        if fault is not None and not self._is_coached(fault):
            return [*out, _not_coached(fault, action, f"the stage {self._practising.stage} leaves it out")]
        if fault is not None or action.action == NEXT_TOPIC:
            now = self._laps.now
            turned = self._focus.leave(now) if fault is None else self._focus.work_on(fault, now)
            left = {one.topic.fault for one in turned if one.what == "left"}
            for wish in [wish for wish in waiting if wish.kind == CORRECTION and wish.about in left]:
                waiting.remove(wish)
                out += self._drop([(wish, "left for now")])
            out += self._turn(turned, action.t, action.lap)
            self._at_the_line = True  # the next topic is said at once
        return out

    def _learn(self, event: Reference | Corners) -> None:
        spent_here = self._speaking.spent_here
        if isinstance(event, Reference):
            self._room.know_reference(event.trace)
            self._record.new_reference(event.lap, event.time)
            self._words.new_reference()
        else:
            self._room.know_corners(event.corners, event.trace)
        self._speaking.learned(spent_here)

    def _jump(self, t: float, lap: int, reason: str, new_run: bool) -> list[Event]:
        self._t, self._lap = t, lap
        self._room.forget_driver()
        self._speaking.moved()
        if new_run:
            self._laps.new_run()
            self._alternation.new_run()
            self._practising.new_run()
        return self._drop(self._speaking.waiting.clear(reason))

    def _report(self) -> list[Event]:
        report = self._alternation.report(self._t, self._lap, self._speaking.has_spoken, self._has_seconds)
        return [] if report is None else [report]

    @property
    def _lap_time(self) -> float:
        return 0.0 if self._room.windows is None else self._room.windows.lap_time

    def _drop(self, dropped: Dropped) -> list[Event]:
        return held_back(dropped, self._t, self._lap)


def _advice(turned: Turned, t: float, lap: int, has_seconds: bool) -> Advice:
    topic = turned.topic
    corners = [corner for corner in topic.corners if corner is not None]
    turns = "turn" if len(corners) == 1 else "turns"
    where = f" in {turns} {', '.join(map(str, sorted(corners)))}" if corners else ""
    name = topic.fault.replace("_", " ")
    gained = "" if turned.gain is None or not has_seconds else f", {turned.gain:.2f} s a lap"
    cost = f": {turned.cost:.2f} s a lap" if has_seconds else ""
    text = {
        "asked": f"working on {name}{where}, as asked",
        "resumed": f"going on with {name}{where}{cost}",
        "chosen": f"working on {name}{where}{cost}",
        "returned": f"{name} has come back{where}{cost}",
        "mended": f"{name} is mended{where}{gained}",
        "stuck": f"{name} does not get better{where}: something else first",
        "left": f"{name} is left for now",
    }[turned.what]
    numbers = {"cost": turned.cost} if turned.gain is None else {"gain": turned.gain}
    return Advice(t, lap, "practice", text, numbers)


def _not_coached(fault: str, action: Action, why: str) -> Advice:
    text = f"{fault.replace('_', ' ')} is not coached here: {why}"
    return Advice(action.t, action.lap, "practice", text)
