"""What a review comes to, as plain values: pages and terminals only lay them out."""

from __future__ import annotations

from dataclasses import dataclass, field

MENDED, BETTER, SAME, WORSE, UNKNOWN = VERDICTS = ("mended", "better", "same", "worse", "unknown")
"""How a thing fared; unknown: too few passes of that corner were judged to say whether a change is more than luck."""


@dataclass(frozen=True, slots=True)
class Thing:
    """One of the things to do next time: a fault at a corner (None: no corner), the dearest first.

    `seconds` a lap that it is worth; `times` it came up in `passes` that were judged; `total` s in the session; `laps`
    (numbers) it came up in; `size` the median, in `unit`; `why`: the evidence in one plain sentence.
    """

    fault: str
    corner: int | None
    seconds: float
    times: int
    passes: int
    total: float
    laps: tuple[int, ...]
    size: float
    unit: str
    why: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a thing of the session before fared in this one: `verdict` of VERDICTS, `why` the evidence in a sentence.

    `before` and `after`: s a lap; `chance`: that as clear a change comes by luck alone, None where not reckoned.
    """

    thing: Thing
    verdict: str
    why: str
    before: float
    after: float | None
    chance: float | None = None


@dataclass(frozen=True, slots=True)
class CornerLoss:
    """Median s a lap lost at one corner (None: what belongs to none) by phase, and their sum over the session.

    `by_exit`: of the straight, what the exit speed explains.
    """

    corner: int | None
    phases: dict[str, float]
    by_exit: float | None
    a_lap: float
    total: float


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One mark of one corner over a session: passes that tell, share that hit, spread (m, standard deviation)."""

    corner: int
    name: str
    passes: int
    hit: float | None
    spread: float | None


@dataclass(frozen=True, slots=True)
class Said:
    """A cue's words about one fault (at one corner) and whether they helped: the share of judged passes in which it
    came up before the first time it was said, and after. None where too few passes tell."""

    text: str
    about: str | None
    corner: int | None
    times: int
    laps: tuple[int, ...]
    before: float | None
    after: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How alike the laps were, s and shares. `best` and `median` of the clean laps; `spread`: interquartile range of
    the clean laps' times; `share` of whole laps that were clean; `row`: most clean ones in a row."""

    laps: int
    clean: int
    best: float | None
    median: float | None
    spread: float | None
    share: float | None
    row: int


@dataclass(frozen=True, slots=True)
class CuedAgainstUncued:
    """Median s of the clean laps with a cue that told what to do, and of those without; `chance` of a rank test that
    such a difference comes by luck. None where either kind has too few."""

    cued: int
    uncued: int
    cued_median: float | None
    uncued_median: float | None
    chance: float | None


@dataclass(frozen=True, slots=True)
class StageVerdict:
    """At which stage a session was, whether the next is earned, by what evidence, and which stage the data say.

    `lacking`: those sentences of the evidence that tell of something that is not there yet.
    """

    stage: str
    earned: bool
    evidence: tuple[str, ...]
    following: str | None
    advised: str
    lacking: tuple[str, ...] = ()

    @property
    def points(self) -> tuple[str, ...]:
        """Each thing that the stage asks, with whether it is there."""
        return tuple(f"{'not yet' if text in self.lacking else 'met'}: {text}" for text in self.evidence)


@dataclass(slots=True)
class Review:
    """All that one session comes to. `outcomes`: of the things told after the session before."""

    things: list[Thing] = field(default_factory=list)
    outcomes: list[Outcome] = field(default_factory=list)
    stage: StageVerdict | None = None
    losses: list[CornerLoss] = field(default_factory=list)
    marks: list[MarkRow] = field(default_factory=list)
    said: list[Said] = field(default_factory=list)
    steadiness: Steadiness | None = None
    cued: CuedAgainstUncued | None = None


@dataclass(frozen=True, slots=True)
class Day:
    """One session in the view of a week. `losses`: by corner (None: no corner) the median s a lap against the one lap
    that all sessions of the view are held against; `label`: date, or what there is."""

    session: int | None
    begun: float | None
    label: str
    setup: str | None
    stage: str
    steadiness: Steadiness
    losses: dict[int | None, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Habit:
    """A fault (at a corner) over the sessions of a view: by session the share of judged passes that showed it (None:
    too few judged), and s a lap. `story`: new, there, unsure, mended, back or gone for each, "" where it had not come
    up yet; `why` in a sentence."""

    fault: str
    corner: int | None
    shares: tuple[float | None, ...]
    seconds: tuple[float, ...]
    story: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Setup:
    """All sessions of a view that were driven with one setup, by its label (None: without one).

    `losses` as in `Day`; `chance`: that its clean laps differ as much from those of the other setups by luck alone,
    None where there are too few.
    """

    label: str | None
    sessions: tuple[int, ...]
    """places in `Progress.days`"""
    steadiness: Steadiness
    losses: dict[int | None, float]
    chance: float | None


@dataclass(slots=True)
class Progress:
    """The sessions of one driver in one car on one circuit, in order. `reference`: the name and time (s) of the lap
    that `Day.losses` are held against. `setups`: side by side, where there are two or more."""

    driver: str | None
    car: str | None
    track: str | None
    days: list[Day] = field(default_factory=list)
    habits: list[Habit] = field(default_factory=list)
    cued: CuedAgainstUncued | None = None
    reference: tuple[str, float] | None = None
    setups: list[Setup] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Pupil:
    """One pupil on one circuit: the last session's numbers, what is stuck, and the three things."""

    name: str
    sessions: int
    laps: int
    steadiness: Steadiness
    stage: StageVerdict | None
    things: tuple[Thing, ...]
    stuck: tuple[Habit, ...]


@dataclass(frozen=True, slots=True)
class Shared:
    """A fault (at a corner) that several pupils have: who, and s a lap each."""

    fault: str
    corner: int | None
    seconds: dict[str, float]


@dataclass(slots=True)
class Class:
    """Pupils on one circuit side by side. `losses`: by corner and pupil, median s a lap."""

    track: str | None
    pupils: list[Pupil] = field(default_factory=list)
    shared: list[Shared] = field(default_factory=list)
    losses: dict[int | None, dict[str, float]] = field(default_factory=dict)
