"""Speaking: what waits, whether it may be said at this sample, and in which words."""

from __future__ import annotations

from coach.planner import cues, rules
from coach.planner.alternation import Alternation
from coach.planner.answers import Answers
from coach.planner.focus import Focus
from coach.planner.lapcount import LapCount
from coach.planner.lengths import PhraseLengths
from coach.planner.phrases import Phrases
from coach.planner.record import Record
from coach.planner.reminders import Due, Reminders
from coach.planner.room import Opening, Room
from coach.planner.settled import Settling
from coach.planner.start import PlannerStart
from coach.planner.waiting import Dropped, Waiting
from coach.planner.wish import CORRECTION, REMINDER, SUMMARY, Rank, Wish
from coach.planner.worth import costs_nothing
from coach.vocabulary.events import Cue, Event, Fault, Moment, Spoken

NO_LAP = "no lap known yet to time it by"
CHEAP_TOLD = "told on this lap already"
_NO_ROOM = "no room before the corner came again"
_TOO_LATE = "no room while it was news"
_UNCUED = "a lap without cues"
_ENOUGH = "enough was said on this lap"


class Speaking:
    """Holds the wishes of one session and says one when it may.

    Each wish ends in one Cue, spoken or held back; but several of one fault may end in one spoken cue together.
    """

    def __init__(
        self,
        start: PlannerStart,
        room: Room,
        phrases: Phrases,
        record: Record,
        focus: Focus,
        answers: Answers,
        alternation: Alternation,
        laps: LapCount,
    ) -> None:
        self._start, self._room, self._phrases = start, room, phrases
        self._record, self._focus, self._laps = record, focus, laps
        self._answers, self._alternation = answers, alternation
        self._lengths = PhraseLengths(start.lengths)
        self._reminders = Reminders(room, record)
        self.settling = Settling(start.playbook.silence.after_incident)
        self.waiting = Waiting()
        self._told: set[tuple[int, int]] = set()
        self._cheap_told: set[tuple[int, str]] = set()
        self._corrections: dict[tuple[int, Rank], int] = {}
        """by lap and rank: how many were said"""
        self._last: tuple[str | None, int | None] = (None, None)
        """what the last cue was about, and where"""
        self._spent: int | None = None
        """the stretch that had its cue"""
        self._silent_from: float | None = None

    def narrow(self, start: PlannerStart) -> None:
        """Another stage: by this start's playbook from now on."""
        self._start = start

    @property
    def has_spoken(self) -> bool:
        """Whether anything was said."""
        return self._silent_from is not None

    def was_told(self, fault: Fault) -> bool:
        """Whether a cue spoke of this corner pass already."""
        return fault.corner is not None and (self._laps.of(fault.lap), fault.corner) in self._told

    def was_told_cheaply(self, fault: Fault) -> bool:
        """Whether it costs nothing and one of its kind was told on this lap already."""
        return self._is_cheap(fault) and (self._laps.of(fault.lap), fault.fault) in self._cheap_told

    def moved(self) -> None:
        """The car is somewhere else, or the circuit is another."""
        self.settling.reset()
        self._spent = None

    def turned_back(self, by: float) -> None:
        """The clock fell by so many s: what sounds goes on sounding for as long as it would have."""
        if self._silent_from is not None:
            self._silent_from -= by

    def learned(self, spent_here: bool) -> None:
        """The stretches are others now; whether the one that the car is on has had its cue."""
        self._spent = self._room.stretch_index() if spent_here else None

    @property
    def spent_here(self) -> bool:
        """Whether the stretch that the car is on has had its cue."""
        return self._spent is not None and self._spent == self._room.stretch_index()

    def sample(self, moment: Moment) -> list[tuple[Cue, Wish | None]]:
        """What is said, with the wish behind it, and what is held back (None), at this sample, which the room has
        taken already."""
        if self.settling.is_upset or moment.quiet == "off":
            self.settling.update(moment, self._room.reference_speed())
        if moment.distance is not None and self._room.stretch_index() != self._spent:
            self._spent = None
        late = self._expire(moment) if self.waiting else []
        held: list[tuple[Cue, Wish | None]] = [
            (cues.held_back(wish, moment.t, moment.lap, reason), None) for wish, reason in late
        ]
        return held + list(self._speak(moment))

    def _expire(self, moment: Moment) -> Dropped:
        """What has waited until its corner is in sight again, or until it is no news any more."""
        windows = self._room.windows
        late: Dropped = []
        for wish in self.waiting:
            if windows is None:
                late.append((wish, NO_LAP))
            elif wish.until is not None and moment.t > wish.until:
                late.append((wish, wish.obstacle or _TOO_LATE))
            elif wish.obstacle in (_UNCUED, _ENOUGH) and wish.fault is not None and self._laps.now > wish.lap:
                late.append((wish, wish.obstacle))  # of another lap, it would be stale and take this one's place
            elif moment.t - wish.since > 2 * windows.lap_time:
                late.append((wish, wish.obstacle or _NO_ROOM))
            elif moment.distance is not None and wish.place is not None:
                if not windows.in_sight(moment.distance, wish.place):
                    wish.away = True
                elif wish.away:
                    late.append((wish, wish.obstacle or _NO_ROOM))
        for wish, _ in late:
            self.waiting.remove(wish)
        return late

    def _speak(self, moment: Moment) -> list[tuple[Cue, Wish | None]]:
        if self._silent_from is not None and moment.t < self._silent_from + rules.GAP - rules.ROUNDING:
            return []
        due = self._reminders_due(moment)
        if not self.waiting and not due:
            return []
        opening = self._room.opening(moment)
        if opening is None:
            return []
        for wish in self.waiting:
            if opening.stretch == self._spent and wish.rank is not Rank.ASKED:
                continue
            if wish.kind == SUMMARY and self._reminders.come(due, opening):
                continue  # the straight before the corner that is worked on is for that corner
            of_due = [one for one in due if (one.topic.fault, one.corner) == (wish.about, wish.corner)]
            if wish.kind == CORRECTION and self._reminders.come(of_due, opening):
                continue  # the reminder speaks of it
            text = self._fitting(wish, moment, opening)
            if text is None:
                continue
            obstacle = self._obstacle(wish, moment)
            if obstacle:
                wish.obstacle = obstacle
                continue
            if not opening.settled and self._looks_back(wish, opening):
                return []  # what was found in the last corner goes first if it costs more, and comes at once
            return [(self._say(wish, text, moment, opening), wish)]
        return self._remind(due, moment, opening)

    # whether it may be said

    def _obstacle(self, wish: Wish, moment: Moment) -> str:
        """Why nothing of this kind may be said now though there is room; empty where it may."""
        asked = wish.rank is Rank.ASKED
        silent = self._silent(moment, asked)
        if silent or asked:
            return silent
        if self._answers.muted:
            return "silent: asked for"
        if wish.rank in (Rank.FIRST, Rank.FUEL):
            return ""
        cheap = wish.fault is not None and self._is_cheap(wish.fault)
        if cheap and (self._laps.now, wish.about) in self._cheap_told:
            return CHEAP_TOLD
        return self._reserve(wish)

    def _silent(self, moment: Moment, asked: bool) -> str:
        spoken = asked or self._answers.asked_to_speak or not self._start.playbook.silence.race
        if moment.quiet and not (moment.quiet == "race" and spoken):
            return f"silent: {moment.quiet}"
        return "the car was not settled" if self.settling.is_upset else ""

    def _reserve(self, wish: Wish | None) -> str:
        """Why the playbook leaves this, or a reminder (None), unsaid on this lap."""
        talk, now = self._start.playbook.talk, self._laps.now
        if now - self._laps.first < self._start.playbook.silence.first_laps:
            return "the first laps are without a word"
        if not self._alternation.is_cued(now):
            return _UNCUED
        if wish is None or wish.kind != CORRECTION or self._start.focus:
            return ""
        of_topic = self._corrections.get((now, Rank.TOPIC), 0)
        said = of_topic if wish.rank is Rank.TOPIC else of_topic + self._corrections.get((now, Rank.OTHER), 0)
        return _ENOUGH if said >= talk.corrections else ""

    def _is_cheap(self, fault: Fault) -> bool:
        return costs_nothing(fault) and not self._start.focus

    # in which words

    def _looks_back(self, wish: Wish, opening: Opening) -> bool:
        """Whether it is no news of the corner that the car comes from."""
        return wish.receipt or wish.rank > Rank.OTHER or self._is_named(wish, opening)

    def _is_named(self, wish: Wish, opening: Opening) -> bool:
        return (
            wish.corner is not None and bool(wish.named) and not self._room.corners.is_last(wish.corner, opening.place)
        )

    def _fitting(self, wish: Wish, moment: Moment, opening: Opening) -> str | None:
        """The fullest wording that may start now and ends in time."""
        settled = self.settling.since
        since = max(opening.since, wish.since, opening.since if settled is None else settled)
        if wish.rank is not Rank.ASKED and moment.t > since + self._start.latest + rules.ROUNDING:
            return None
        if not self._is_named(wish, opening):
            return self._that_fits(wish.texts, moment, opening)
        many = len(self._alike(wish)) >= rules.EVERYWHERE
        wide = self._that_fits(wish.wide, moment, opening) if many else None
        return self._that_fits(wish.named, moment, opening) if wide is None else wide

    def _that_fits(self, texts: tuple[str, ...], moment: Moment, opening: Opening) -> str | None:
        latest_end = opening.deadline - self._start.margin
        for text in texts:
            length = self._lengths.of(text)
            if (length <= rules.LONGEST or text == texts[-1]) and moment.t + length <= latest_end:
                return text
        return None

    def _alike(self, wish: Wish) -> list[Wish]:
        """Corrections of the same fault at corners that wait, this one with them."""
        if wish.kind != CORRECTION or wish.corner is None:
            return []
        same = (other for other in self.waiting if other.kind == CORRECTION and other.about == wish.about)
        return [other for other in same if other.corner is not None]

    # reminders

    def _reminders_due(self, moment: Moment) -> list[Due]:
        if not self._start.playbook.talk.reminders:
            return []
        due = self._reminders.due(self._focus.topics, self._laps.now)
        if not due or self._answers.muted:
            return []
        return [] if self._silent(moment, asked=False) or self._reserve(None) else due

    def _remind(self, dues: list[Due], moment: Moment, opening: Opening) -> list[tuple[Cue, Wish | None]]:
        for due in dues:
            fault, corner = due.topic.fault, due.corner
            if self._last == (fault, corner) and self._spent == opening.stretch:
                continue  # that was said just now
            texts = self._phrases.reminder(fault, corner, due.topic.attempt)
            text = self._that_fits(texts, moment, opening)
            if text is None:
                continue
            if not self._reminders.is_now(due, opening, moment.t, self._lengths.of(text), self._start.latest):
                continue
            of = () if due.turn.told else (Spoken(due.turn.source, corner, fault),)
            wish = Wish(REMINDER, Rank.TOPIC, moment.t, texts, about=fault, of=of, corner=corner, lap=moment.lap)
            for other in list(self.waiting):
                if (other.kind, other.about, other.corner) == (CORRECTION, fault, corner):
                    self.waiting.remove(other)  # it speaks of the same
            due.turn.told = True
            self._reminders.said(due, self._laps.now)
            self.waiting.add(wish)
            return [(self._say(wish, text, moment, opening), wish)]
        return []

    # once it is said

    def _say(self, wish: Wish, text: str, moment: Moment, opening: Opening) -> Cue:
        if text in wish.wide and self._is_named(wish, opening):
            self._together(wish)
        self.waiting.remove(wish)
        self._spent = opening.stretch
        topic = None if wish.about is None else self._focus.topic(wish.about)
        if topic is not None and wish.kind in (CORRECTION, REMINDER):
            topic.say()
        if wish.kind == CORRECTION:
            key = (self._laps.now, wish.rank)
            self._corrections[key] = self._corrections.get(key, 0) + 1
        self._last = (wish.about, wish.corner)
        if wish.fault is not None:
            self._know(wish.fault)
        cue = cues.spoken(wish, moment.t, moment.lap, text, self._lengths.of(text), opening.deadline)
        self._silent_from = cue.ends
        self._answers.said(wish, text)
        return cue

    def _together(self, wish: Wish) -> None:
        """One cue speaks of all that are alike."""
        for other in self._alike(wish):
            if other is not wish:
                self.waiting.remove(other)
                wish.of += other.of
                if other.fault is not None:
                    self._know(other.fault)
        wish.corner = None

    def _know(self, fault: Fault) -> None:
        """A cue speaks of this finding."""
        lap = self._laps.of(fault.lap)
        self._record.told(fault, lap)
        if fault.corner is not None:
            self._told.add((lap, fault.corner))
        if self._is_cheap(fault):
            self._cheap_told |= {(lap, fault.fault), (self._laps.now, fault.fault)}


def held_back(dropped: Dropped, t: float, lap: int) -> list[Event]:
    """The cues of what is not said."""
    return [cues.held_back(wish, t, lap, reason) for wish, reason in dropped]
