"""Events come back from their records as they were; what is no event is refused in one line."""

from __future__ import annotations

import json
from typing import Any

import pytest

from coach.engine.learned import Learned
from coach.planner.state import Practised
from coach.vocabulary import events
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import (
    Action,
    Advice,
    Answer,
    CornerMark,
    Corners,
    Cue,
    Delta,
    Detector,
    Event,
    Fault,
    Lap,
    Loss,
    LossPart,
    Mark,
    Moment,
    Passed,
    Reference,
    Run,
    Spoken,
    Stage,
    Stores,
    Stream,
    Topic,
    record,
)
from coach.vocabulary.reading import event_of
from coach.vocabulary.trace import LapTrace

TRACE = LapTrace(0.0, 1.0, [0.0, 0.0], [0.0, 0.0], [0.0, 0.0], [0.0, 0.0], [0.0, 0.0])
MARK = CornerMark(3, "left", 120.25, 180.5, 210.0, 260.75, (205.0, 215.5), True, False)
EVERY: list[Event] = [
    Run(0.5, 0, "1", "made", "Loop", None, None, "shipped"),
    Detector(0.5, 0, "lock_up", False, "wheel_speed"),
    Stream(1.0, 1, "pause", 0.25, None, 3),
    Reference(2.0, 1, 61.5, "clean.jsonl", TRACE),
    Corners(2.0, 1, "m1", (MARK,), TRACE),
    Lap(3.0, 1, 61.5, None, False, ("cut", "pit"), -0.25, 61.75),
    Loss(3.0, 1, (LossPart(3, "braking", 0.125), LossPart(None, "straight", -0.5, 0.25))),
    Delta(3.5, 2, 12.5, 0.125, 61.625),
    Fault(4.0, 2, "coasting", 3, 210.0, 3.5, 0.25, "s", 0.125, None, ("early_braking",), {"own": 0.5, "by": "brakes"}),
    Cue(5.0, 2, "correction", "coasting", (Spoken(2, 3, "coasting"),), 3, "Stay on it", True, 5.5, 6.0, None, None),
    Advice(6.0, 2, "fuel", "two laps left", {"laps": 2.0}),
    Action(6.5, 2, "mark", 512.25, "instructor"),
    Moment(7.0, 2, 12.5, 40.0, 1.0, 0.0, 2.5, "pit"),
    Passed(7.5, 2, 3, True, 0.125, (Mark("brake", 120.25, 1.5, 2.0), Mark("exit", 0.25, None, 0.5))),
    Answer(8.0, 2, "use_lap", True),
    Topic(8.5, 2, None),
    Stage(9.0, 2, "clean", True, ("4 clean laps in a row",)),
    Stores(9.5, 2, 12.5, None, 600.0),
]


def through_json(event: Event) -> Any:
    return json.loads(json.dumps(record(event)))


@pytest.mark.parametrize("event", EVERY, ids=lambda event: event.type or type(event).__name__)
def test_an_event_comes_back_from_its_record(event: Event) -> None:
    assert event_of(through_json(event)) == event


def test_every_class_of_event_is_tried() -> None:
    kinds = {kind for kind in vars(events).values() if isinstance(kind, type) and issubclass(kind, Event)} - {Event}
    assert {type(event) for event in EVERY} == kinds
    assert not {Learned, Practised} & kinds  # these have homes of their own in the memory


def test_a_type_that_is_not_known_is_none() -> None:
    assert event_of({"type": "of a later version", "t": 0.0, "lap": 1}) is None
    assert event_of({}) is None


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"t": "soon"}, "fault.t"),
        ({"t": float("nan")}, "fault.t"),
        ({"t": 10**400}, "fault.t"),
        ({"t": True}, "fault.t"),
        ({"lap": 1.5}, "fault.lap"),
        ({"lap": True}, "fault.lap"),
        ({"fault": None}, "fault.fault"),
        ({"also": "coasting"}, "fault.also"),
        ({"evidence": []}, "fault.evidence"),
    ],
)
def test_a_wrong_field_is_named(change: dict[str, Any], named: str) -> None:
    plain = {**record(next(event for event in EVERY if isinstance(event, Fault))), **change}
    with pytest.raises(FormatError, match=named):
        event_of(plain)


def test_a_missing_field_and_a_wrong_part_are_named() -> None:
    with pytest.raises(FormatError, match=r"lap\.clean is missing"):
        event_of({"type": "lap", "t": 0.0, "lap": 1, "time": None, "source_time": None})
    with pytest.raises(FormatError, match=r"loss\.parts is no object"):
        event_of({"type": "loss", "t": 0.0, "lap": 1, "parts": [3]})


def test_what_has_a_default_may_be_absent() -> None:
    assert event_of({"type": "passed", "t": 1.0, "lap": 2, "corner": 3, "judged": True, "net": None}) == Passed(
        1.0, 2, 3, True, None
    )
