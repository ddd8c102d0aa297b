"""One session: one driver in one car on one circuit, and all that is learned of them."""

from __future__ import annotations

from math import exp, inf

from coach.engine.circuit import Circuit
from coach.engine.course import Course, read_course
from coach.engine.day import Warmth
from coach.engine.delta import DeltaClock
from coach.engine.detectors import Detectors
from coach.engine.faults.base import Finding
from coach.engine.known import Known
from coach.engine.lap import GridLap, resample, same_lap
from coach.engine.lapreport import LapReport
from coach.engine.laps import ClosedLap, LapKeeper
from coach.engine.learned import Learned, Measure
from coach.engine.order import Order
from coach.engine.passes import Now, PassWatcher, loose_fault
from coach.engine.pedalcheck import PedalCheck
from coach.engine.position import Fix
from coach.engine.references import CHOSEN, Driven, Prepared, References
from coach.engine.scatter import Scatter, renumbered
from coach.engine.shown import Shown
from coach.engine.speed import Speedometer
from coach.engine.start import CHOICES, EngineStart, mismatch, mismatch_lap, mismatch_length
from coach.engine.tape import Tape
from coach.engine.whereabouts import Whereabouts
from coach.vocabulary.actions import USE_LAP
from coach.vocabulary.events import (
    Action,
    Advice,
    Answer,
    Corners,
    Delta,
    Detector,
    Event,
    Lap,
    Loss,
    Moment,
    Reference,
    Run,
    Stores,
    Stream,
)
from coach.vocabulary.sample import Sample

HELD_UP = 1.0
"""s behind another car: nearer, a driver brakes and waits for it and not for the corner (choice)."""
STORES_EVERY = 1.0
"""s between two looks at fuel, laps and time left."""
JUST_ENDED = 0.1
"""of a lap: whoever asks for "this lap" so soon after the line means the one behind it (choice: a lap cannot be known
to be good yet)."""
LATERAL_TIME = 0.1
"""s, time constant of the smoothed lateral acceleration of a `Moment`."""


class Session:
    """Takes the samples of one session in and returns events. Made at its first sample."""

    def __init__(self, start: EngineStart, prepared: Prepared | None, first: Sample) -> None:
        """`prepared`: what was read of the start's reference beforehand."""
        self._start = start
        self._prepared = prepared
        self._labels = (first.track, first.car, first.driver)
        self._track, self._track_length = first.track, first.track_length
        self._order = Order()
        self._keeper = LapKeeper(first.lap if first.lap is not None else 0)
        self._shown = Shown()
        self._detectors = Detectors()
        self._pedals = PedalCheck()
        self._speedometer = Speedometer()
        self._where = Whereabouts()
        self._report = LapReport(first.last_lap_time)
        self._paused_since: float | None = None
        self._lateral = 0.0
        self._stores_at = -inf
        self._t = first.t
        self._before: Tape | None = None
        self._before_length = 0.0
        self._unfit = mismatch(start, first)
        fits = start.reference is not None and self._unfit is None
        self._usual = start.usual if fits else {}
        self.scatter = Scatter(self._usual, start.scatter if fits or start.reference is None else None)
        self._known: Circuit | None = start.circuit if fits or start.reference is None else None
        self._fixed = fits
        self._recalled: Known | None = None
        """what the memory knew"""
        self._sample = first
        self._references = References(start, prepared if fits else None)
        self._warmth = Warmth(start.warm if fits else None)
        self._wetness: float | None = None
        self._traffic: float | None = None
        """s: when another car was last beside or close ahead"""
        self._course: Course | None = None
        """the lap that the map was read from: the reference, or, before there is one, any whole lap"""
        self._clock: DeltaClock | None = None
        """runs where the course's lap is the reference"""
        self._watcher: PassWatcher | None = None
        self._ended: tuple[ClosedLap, GridLap | None] | None = None
        """the lap before this one, resampled where it was whole"""
        self._wanted = False
        """this lap is to be the reference once it has ended"""

    @property
    def best(self) -> GridLap | None:
        """The driver's own best clean lap of this session."""
        return self._references.best

    @property
    def driver(self) -> str | None:
        """Who drives, where the source says."""
        return self._labels[2]

    @property
    def warm(self) -> float | None:
        """degC: the tyres' mean in the warmest lap; None where not sent."""
        return self._warmth.warm

    @property
    def circuit(self) -> Circuit | None:
        """The map, as far as it is known."""
        return self._known if self._course is None else self._course.circuit

    @property
    def reference(self) -> GridLap | None:
        """The lap to compare with."""
        return self._course.lap if self._course is not None and self._clock is not None else None

    @property
    def _is_given(self) -> bool:
        """Whether the reference is not of this session, and may turn out to be of another circuit."""
        return self._fixed or self._references.recalled is not None

    def opening(self) -> list[Event]:
        """The events before the first sample: the run, and the reference and map it starts from."""
        start, (track, car, _) = self._start, self._labels
        t, lap = self._t, self._keeper.number
        origin = start.origin if self._fixed else self._references.origin
        events: list[Event] = [Run(t, lap, start.version, start.source, track, car, origin, start.phrases)]
        if self._unfit is not None:
            events.append(Detector(t, lap, "reference", False, self._unfit))
        if self._fixed and self._prepared is not None:
            events += self._set_reference(self._prepared.course, start.origin or "file", t)
            events += self._advise_of_car()
        return events

    def recall(self, known: Known) -> list[Event]:
        """What the memory knows of this driver, car and circuit; at any place of a lap, and more than once.

        The corners have its numbers from now on. Its reference holds as long as this session has no quicker clean lap,
        and no other was asked for.
        """
        self._recalled = known
        events = [] if self._watcher is None else self._watcher.catch_up(self._now(self._t), self._detectors.families)
        events += self._take_numbers(known.circuit)
        has_own = self._start.reference is not None and self._unfit is None
        if not (has_own or self._references.choice is not None or self._references.chosen):
            events += self._take_reference(known)
        return self._report.behind(events)

    def may_be(self, driver: str | None, car: str | None, track: str | None) -> bool:
        """Whether nothing says that this is another session: what is not named may be any."""
        return not any(new and old and new != old for new, old in zip((track, car, driver), self._labels, strict=True))

    def changed(self, sample: Sample) -> bool:
        """Whether `sample` belongs to another session: a non-empty change of track, car or driver."""
        labels = (sample.track, sample.car, sample.driver)
        if self._misfits(sample):
            return True
        if labels == self._labels:
            return False
        if not self.may_be(sample.driver, sample.car, sample.track):
            return True
        track, car, driver = (new or old for new, old in zip(labels, self._labels, strict=True))
        self._labels = (track, car, driver)
        return False

    def _misfits(self, sample: Sample) -> bool:
        """The circuit became known only now, and the reference is of another one."""
        if sample.track == self._track and sample.track_length == self._track_length:
            return False
        self._track, self._track_length = sample.track, sample.track_length
        return self._fixed and mismatch(self._start, sample) is not None

    def push(self, sample: Sample) -> list[Event]:
        """One sample in, what it showed out."""
        keeper = self._keeper
        verdict, events = self._order.judge(sample, keeper.number)
        if not verdict.keep:
            if sample.paused and sample.t == self._t:  # the clock stands with the car
                self._pause(sample, events)
            return events
        before, self._t = self._t, sample.t
        events += self._refuse_length(sample)
        if verdict.new_run:
            events = self._report.cut_short(sample.last_lap_time, before) + events
            events += self._new_run()
        elif verdict.gap:
            keeper.doubt("gap")
            self._where.gap()
        sent, sample = sample, self._speedometer.fill(sample)
        self._warmth.watch(sample)
        self._wetness = sample.wetness
        if sample.beside or (sample.gap_ahead is not None and 0.0 < sample.gap_ahead < HELD_UP):
            self._traffic = sample.t
        events += self._detectors.watch(sample, keeper.number, sent)
        events += self._pedals.watch(sample, verdict.step, keeper.number)
        if self._pause(sample, events):
            return events
        fix = self._where.locate(sample)
        if self._where.changed:
            keeper.doubt("gap")
        if self._is_given and self._where.elsewhere(sample.t):
            events.append(self._refuse_path(sample.t))
        closed, more = keeper.step(sample, fix)
        events += more
        if any(isinstance(e, Stream) and e.what in ("reset", "teleport") for e in more):
            events += self._jumped()
        self._shown.watch(sample)
        if closed is not None:
            events += self._close(closed, sample)
        events += self._report.release(sample)
        if fix is not None:
            events += self._drive(sample)
        events += self._stores(sample)
        events.append(self._moment(sample, fix, verdict.step))
        return events

    def act(self, action: Action) -> list[Event]:
        """The driver pressed something: this lap, or the one that has just ended, is to be the reference."""
        if action.action != USE_LAP:
            return []
        progress, length = self._keeper.progress, self._keeper.length
        early = progress is not None and length is not None and progress < JUST_ENDED * length
        if self._ended is not None and early:
            self._wanted = False
            now, families = self._now(action.t), self._detectors.families
            judged = [] if self._watcher is None else self._watcher.catch_up(now, families)
            return self._report.behind(judged + self._use(*self._ended, action.t))
        self._wanted = True
        return []

    def finish(self) -> list[Event]:
        """The stream ended: what was held back for the source's own lap time, and drops not told yet."""
        events = self._report.cut_short(self._report.own, self._t) + self._order.flush(self._keeper.number)
        events += self._give_up(self._t)
        return events + self._detectors.finish(self._t, self._keeper.number)

    # what was known before

    def _take_numbers(self, circuit: Circuit | None) -> list[Event]:
        """The corners have the numbers of `circuit` from now on, where it can be this circuit's map."""
        course = self._course
        if circuit is None:
            return []
        if course is None:
            self._known = circuit
            return []
        again = read_course(course.lap, circuit) if circuit.fits(course.lap) else course
        if again.circuit == course.circuit:
            return []
        numbers = course.circuit.numbers_in(again.circuit)
        self.scatter.renumber(numbers)
        self._usual = renumbered(self._usual, numbers)
        return self._set_course(again, self._t)

    def _take_reference(self, known: Known) -> list[Event]:
        lap, t, number = known.reference, self._t, self._keeper.number
        unfit = None if lap is None else mismatch_lap(lap, self._sample)
        if unfit is not None:
            self._recalled = None
            if self.reference is not None:
                return [Advice(t, number, "practice", unfit)]
            self._unfit = unfit
            return [Detector(t, number, "reference", False, unfit)]
        if lap is None or (self.best is not None and self.best.total <= lap.total):
            self.scatter.remember(self._usual, known.scatter)
            return []
        self._usual = known.usual
        self.scatter.remember(self._usual, known.scatter)
        if self._warmth.warm is None:
            self._warmth.warm = known.warm
        in_use = self._references.recalled
        if in_use is not None and self._course is not None and same_lap(in_use, lap):
            self._watch(self._course)
            return []
        course = self._references.recall(Prepared.lap(lap, self.circuit), known.driver)
        return self._set_reference(course, known.origin, t) + self._advise_of_car()

    def _leave_recalled(self) -> None:
        """A lap of this session takes the place of the one from earlier days: of that, the habits go with it."""
        self._usual = {}
        self.scatter.remember({}, Scatter() if self._recalled is None else self._recalled.scatter)

    def _learned(self, t: float, number: int) -> Learned:
        """What the lap that has just ended left behind."""
        grid = None if self._ended is None else self._ended[1]
        scatter = self.scatter.behind(None if self._recalled is None else self._recalled.scatter)
        return Learned(t, number, grid, self.circuit, scatter, scatter.medians(), self._warmth.warm)

    def _advise_of_car(self) -> list[Event]:
        if self._same_car() or self.reference is None:
            return []
        theirs, here = self.reference.car, self._labels[1]
        text = f"the reference was driven in {theirs}, this is {here}: line and delta compare, gears do not"
        return [Advice(self._t, self._keeper.number, "car", text)]

    # where

    def _same_car(self) -> bool:
        """Whether the reference was driven in this car, as far as is known."""
        theirs = None if self.reference is None else self.reference.car
        return not theirs or not self._labels[1] or theirs == self._labels[1]

    def _new_run(self) -> list[Event]:
        events = [] if self._watcher is None else self._watcher.flush(self._now(self._t))
        events += self._give_up(self._t)
        self._keeper.new_run()
        self._paused_since = self._ended = None
        return events + self._jumped()

    def _jumped(self) -> list[Event]:
        """The car is somewhere else: what was found of where it was is told, the rest forgotten."""
        events = [] if self._watcher is None else self._watcher.flush(self._now(self._t))
        self._before = None
        self._where.jumped()
        for watch in self._detectors.watches:
            watch.reset()
        if self._watcher is not None:
            self._watcher.place(self._keeper.progress if self._keeper.progress is not None else 0.0)
        return events

    def _pause(self, sample: Sample, events: list[Event]) -> bool:
        number = self._keeper.number
        if sample.paused:
            if self._paused_since is None:
                self._paused_since = sample.t
                self._keeper.doubt("paused")
                events.append(Stream(sample.t, number, "pause", sample.t, None))
            return True
        if self._paused_since is not None:
            events.append(Stream(sample.t, number, "pause", self._paused_since, sample.t))
            self._paused_since = None
        return False

    def _refuse_length(self, sample: Sample) -> list[Event]:
        """The circuit's length became known only now, and what was recalled is a lap of another one."""
        recalled, before, self._sample = self._references.recalled, self._sample, sample
        if recalled is None or sample.track_length == before.track_length:
            return []
        unfit = mismatch_lap(recalled, sample)
        if unfit is None:
            return []
        self._unfit = unfit
        return [self._drop_reference(sample.t)]

    def _refuse_path(self, t: float) -> Event:
        self._where.survey()
        self._unfit = "the reference's path is nowhere near this car: choose a lap of this circuit and layout"
        return self._drop_reference(t)

    # laps

    def _close(self, closed: ClosedLap, sample: Sample) -> list[Event]:
        events: list[Event] = []
        if self._watcher is not None:
            events += self._watcher.line(self._now_of(closed), self._detectors.families)
        self._before = closed.tape if closed.whole or not closed.begun else None
        self._before_length = closed.length
        covered = closed.length - closed.tape.reach[0]
        if not closed.begun and covered < 0.5 * closed.length:
            self._ended = None
            return events + self._give_up(sample.t)
        reference = self.reference
        if self._is_given and reference is not None:
            self._unfit = mismatch_length(reference, closed.length)
            if self._unfit is not None:
                events.append(self._drop_reference(sample.t))
                reference = None
        delta = reference_time = None
        if reference is not None and closed.time is not None:
            reference_time = reference.total
            delta = closed.time - reference_time
        t, number = sample.t, closed.number
        held: list[Event] = [Lap(t, number, closed.time, None, closed.clean, closed.why_not, delta, reference_time)]
        if delta is not None and self._course is not None and closed.start is not None and closed.whole:
            held.append(Loss(t, number, self._course.ledger.losses(closed.tape, closed.start, delta)))
        held += self._learn(closed, sample)
        held.insert(1, self._learned(t, number))
        self._report.hold(held, closed.end)
        return events

    def _use(self, closed: ClosedLap, lap: GridLap | None, t: float) -> list[Event]:
        """Make a lap that has ended the reference, as the driver wishes; a broken one never is."""
        if lap is None or not closed.clean:
            why = ", ".join(closed.why_not).replace("_", " ") or "it was not seen whole"
            text = f"lap {closed.number} cannot be the reference: {why}"
            return [Advice(t, self._keeper.number, "practice", text), Answer(t, self._keeper.number, USE_LAP, False)]
        if self._fixed:  # scatter and habits were learned with the other lap's driver
            self._fixed, self._usual, self.scatter = False, {}, Scatter()
        elif self._references.recalled is not None:
            self._leave_recalled()
        course = self._references.choose(lap, self.circuit)
        return [*self._set_reference(course, CHOSEN, t), Answer(t, self._keeper.number, USE_LAP, True)]

    def _give_up(self, t: float) -> list[Event]:
        """The lap that was to be the reference is never driven to its end."""
        wanted, self._wanted = self._wanted, False
        return [Answer(t, self._keeper.number, USE_LAP, False)] if wanted else []

    def _learn(self, closed: ClosedLap, sample: Sample) -> list[Event]:
        """What a whole lap teaches: the map, the reference, and the pace to go for."""
        cold = self._warmth.cold
        self._warmth.lap()
        self._ended = (closed, None)
        if not closed.whole or closed.start is None:
            return self._use_wanted(sample.t)
        track, car, driver = self._labels
        lap = resample(closed.tape, closed.length, closed.start, closed.number, track, car)
        self._ended = (closed, lap)
        if closed.clean:
            self._shown.learn(lap)
        driven = Driven(lap, closed, cold, driver, sample.wetness)
        news = self._references.learn(driven, self._course if self._clock is not None else None, self.circuit)
        events: list[Event] = []
        if news.blind:
            lacks = "x and y, or yaw_rate, or ay"
            events.append(Detector(sample.t, closed.number, CHOICES["grip"], False, lacks))
        if news.today:
            self._fixed, self._usual, self.scatter = False, {}, Scatter()
        if news.beaten:
            self._leave_recalled()
        if news.course is not None:
            events += self._set_reference(news.course, news.origin, sample.t)
        elif self._course is None:
            events += self._set_course(read_course(lap, self.circuit), sample.t)
        elif news.repaced:
            self._watch(self._course)
        events += self._use_wanted(sample.t)
        return events + [Advice(sample.t, closed.number, "practice", text, numbers) for text, numbers in news.advice]

    def _use_wanted(self, t: float) -> list[Event]:
        """The lap has ended: it is the reference now, if that was asked for."""
        if not self._wanted or self._ended is None:
            return []
        self._wanted = False
        return self._use(*self._ended, t)

    def _drop_reference(self, t: float) -> Event:
        """The reference is of another circuit: this one is begun anew, with a map and a reference of its own."""
        self._fixed, self._recalled = False, None
        self._known = self._course = self._watcher = self._clock = None
        self.scatter, self._usual = Scatter(), {}
        self._references.drop()
        return Detector(t, self._keeper.number, "reference", False, self._unfit)

    def _set_reference(self, course: Course, origin: str, t: float) -> list[Event]:
        self._clock = DeltaClock(course.lap)
        lap = course.lap
        events: list[Event] = [Reference(t, lap.number, lap.total, origin, course.trace)]
        events.append(Measure(t, self._keeper.number, lap, origin))
        return events + self._set_course(course, t)

    def _set_course(self, course: Course, t: float) -> list[Event]:
        self._course = course
        self._watch(course)
        self._where.know_path(course.path())
        return [Corners(t, self._keeper.number, course.circuit.name, course.circuit.marks, course.trace)]

    def _watch(self, course: Course) -> None:
        """Judges by `course` from here on."""
        made, priced = self._references, self._clock is not None
        gears = self._same_car() and made.by_line  # who made no line has no gears either
        before = self._watcher
        self._watcher = PassWatcher(
            course, priced, gears, self._shown, self.scatter, self._usual, made.pace, made.by_line
        )
        if before is not None:
            self._watcher.take_over(before)
        keeper = self._keeper
        self._watcher.place(keeper.progress if keeper.progress is not None else 0.0)

    # corners and delta

    def _drive(self, sample: Sample) -> list[Event]:
        events: list[Event] = []
        keeper = self._keeper
        progress, since = keeper.progress, keeper.since_line
        if progress is None:
            return events
        clock = self._clock
        if clock is not None and since is not None and progress >= 0.0 and clock.due(sample.t):
            scale = 1.0 if keeper.length is None else clock.length / keeper.length
            delta = since - clock.time_at(progress * scale)
            events.append(Delta(sample.t, keeper.number, progress, delta, clock.total + delta))
        for watch in self._detectors.watches:
            for finding in watch.watch(sample, progress, self._shown):
                events += self._happened(finding, sample.t)
        if self._watcher is not None and self._watcher.due(progress, sample.t):
            events += self._watcher.step(self._now(sample.t), self._detectors.families)
        return events

    def _happened(self, finding: Finding, t: float) -> list[Event]:
        now = self._now(t)
        if now.quiet:
            return []
        return [loose_fault(finding, now, None)] if self._watcher is None else self._watcher.happened(finding, now)

    def _now(self, t: float) -> Now:
        keeper, conduct = self._keeper, self._keeper.conduct
        progress = keeper.progress if keeper.progress is not None else 0.0
        flying, quiet = keeper.start is not None and conduct.flying, conduct.in_pit or "paused" in conduct.why
        return self._at(t, keeper.number, keeper.tape, progress, flying, quiet)

    def _now_of(self, closed: ClosedLap) -> Now:
        """At the end of the lap that was just closed."""
        flying, quiet = closed.start is not None and closed.flying, not {"pit", "paused"}.isdisjoint(closed.why_not)
        return self._at(self._t, closed.number, closed.tape, closed.length, flying, quiet)

    def _at(self, t: float, lap: int, tape: Tape, progress: float, flying: bool, quiet: bool) -> Now:
        flying = flying and self._comparable(tape, progress)
        return Now(t, lap, tape, progress, self._before, self._before_length, flying, quiet, self._traffic)

    def _comparable(self, tape: Tape, progress: float) -> bool:
        """Whether marks can be held against what is driven: on warm tyres, on a day like the reference's."""
        if self._warmth.cold:
            return False
        return not self._references.another_day(tape, progress, self.driver, self._wetness)

    def _stores(self, sample: Sample) -> list[Event]:
        """What is left of fuel, laps and time, as often as anyone asks."""
        left = (sample.fuel, sample.laps_left, sample.time_left)
        if left == (None, None, None) or abs(sample.t - self._stores_at) < STORES_EVERY:
            return []
        self._stores_at = sample.t
        return [Stores(sample.t, self._keeper.number, *left)]

    def _moment(self, sample: Sample, fix: Fix | None, step: float | None) -> Moment:
        pull = sample.ay
        if pull is None and sample.yaw_rate is not None and sample.speed is not None:
            pull = sample.yaw_rate * sample.speed
        if pull is not None:
            share = 1.0 if step is None else 1.0 - exp(-step / LATERAL_TIME)
            self._lateral += share * (abs(pull) - self._lateral)
        return Moment(
            sample.t,
            self._keeper.number,
            None if fix is None else fix.distance,
            sample.speed,
            sample.throttle,
            sample.brake,
            None if pull is None else self._lateral,
            self._quiet(sample),
        )

    def _quiet(self, sample: Sample) -> str:
        if sample.in_pit:
            return "pit"
        if self._keeper.conduct.off:
            return "off"
        if sample.yellow_flag:
            return "yellow"
        if sample.beside:
            return "beside"
        return "race" if sample.session_kind == "race" else ""
