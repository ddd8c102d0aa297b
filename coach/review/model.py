"""A session as it is looked at afterwards: its laps, with all that was found, said and learned in each."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from coach.engine.lap import GridLap
from coach.vocabulary.events import Action, Advice, CornerMark, Cue, Fault, LossPart, Passed, Stores
from coach.vocabulary.stages import PACE

ALOUD = ("correction", "reminder")
"""Kinds of cue that tell a driver what to do: a lap with one is a cued lap."""


@dataclass(slots=True)
class KeptLap:
    """One lap that ended. `number` as the source counts, which begins anew after a reset; `index` counts through.

    `t` s (source clock) when it ended; `time` s, None where it was not whole; `delta` s to the reference that it had,
    `reference_time`; `parts` where the delta was lost; `stage` it was driven in; `fuel` L that it took, `stores` what
    was left at its end; `grid` its channels by distance, where it was whole and they were read; `id` and `name` in the
    memory.
    """

    number: int
    index: int
    t: float
    time: float | None
    clean: bool
    why_not: tuple[str, ...] = ()
    delta: float | None = None
    reference_time: float | None = None
    parts: tuple[LossPart, ...] = ()
    faults: list[Fault] = field(default_factory=list)
    passes: list[Passed] = field(default_factory=list)
    cues: list[Cue] = field(default_factory=list)
    stage: str = PACE
    fuel: float | None = None
    stores: Stores | None = None
    grid: GridLap | None = None
    id: int | None = None
    name: str | None = None

    @property
    def cued(self) -> bool:
        """Whether something was said in it that tells the driver what to do."""
        return any(cue.spoken and cue.kind in ALOUD for cue in self.cues)


@dataclass(slots=True)
class KeptSession:
    """One session: one driver in one car on one circuit. `begun` and `ended` in s since 1970, where known.

    `reference_time` s and `reference_origin` of the last reference it had, `reference` its channels by distance, where
    they were read; None each where it was dropped since. `corners` of the map `map`; `off`: by detector, what it
    lacked; `stream`: by kind, how often; `conditions`: wetness 0..1, track_temp and air_temp degC. `topic`: the fault
    that was worked on last, None for nothing. `loose_faults`, `loose_cues` and `loose_passes`: of laps that never
    ended, the last one among them.
    """

    id: int | None = None
    begun: float | None = None
    ended: float | None = None
    track: str | None = None
    car: str | None = None
    driver: str | None = None
    setup: str | None = None
    kind: str | None = None
    source: str = ""
    version: str = ""
    note: str = ""
    stage: str = PACE
    topic: str | None = None
    laps: list[KeptLap] = field(default_factory=list)
    map: str = ""
    corners: tuple[CornerMark, ...] = ()
    length: float | None = None
    reference_time: float | None = None
    reference_origin: str | None = None
    reference: GridLap | None = field(default=None, compare=False)
    advice: list[Advice] = field(default_factory=list)
    actions: list[Action] = field(default_factory=list)
    off: dict[str, str | None] = field(default_factory=dict)
    stream: Counter[str] = field(default_factory=Counter)
    conditions: dict[str, float] = field(default_factory=dict)
    loose_faults: list[Fault] = field(default_factory=list)
    loose_cues: list[Cue] = field(default_factory=list)
    loose_passes: list[Passed] = field(default_factory=list)

    @property
    def clean_laps(self) -> list[KeptLap]:
        """The clean ones that have a time."""
        return [lap for lap in self.laps if lap.clean and lap.time is not None]
