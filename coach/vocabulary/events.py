"""What happened: the events that engine and planner return and every sink reads.

One class a `type` of the event log. `record(event)` gives the log's JSON object: times rounded to 0.1 ms,
distances to 1 cm, the fields of the contract in its order. Fields marked hidden stay inside the program.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any, ClassVar, cast

from coach.vocabulary.actions import DRIVER
from coach.vocabulary.trace import LapTrace

_TIME_DIGITS, _DISTANCE_DIGITS = 4, 2
_METRES = {"digits": _DISTANCE_DIGITS}
_HIDDEN = {"hidden": True}


@dataclass(slots=True)
class Event:
    """Base. `t` (s) is the source's clock when it was decided; `lap` as the source counts."""

    type: ClassVar[str] = ""
    logged: ClassVar[bool] = True

    t: float
    lap: int


@dataclass(slots=True)
class Run(Event):
    """The first line of a log, and of each new session in it."""

    type: ClassVar[str] = "run"
    version: str
    source: str
    track: str | None
    car: str | None
    reference: str | None
    phrases: str


@dataclass(slots=True)
class Detector(Event):
    """A detector goes on or off; `lacks` names the channel or assist that switches it off."""

    type: ClassVar[str] = "detector"
    name: str
    on: bool
    lacks: str | None


@dataclass(slots=True)
class Stream(Event):
    """Something about the stream itself.

    `what`: gap, late, duplicate, reset, rewind, teleport, pit, pause, source, lost or back; `start` and `end` (s) are
    logged as `from` and `to`. `count`: how many datagrams it stands for.
    """

    type: ClassVar[str] = "stream"
    what: str
    start: float | None = field(metadata={"name": "from"})
    end: float | None = field(metadata={"name": "to"})
    count: int = 1


@dataclass(slots=True)
class Reference(Event):
    """The reference was set or changed. `lap` is the reference's own lap number in its origin.

    `trace` is hidden: the reference by distance, for the planner's windows and the overlay.
    """

    type: ClassVar[str] = "reference"
    time: float
    origin: str
    trace: LapTrace = field(metadata=_HIDDEN)


@dataclass(slots=True)
class CornerMark:
    """One corner of the circuit's map; places in m from the start line."""

    corner: int
    direction: str
    brake: float = field(metadata=_METRES)
    entry: float = field(metadata=_METRES)
    apex: float = field(metadata=_METRES)
    exit: float = field(metadata=_METRES)
    apexes: tuple[float, ...] = field(metadata=_METRES)
    linked: bool = False
    coached: bool = True


@dataclass(slots=True)
class Corners(Event):
    """The circuit's map, when known and when it grows. `trace` is hidden: the lap it was read from."""

    type: ClassVar[str] = "corners"
    map: str
    corners: tuple[CornerMark, ...]
    trace: LapTrace = field(metadata=_HIDDEN)


@dataclass(slots=True)
class Lap(Event):
    """A lap ended. `time` (s) by line crossing, null where the lap was not whole; `delta` (s) to the reference."""

    type: ClassVar[str] = "lap"
    time: float | None
    source_time: float | None
    clean: bool
    why_not: tuple[str, ...]
    delta: float | None
    reference_time: float | None


PHASES = ("braking", "entry", "exit", "straight")
"""Of a corner, in the order driven; the straight is the one behind it."""


@dataclass(slots=True)
class LossPart:
    """Seconds lost in one part of the lap; `from_exit` only on a straight."""

    corner: int | None
    phase: str
    seconds: float
    from_exit: float | None = None


@dataclass(slots=True)
class Loss(Event):
    """Where the seconds of the lap went; the parts sum to the lap's delta."""

    type: ClassVar[str] = "loss"
    parts: tuple[LossPart, ...]


@dataclass(slots=True)
class Delta(Event):
    """The running delta (s, positive = slower than the reference) at `distance` (m)."""

    type: ClassVar[str] = "delta"
    distance: float = field(metadata=_METRES)
    delta: float = 0.0
    predicted: float | None = None


@dataclass(slots=True)
class Fault(Event):
    """A driving fault, decided at the corner's exit. `lap` is the lap it happened in."""

    type: ClassVar[str] = "fault"
    fault: str
    corner: int | None
    distance: float = field(metadata=_METRES)
    begins: float = 0.0
    size: float = 0.0
    unit: str = ""
    net: float | None = None
    cost: float | None = None
    also: tuple[str, ...] = ()
    evidence: dict[str, Any] = field(default_factory=dict)


@dataclass(slots=True)
class Spoken:
    """A finding that a cue speaks of."""

    lap: int
    corner: int | None
    fault: str


@dataclass(slots=True)
class Cue(Event):
    """Something said, or held back with the reason in `why_not`. Times in s; null where not spoken."""

    type: ClassVar[str] = "cue"
    kind: str
    about: str | None
    of: tuple[Spoken, ...]
    corner: int | None
    text: str
    spoken: bool
    starts: float | None
    ends: float | None
    deadline: float | None
    why_not: str | None


@dataclass(slots=True)
class Advice(Event):
    """Slower matters: tyres, fuel, practice, setup, traffic, car."""

    type: ClassVar[str] = "advice"
    topic: str
    text: str
    numbers: dict[str, float] = field(default_factory=dict)


@dataclass(slots=True)
class Action(Event):
    """What the driver or an instructor pressed, at `distance` (m from the line, None where it is not known)."""

    type: ClassVar[str] = "action"
    action: str
    distance: float | None = field(default=None, metadata=_METRES)
    by: str = DRIVER
    """who: driver or instructor"""


@dataclass(slots=True)
class Moment(Event):
    """Never logged: where the car is now, once a sample, the planner's and the overlay's only clock.

    `distance` m from the line (None while unknown), `lateral` m/s^2 smoothed and absolute, pedals 0..1.
    `quiet` names the reason why nothing may be said now ("pit", "pause", "beside", "yellow", "off", "race") or is "".
    """

    type: ClassVar[str] = "moment"
    logged: ClassVar[bool] = False
    distance: float | None
    speed: float | None
    throttle: float | None
    brake: float | None
    lateral: float | None
    quiet: str = ""


@dataclass(slots=True)
class Mark:
    """One of a corner's three marks as one pass hit it: `name` is brake, apex or exit.

    `at` m: of the brakes the place from the line; of apex and exit the road left to the inside and the outside edge,
    or, without edges, the way from the reference's path. `off` m: beyond where it should be, + is later or further
    from the edge; None where nothing says where that is. `allowed` m to either side is a hit.
    """

    name: str
    at: float = field(metadata=_METRES)
    off: float | None = field(metadata=_METRES)
    allowed: float = field(metadata=_METRES)

    @property
    def hit(self) -> bool | None:
        """Whether it was hit; None where nothing says where it is."""
        return None if self.off is None else abs(self.off) <= self.allowed


@dataclass(slots=True)
class Passed(Event):
    """Never logged: the car has left a corner, and what its judgement found was told before.

    `judged`: it was held against the marks, so that no finding means there was no fault. `net`: s lost from the
    corner's brake point to the end of the straight behind it, None where nothing prices it. `marks`: those that this
    pass showed.
    """

    type: ClassVar[str] = "passed"
    logged: ClassVar[bool] = False
    corner: int
    judged: bool
    net: float | None
    marks: tuple[Mark, ...] = ()


@dataclass(slots=True)
class Answer(Event):
    """Never logged: what the engine made of an action that was asked of it."""

    type: ClassVar[str] = "answer"
    logged: ClassVar[bool] = False
    action: str
    done: bool


@dataclass(slots=True)
class Topic(Event):
    """Never logged: what is worked on from now on, by the name of the fault; None for nothing."""

    type: ClassVar[str] = "topic"
    logged: ClassVar[bool] = False
    fault: str | None


@dataclass(slots=True)
class Stage(Event):
    """Never logged: the practice is at this stage from now on (see `vocabulary.stages`).

    `earned`: the next one is earned; `evidence`: what says so, or what is still lacking, a sentence each.
    """

    type: ClassVar[str] = "stage"
    logged: ClassVar[bool] = False
    stage: str
    earned: bool = False
    evidence: tuple[str, ...] = ()


@dataclass(slots=True)
class Stores(Event):
    """Never logged: what is left, about once a second; None for what the source does not send.

    `fuel` L; `laps_left` and `time_left` (s) of the session.
    """

    type: ClassVar[str] = "stores"
    logged: ClassVar[bool] = False
    fuel: float | None
    laps_left: float | None
    time_left: float | None


@cache
def _columns(kind: Hashable) -> tuple[tuple[str, str, int], ...]:
    return tuple(
        (f.name, f.metadata.get("name", f.name), f.metadata.get("digits", _TIME_DIGITS))
        for f in fields(cast(type[Any], kind))
        if not f.metadata.get("hidden")
    )


def _plain(value: Any, digits: int) -> Any:
    if isinstance(value, float):
        return round(value, digits) + 0.0  # no negative zero
    if isinstance(value, (tuple, list)):
        return [_plain(item, digits) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item, digits) for key, item in value.items()}
    if hasattr(value, "__dataclass_fields__"):
        return _object(value)
    return value


def _object(thing: Any) -> dict[str, Any]:
    return {
        name: _plain(getattr(thing, attribute), digits)
        for attribute, name, digits in _columns(cast(Hashable, type(thing)))
    }


def record(event: Event) -> dict[str, Any]:
    """The JSON object of one event for the log: `type` first, then the fields in the contract's order."""
    plain = {"type": event.type, **_object(event)}
    if isinstance(event, Loss):
        for part in plain["parts"]:
            if part["from_exit"] is None:
                del part["from_exit"]
    return plain
