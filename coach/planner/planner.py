"""The cue planner: findings in, cues out. Its only clock is the samples' own, so what is said replays."""

from __future__ import annotations

from coach.planner import cues, rules
from coach.planner.alternation import Alternation
from coach.planner.answers import Answers
from coach.planner.focus import Focus, Turned
from coach.planner.lapwords import HALF, LapWords
from coach.planner.lengths import PhraseLengths
from coach.planner.phrases import Phrases
from coach.planner.record import Record
from coach.planner.reminders import Due, Reminders
from coach.planner.room import Opening, Room
from coach.planner.settled import INCIDENTS, Settling
from coach.planner.start import PlannerStart
from coach.planner.stores import Tank
from coach.planner.waiting import ANOTHER, Dropped, Waiting
from coach.planner.wish import CORRECTION, PRAISE, REMINDER, STATUS, SUMMARY, Rank, Wish
from coach.planner.worth import costs_nothing, why_not, worth
from coach.vocabulary.actions import NEXT_TOPIC
from coach.vocabulary.events import (
    Action,
    Advice,
    Corners,
    Cue,
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
    Stores,
    Stream,
)

_JUMPS = {
    "reset": "the car was reset",
    "rewind": "the session was rewound",
    "teleport": "the car was moved",
    "pit": "in the pits",
    "pause": "paused",
    "source": "the source changed",
}
_NEW_RUN = ("reset", "rewind", "source")
_NO_LAP = "no lap known yet to time it by"
_NO_ROOM = "no room before the corner came again"
_TOO_LATE = "no room while it was news"
_ENOUGH = "enough was said on this lap"
_UNCUED = "a lap without cues"
_UPSET = "the car was not settled"


class Planner:
    """Decides what is said, and when.

    `push` takes every event of the engine in order, `finish` ends the run; both return the cues that follow, and the
    advice on what is worked on. Each Fault ends in exactly one Cue, spoken or held back with its reason, and so does
    everything else that wanted to be said. Never raises for what a stream may hold.
    """

    def __init__(self, start: PlannerStart) -> None:
        self._start = start
        self._talk = start.playbook.talk
        self._lengths = PhraseLengths(start.lengths)
        self._room = Room(start.earliest)
        self._waiting = Waiting()
        self._moment: Moment | None = None
        self._t, self._lap = 0.0, 0
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
        elif isinstance(event, Loss):
            self._words.loss(event)
        elif isinstance(event, (Reference, Corners)):
            self._learn(event)
        elif isinstance(event, Action):
            return self._act(event)
        elif isinstance(event, Stream) and event.what in _JUMPS:
            return self._jump(event.t, event.lap, _JUMPS[event.what], event.what in _NEW_RUN)
        elif isinstance(event, Detector) and event.name == "reference" and not event.on:
            self._room.forget_circuit()
        elif isinstance(event, Run):
            return self._run(event)
        return []

    def finish(self) -> list[Event]:
        """The run is over: what still waits is held back."""
        report = self._alternation.report(self._t, self._lap)
        return [*self._drop(self._waiting.clear("the run ended first")), *([] if report is None else [report])]

    # what comes in

    def _new_session(self, track: str | None, car: str | None) -> None:
        """Another driver, car or circuit: nothing of what was learned holds."""
        playbook = self._start.playbook
        self._phrases = Phrases(playbook, track)
        self._class = playbook.car_class(car)
        self._record = Record()
        self._focus = Focus(playbook, self._start.focus, self._record)
        self._words = LapWords(self._talk)
        self._tank = Tank()
        self._answers = Answers()
        self._alternation = Alternation(self._talk.alternate)
        self._reminders = Reminders(self._room, self._record)
        self._settling = Settling(playbook.silence.after_incident)
        self._line: int | None = None
        self._new_run()

    def _new_run(self) -> None:
        self._told: set[tuple[int, int]] = set()
        self._cheap_told: set[tuple[int, str]] = set()
        self._said = 0
        self._first_lap: int | None = None
        self._spent: int | None = None
        self._silent_from: float | None = None
        self._alternation.new_run()

    def _run(self, event: Run) -> list[Event]:
        self._room.forget_circuit()
        out = self._jump(event.t, event.lap, "a new session began", True)
        self._new_session(event.track, event.car)
        return out

    def _sample(self, moment: Moment) -> list[Event]:
        out: list[Event] = []
        if self._moment is not None and moment.t < self._moment.t:
            out += self._jump(moment.t, moment.lap, _JUMPS["rewind"], True)
        if self._moment is not None and moment.lap != self._moment.lap:
            self._said = 0
        self._moment, self._t, self._lap = moment, moment.t, moment.lap
        if self._first_lap is None:
            self._first_lap = moment.lap
        self._room.update(moment)
        if self._settling.is_upset or moment.quiet == "off":
            self._settling.update(moment, self._room.reference_speed())
        if moment.distance is not None and self._room.stretch_index() != self._spent:
            self._spent = None
        if self._line is not None:
            out += self._at_the_line(moment, self._line)
        if self._waiting:
            out += self._expire(moment)
        return out + self._speak(moment)

    def _fault(self, fault: Fault) -> list[Event]:
        self._t = fault.t
        self._lap = fault.lap if self._moment is None else self._lap
        self._settling.found(fault)
        reason = why_not(fault, self._start.focus, self._start.playbook, self._class)
        if reason is None:
            self._record.found(fault)
            self._words.found()
            reason = self._focus.found(fault)
        if reason is None and self._room.windows is None:
            reason = _NO_LAP
        if reason is None and fault.corner is not None and (fault.lap, fault.corner) in self._told:
            reason = ANOTHER
        if reason is None and self._first_lap is not None:
            early = fault.lap - self._first_lap < self._start.playbook.silence.first_laps
            reason = "the first laps are without a word" if early else None
        wish = self._correction(fault)
        if reason is None and costs_nothing(fault) and not self._start.focus:
            if (fault.lap, fault.fault) in self._cheap_told:
                reason = "told on this lap already"
            self._cheap_told.add((fault.lap, fault.fault))
        return self._drop([(wish, reason)] if reason is not None else self._waiting.add(wish))

    def _correction(self, fault: Fault) -> Wish:
        topic = self._focus.topic(fault.fault)
        first = fault.fault in self._start.playbook.first
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
            lap=fault.lap,
            place=fault.distance if brake is None else brake,
            fault=fault,
        )

    def _passed(self, event: Passed) -> list[Event]:
        self._record.passed(event)
        turned = self._focus.passed(event)
        if turned is None:
            return []
        out: list[Event] = [_advice(turned, event.t, event.lap)]
        if self._talk.praise:
            texts = self._phrases.mended(turned.topic.fault, turned.gain)
            lap_time = 0.0 if self._room.windows is None else self._room.windows.lap_time
            praise = Wish(PRAISE, Rank.PRAISE, event.t, texts, about=turned.topic.fault, lap=event.lap)
            praise.until = event.t + lap_time
            out += self._drop(self._waiting.add(praise))
        return out

    def _lap_over(self, lap: Lap) -> list[Event]:
        self._record.lap_over(lap.lap)
        self._words.lap_over(lap)
        self._tank.lap_over(lap.time)
        self._alternation.lap_over(lap)
        self._line = lap.lap
        return self._turn(self._focus.lap_over(lap.lap, lap.delta, lap.reference_time), lap.t, lap.lap)

    def _turn(self, turned: list[Turned], t: float, lap: int) -> list[Event]:
        """The topic has changed: it is logged, and said at the line."""
        for one in turned:
            if one.what in ("chosen", "returned") and self._talk.focus and not one.topic.fixed:
                self._words.focus(one.topic.fault, self._phrases.focus(one.topic.fault))
        return [_advice(one, t, lap) for one in turned]

    def _at_the_line(self, moment: Moment, lap: int) -> list[Event]:
        """Once what the lap came to is known: the one sentence that is said of it."""
        self._line = None
        wish = self._words.sentence(moment.t, moment.lap, self._tank, self._phrases)
        if wish is None:
            return []
        lap_time = 0.0 if self._room.windows is None else self._room.windows.lap_time
        wish.until = moment.t + HALF * lap_time
        fuel = self._tank.advice(moment.t, moment.lap) if wish.kind == STATUS else None
        return [*([] if fuel is None else [fuel]), *self._drop(self._waiting.add(wish))]

    def _act(self, action: Action) -> list[Event]:
        self._t, self._lap = action.t, action.lap
        out = self._drop(self._answers.act(action, self._waiting, self._tank, self._phrases))
        if action.action == NEXT_TOPIC:
            out += self._turn(self._focus.leave(action.lap), action.t, action.lap)
            self._line = action.lap  # it is said at once
        return out

    def _learn(self, event: Reference | Corners) -> None:
        spent_here = self._spent is not None and self._spent == self._room.stretch_index()
        if isinstance(event, Reference):
            self._room.know_reference(event.trace)
            self._record.new_reference()
            self._words.new_reference()
        else:
            self._room.know_corners(event.corners, event.trace)
        self._spent = self._room.stretch_index() if spent_here else None

    def _jump(self, t: float, lap: int, reason: str, new_run: bool) -> list[Event]:
        self._t, self._lap = t, lap
        self._room.forget_driver()
        self._settling.reset()
        self._spent = None
        if new_run:
            self._new_run()
        return self._drop(self._waiting.clear(reason))

    # what goes out

    def _expire(self, moment: Moment) -> list[Event]:
        """Drop what has waited until its corner is in sight again, or until it is no news any more."""
        windows = self._room.windows
        late: Dropped = []
        for wish in self._waiting:
            if windows is None:
                late.append((wish, _NO_LAP))
            elif wish.until is not None and moment.t > wish.until:
                late.append((wish, wish.obstacle or _TOO_LATE))
            elif moment.t - wish.since > 2 * windows.lap_time:
                late.append((wish, wish.obstacle or _NO_ROOM))
            elif moment.distance is not None and wish.place is not None:
                if not windows.in_sight(moment.distance, wish.place):
                    wish.away = True
                elif wish.away:
                    late.append((wish, wish.obstacle or _NO_ROOM))
        for wish, _ in late:
            self._waiting.remove(wish)
        return self._drop(late)

    def _speak(self, moment: Moment) -> list[Event]:
        """What is said at this sample, if anything may be."""
        if self._silent_from is not None and moment.t < self._silent_from + rules.GAP - rules.ROUNDING:
            return []
        due = self._reminders_due(moment)
        if not self._waiting and not due:
            return []
        opening = self._room.opening(moment)
        if opening is None:
            return []
        for wish in self._waiting:
            if opening.stretch == self._spent and wish.rank is not Rank.ASKED:
                continue
            if wish.kind == SUMMARY and self._reminders.come(due, opening):
                continue  # the straight before the corner that is worked on is for that corner
            text = self._fitting(wish, moment, opening)
            if text is None:
                continue
            obstacle = self._obstacle(wish, moment)
            if obstacle:
                wish.obstacle = obstacle
                continue
            return [self._say(wish, text, moment, opening)]
        return self._remind(due, moment, opening)

    def _reminders_due(self, moment: Moment) -> list[Due]:
        if not self._talk.reminders or moment.quiet or self._answers.muted or not self._alternation.is_cued(moment.lap):
            return []
        return self._reminders.due(self._focus.topics, moment.lap)

    def _remind(self, dues: list[Due], moment: Moment, opening: Opening) -> list[Event]:
        for due in dues:
            fault, corner = due.topic.fault, due.corner
            texts = self._phrases.reminder(fault, corner, due.topic.attempt)
            text = self._that_fits(texts, moment, opening)
            if text is None or self._settling.is_upset:
                continue
            if not self._reminders.is_now(due, opening, moment.t, self._lengths.of(text), self._start.latest):
                continue
            of = () if due.turn.told else (Spoken(due.turn.lap, corner, fault),)
            wish = Wish(REMINDER, Rank.TOPIC, moment.t, texts, about=fault, of=of, corner=corner, lap=moment.lap)
            for other in list(self._waiting):
                if (other.kind, other.about, other.corner) == (CORRECTION, fault, corner):
                    self._waiting.remove(other)  # it speaks of the same
            due.turn.told = True
            self._reminders.said(due, moment.lap)
            self._waiting.add(wish)
            return [self._say(wish, text, moment, opening)]
        return []

    def _obstacle(self, wish: Wish, moment: Moment) -> str:
        """Why nothing of this kind may be said now though there is room; empty where it may."""
        asked = wish.rank is Rank.ASKED
        if moment.quiet and not (moment.quiet == "race" and (asked or self._race_is_spoken)):
            return f"silent: {moment.quiet}"
        if self._settling.is_upset:
            return _UPSET
        if asked:
            return ""
        if self._answers.muted:
            return "silent: asked for"
        if wish.rank is Rank.FIRST:
            return ""
        if not self._alternation.is_cued(moment.lap):
            return _UNCUED
        full = self._said >= self._talk.corrections and not self._start.focus
        return _ENOUGH if wish.kind == CORRECTION and full else ""

    @property
    def _race_is_spoken(self) -> bool:
        return not self._start.playbook.silence.race or self._answers.asked_to_speak

    def _fitting(self, wish: Wish, moment: Moment, opening: Opening) -> str | None:
        """The fullest wording that may start now and ends in time."""
        settled = self._settling.since
        since = max(opening.since, wish.since, opening.since if settled is None else settled)
        if wish.rank is not Rank.ASKED and moment.t > since + self._start.latest + rules.ROUNDING:
            return None
        named = wish.corner is not None and bool(wish.named)
        named = named and not self._room.corners.is_last(wish.corner or 0, opening.place)
        if (named or wish.rank > Rank.OTHER) and not opening.settled:
            return None
        if not named:
            return self._that_fits(wish.texts, moment, opening)
        wide = self._that_fits(wish.wide, moment, opening) if len(self._alike(wish)) >= rules.EVERYWHERE else None
        return self._that_fits(wish.named, moment, opening) if wide is None else wide

    def _alike(self, wish: Wish) -> list[Wish]:
        """Corrections of the same fault that wait, this one with them."""
        both = (other for other in self._waiting if other.kind == wish.kind == CORRECTION and other.about == wish.about)
        return [other for other in both if other is wish or other.corner is not None]

    def _that_fits(self, texts: tuple[str, ...], moment: Moment, opening: Opening) -> str | None:
        latest_end = opening.deadline - self._start.margin
        for text in texts:
            length = self._lengths.of(text)
            if (length <= rules.LONGEST or text == texts[-1]) and moment.t + length <= latest_end:
                return text
        return None

    def _say(self, wish: Wish, text: str, moment: Moment, opening: Opening) -> Cue:
        if text in wish.wide:
            wish = self._together(wish)
        self._waiting.remove(wish)
        self._spent = opening.stretch
        self._count(wish, moment.lap)
        cue = cues.spoken(wish, moment.t, moment.lap, text, self._lengths.of(text), opening.deadline)
        self._silent_from = cue.ends
        self._answers.said(wish, text)
        return cue

    def _together(self, wish: Wish) -> Wish:
        """One cue speaks of all that are alike."""
        for other in self._alike(wish):
            if other is wish:
                continue
            self._waiting.remove(other)
            wish.of += other.of
            if other.fault is not None:
                self._know(other.fault)
        wish.corner = None
        return wish

    def _know(self, fault: Fault) -> None:
        """A cue speaks of this finding."""
        self._record.told(fault)
        if fault.corner is not None:
            self._told.add((fault.lap, fault.corner))

    def _count(self, wish: Wish, lap: int) -> None:
        topic = None if wish.about is None else self._focus.topic(wish.about)
        if topic is not None and wish.kind in (CORRECTION, REMINDER):
            topic.say(lap)
        if wish.kind != CORRECTION:
            return
        self._said += 1
        if wish.fault is not None:
            self._know(wish.fault)

    def _drop(self, dropped: Dropped) -> list[Event]:
        return [cues.held_back(wish, self._t, self._lap, reason) for wish, reason in dropped]


def _advice(turned: Turned, t: float, lap: int) -> Advice:
    topic = turned.topic
    corners = [corner for corner in topic.corners if corner is not None]
    turns = "turn" if len(corners) == 1 else "turns"
    where = f" in {turns} {', '.join(map(str, sorted(corners)))}" if corners else ""
    name = topic.fault.replace("_", " ")
    gained = "" if turned.gain is None else f", {turned.gain:.2f} s a lap"
    text = {
        "chosen": f"working on {name}{where}: {turned.cost:.2f} s a lap",
        "returned": f"{name} has come back{where}: {turned.cost:.2f} s a lap",
        "mended": f"{name} is mended{where}{gained}",
        "stuck": f"{name} does not get better{where}: something else first",
        "left": f"{name} is left for now",
    }[turned.what]
    numbers = {"cost": turned.cost} if turned.gain is None else {"gain": turned.gain}
    return Advice(t, lap, "practice", text, numbers)
