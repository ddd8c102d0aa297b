"""What the planner knows of a driver at a lap's end: kept over the days, and given back at the next start."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isfinite
from typing import Any, ClassVar

from coach.planner.record import Key, Turn
from coach.planner.topic import SHARES, Topic
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Event
from coach.vocabulary.faults import FAULTS

VERSION = 1
"""Of the state as plain JSON."""
DIGITS = 4
"""Of seconds: a tenth of a millisecond."""
MOST = 10_000
"""Laps, corners, tries: whatever is counted is less. Of lists, so many entries are read."""


@dataclass(slots=True)
class Practised(Event):
    """Never logged: `state` is plain JSON that `Planner.recall` takes back, in this or another session."""

    type: ClassVar[str] = "practised"
    logged: ClassVar[bool] = False
    state: dict[str, Any]


@dataclass(slots=True)
class State:
    """Laps are counted back from the last one, which is 0, the one before it -1.

    `reference` s: the lap time that the nets of the turns are against; `best` s: the best clean lap. `trails`: the last
    turns, by fault and corner. `mended`, `topics`, `slower` as of the focus; `aside`: so many laps to go, by fault.
    """

    reference: float | None = None
    best: float | None = None
    trails: dict[Key, list[Turn]] = field(default_factory=dict)
    mended: list[str] = field(default_factory=list)
    aside: dict[str, int] = field(default_factory=dict)
    slower: list[float] = field(default_factory=list)
    topics: list[Topic] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON, some kB."""
        return {
            "version": VERSION,
            "reference": self.reference,
            "best": self.best,
            "trails": [
                [fault, corner, [[t.lap, int(t.hit), _short(t.cost), _short(t.net), int(t.told)] for t in turns]]
                for (fault, corner), turns in self.trails.items()
            ],
            "mended": self.mended,
            "aside": [[fault, left] for fault, left in self.aside.items()],
            "slower": [_short(share) for share in self.slower],
            "topics": [
                {
                    "fault": topic.fault,
                    "since": topic.since,
                    "corners": topic.corners,
                    "level": topic.level,
                    "credit": topic.credit,
                    "told": topic.told,
                    "reminded": [[corner, lap] for corner, lap in topic.reminded.items()],
                    "hits": [[lap, times] for lap, times in topic.hits.items()],
                }
                for topic in self.topics
            ],
        }

    @classmethod
    def from_json(cls, data: Any) -> State:
        """What `to_json` wrote; faults not known here are left out. Raises FormatError naming what is wrong."""
        try:
            if data["version"] != VERSION:
                raise ValueError(f"version {data['version']!r:.20} is not known here")
            return cls(
                reference=_seconds(data["reference"]),
                best=_seconds(data["best"]),
                trails={
                    (fault, _corner(corner)): [_turn(*turn) for turn in _listed(turns)]
                    for fault, corner, turns in _listed(data["trails"])
                    if fault in FAULTS
                },
                mended=[fault for fault in _listed(data["mended"]) if fault in FAULTS],
                aside={fault: _count(left) for fault, left in _listed(data["aside"]) if fault in FAULTS},
                slower=[_number(share) for share in _listed(data["slower"])],
                topics=[_topic(topic) for topic in _listed(data["topics"]) if topic["fault"] in FAULTS],
            )
        except (KeyError, TypeError, ValueError, OverflowError, AttributeError) as error:
            raise FormatError(f"what was practised cannot be read ({error!r})") from error


def _topic(data: Any) -> Topic:
    level = _count(data["level"])
    if not 0 <= level < len(SHARES):
        raise ValueError(f"there is no level {level}")
    return Topic(
        fault=data["fault"],
        since=_count(data["since"]),
        corners=[_corner(corner) for corner in _listed(data["corners"])],
        level=level,
        credit=_number(data["credit"]),
        told=_count(data["told"]),
        reminded={_count(corner): _count(lap) for corner, lap in _listed(data["reminded"])},
        hits={_count(lap): _count(times) for lap, times in _listed(data["hits"])},
    )


def _turn(lap: Any, hit: Any, cost: Any, net: Any, told: Any) -> Turn:
    return Turn(_count(lap), 0, bool(_count(hit)), _number(cost), _seconds(net), 0, bool(_count(told)))


def _listed(value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST:
        raise TypeError(f"a list of {MOST} at most is needed, not {type(value).__name__}")
    return value


def _count(value: Any) -> int:
    if type(value) is not int or abs(value) > MOST:
        raise ValueError(f"{value!r:.40} is no count")
    return value


def _corner(value: Any) -> int | None:
    return None if value is None else _count(value)


def _number(value: Any) -> float:
    if type(value) not in (int, float) or not isfinite(value):
        raise ValueError(f"{value!r:.40} is no number")
    return float(value)


def _seconds(value: Any) -> float | None:
    return None if value is None else _number(value)


def _short(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)
