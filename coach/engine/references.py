"""What a session measures by: which lap is the reference, whose pace is the target, and when either changes."""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.engine.circuit import Circuit
from coach.engine.course import Course, read_course, rows_of
from coach.engine.curvature import path_curvature
from coach.engine.day import Day
from coach.engine.grip import GripShown
from coach.engine.griplap import grip_lap
from coach.engine.lap import GridLap
from coach.engine.laps import ClosedLap
from coach.engine.patchwork import Patchwork
from coach.engine.start import CHOICES, EngineStart
from coach.engine.stretch import Stretch
from coach.engine.tape import Tape

MEANINGFUL = 0.001
"""of the lap time: a made lap that is quicker by less than this tenth of a second in 100 stays as it is, so that marks
do not move under the driver lap by lap (choice)."""
FAR = 0.03
"""of the lap time: a reference that is quicker by more is no pace for this driver yet (design)."""
CHOSEN = "chosen lap"
"""What the log calls a reference that the driver chose while driving."""
OWN = "this session"
"""What it calls the driver's best clean lap of this session."""
WET = 0.1
"""of `wetness`: the road is wet, whoever drives (choice)."""
SPOILED = frozenset({"off_track", "cut", "pit", "gap", "reset", "in_lap", "spin", "paused"})
"""Reasons for which a whole lap shows neither line nor grip; a standing start shows both."""


@dataclass(slots=True, frozen=True)
class Prepared:
    """What is read of a start's reference once, before the first sample: no sample of a running stream waits for it."""

    course: Course
    day: Day

    @classmethod
    def of(cls, start: EngineStart) -> Prepared | None:
        """None where the start has no reference."""
        lap = start.reference
        return None if lap is None else cls.lap(lap, start.circuit)

    @classmethod
    def lap(cls, lap: GridLap, known: Circuit | None) -> Prepared:
        """A lap that is to be the reference."""
        return cls(read_course(lap, known), Day(lap))


@dataclass(slots=True)
class Driven:
    """A whole lap of this session, and what is known of its day."""

    lap: GridLap
    closed: ClosedLap
    cold: bool
    driver: str | None
    wetness: float | None

    @property
    def fair(self) -> bool:
        """It shows what car and driver can do, timed or not."""
        return self.closed.time is not None and not SPOILED.intersection(self.closed.why_not)


@dataclass(slots=True)
class News:
    """What a lap changed.

    `course`: the new reference, with its `origin`; `blind`: nothing tells how the car turns, so that no grip lap can be
    made; `today`: the reference takes the place of a lap of another day; `beaten`: it is quicker than the one that was
    remembered; `repaced`: the target's pace is another one; `advice`: (text, numbers) to tell the driver.
    """

    course: Course | None = None
    origin: str = ""
    blind: bool = False
    today: bool = False
    beaten: bool = False
    repaced: bool = False
    advice: list[tuple[str, dict[str, float]]] = field(default_factory=list)


class References:
    """Keeps the session's laps and makes references of them."""

    def __init__(self, start: EngineStart, prepared: Prepared | None) -> None:
        """`prepared`: the start's own reference, where it is in use."""
        self.best: GridLap | None = None
        """the driver's own best clean lap of this session"""
        self.choice = start.choice
        """grip, patchwork or None"""
        self.pace: tuple[Stretch, ...] | None = None
        """rows of the lap whose pace is the target, corner by corner; None: the reference's own"""
        self.chosen = False
        """the driver has chosen a lap: it stays until another is chosen"""
        self.recalled: GridLap | None = None
        """the lap from earlier days that is the reference, until this session has a quicker one"""
        self._driver = start.driver
        self._day = None if prepared is None else prepared.day.anew()
        """today beside the start's own reference; None where that is not in use"""
        self._grip = GripShown()
        self._patchwork = Patchwork()
        self._on_clean_line = False
        """the grip lap follows the line of a clean lap"""
        self._told_far = False

    @property
    def by_line(self) -> bool:
        """Whether the reference's line is one to follow: a grip lap is driven on the driver's own."""
        return self.choice != "grip"

    @property
    def origin(self) -> str | None:
        """The name of the lap that will be made; None where none was chosen."""
        return None if self.choice is None else CHOICES[self.choice]

    def drop(self) -> None:
        """The start's reference is of another circuit, or of no more interest."""
        self._day = self.pace = self.recalled = None

    def recall(self, prepared: Prepared, driver: str | None) -> Course:
        """A lap from earlier days, driven by `driver`, is the reference; a quicker one of this session takes its
        place."""
        self._day, self._driver, self.recalled = prepared.day, driver, prepared.course.lap
        return prepared.course

    def choose(self, lap: GridLap, known: Circuit | None) -> Course:
        """The driver wants this lap of theirs to be the reference."""
        self.drop()
        self.chosen, self.choice = True, None
        return read_course(lap, known)

    def another_day(self, tape: Tape, progress: float, driver: str | None, wetness: float | None) -> bool:
        """Whether the running lap shows already that its day has less grip than the reference's."""
        if self._day is None or not self._same_hands(driver, wetness):
            return False
        return self._day.plainly_less(tape, progress)

    def learn(self, driven: Driven, current: Course | None, known: Circuit | None) -> News:
        """What a whole lap changes. `current`: the course of the reference in use; `known`: the map so far."""
        lap, news = driven.lap, News()
        better = driven.closed.clean and (self.best is None or lap.total < self.best.total)
        if better:
            self.best = lap
        if driven.closed.clean and (self._day is not None or self.choice is not None):
            self._patchwork.add(lap)
        if self.chosen:
            return news
        if self.recalled is not None and driven.closed.clean and lap.total < self.recalled.total:
            self.drop()
            news.course, news.origin, news.beaten = read_course(lap, known), OWN, True
        elif self._day is not None:
            self._look_at_the_day(self._day, driven, known, news)
        elif self.choice == "grip":
            self._make_grip_lap(driven, current, known, news)
        elif self.choice == "patchwork":
            self._make_patchwork(current, known, news)
        elif better:
            news.course, news.origin = read_course(lap, known), OWN
        self._aim(news.course or current, news)
        return news

    def _look_at_the_day(self, day: Day, driven: Driven, known: Circuit | None, news: News) -> None:
        if driven.fair and not driven.cold:
            day.add(driven.lap)
        grip = day.poorer()
        if grip is None or self.best is None or not self._same_hands(driven.driver, driven.wetness):
            return
        self.drop()
        news.course, news.origin, news.today = read_course(self.best, known), OWN, True
        text = f"{round(100 * (1 - grip))} % less grip than in the reference: your own laps of today count from now on"
        news.advice.append((text, {"grip": grip}))

    def _same_hands(self, driver: str | None, wetness: float | None) -> bool:
        """Whether less grip can be the day's: another driver may just use less of it, unless the road is wet."""
        wet = wetness is not None and wetness >= WET
        return wet or not self._driver or not driver or self._driver == driver

    def _make_grip_lap(self, driven: Driven, current: Course | None, known: Circuit | None, news: News) -> None:
        """From the first whole lap on, clean or not quite; on the line of the best clean lap once there is one."""
        if not driven.fair:
            return
        base = self.best if self.best is not None else driven.lap
        if path_curvature(base) is None:
            self.choice, news.blind = None, True
            if self.best is not None:
                news.course, news.origin = read_course(self.best, known), OWN
            return
        self._grip.add(driven.lap)
        envelope = self._grip.envelope()
        made = None if envelope is None else grip_lap(base, envelope)
        if made is None:
            return
        first_clean = base is self.best and not self._on_clean_line
        if first_clean or self._is_news(made, current):
            self._on_clean_line = base is self.best
            news.course, news.origin = read_course(made, known), CHOICES["grip"]

    def _make_patchwork(self, current: Course | None, known: Circuit | None, news: News) -> None:
        if self.best is None:
            return
        course = current if current is not None else read_course(self.best, known)
        made = self._patchwork.join(course.ledger.bounds)
        if made is not None and self._is_news(made, current):
            news.course = read_course(made, course.circuit)
            news.origin = CHOICES["patchwork"]

    def _is_news(self, made: GridLap, current: Course | None) -> bool:
        """Whether it is quicker by enough, or the driver has beaten what was made before."""
        if current is None:
            return True
        beaten = self.best is not None and self.best.total < current.lap.total
        return beaten or made.total < (1.0 - MEANINGFUL) * current.lap.total

    def _aim(self, course: Course | None, news: News) -> None:
        """Pace comes from the patchwork as long as a reference that is not made of it is too far away."""
        before, self.pace = self.pace, None
        given = self._day is not None or self.choice == "grip"
        if course is not None and given and self.best is not None:
            gap = self.best.total / course.lap.total - 1.0
            near = self._patchwork.join(course.ledger.bounds) if gap > FAR else None
            if near is not None:
                self.pace = rows_of(near, course.ledger.bounds)
                if not self._told_far:
                    self._told_far = True
                    news.advice.append((_far(gap, self.choice), {"gap": gap}))
        news.repaced = self.pace is not None or before is not None


def _far(gap: float, choice: str | None) -> str:
    what, gives = ("grip lap", "marks") if choice == "grip" else ("reference", "line and marks")
    return (
        f"the {what} is {100 * gap:.0f} % quicker: it gives {gives}, your own best corners the pace until you are near"
    )
