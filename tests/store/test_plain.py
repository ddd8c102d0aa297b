"""JSON text of whatever comes: RFC 8259 is read by `json`, and by SQLite's json_valid."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from coach.review.results import Thing
from coach.store.plain import body, events, text_of, thing_body, thing_of
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Advice, Fault, Passed

THING = Thing("late_throttle", 4, 0.25, 3, 5, 0.75, (2, 4, 5), 12.5, "m", "3 of 5 passes")


@pytest.mark.parametrize(
    ("plain", "read"),
    [
        ({"a": float("nan"), "b": float("inf")}, {"a": None, "b": None}),
        ({"a": np.float64(1.5), "b": np.int64(3), "c": np.array([1.0])}, {"a": 1.5, "b": 3, "c": [1.0]}),
        ({"a": 10**30}, {"a": 10**30}),
        ({"a": "half \ud800 a character", "b": "\x00\n\u2028"}, {"a": "half ? a character", "b": "\x00\n\u2028"}),
        ({1: "a", None: "b"}, {"1": "a", "null": "b"}),
    ],
)
def test_any_values_become_json(plain: Any, read: Any) -> None:
    text = text_of(plain)
    assert json.loads(text) == read
    with closing(sqlite3.connect(":memory:")) as memory:
        assert memory.execute("SELECT json_valid(?)", (text,)).fetchone() == (1,)


def test_events_come_back_and_what_is_damaged_is_left_out() -> None:
    happened = [
        Passed(1.0, 2, 4, True, None, ()),
        Fault(1.5, 2, "late_throttle", 4, 812.25, 1.25, 0.5, "s", 0.25, 0.125, (), {"deep": {"x": [1, 2]}}),
        Advice(2.0, 2, "fuel", 'a "label" \\ ü', {"laps": 4.5}),
    ]
    bodies = [body(event) for event in happened]
    damaged = ["", "null", "[]", '"a"', '{"type": 3}', '{"type": "fault"}', '{"type": "of a later version", "t": 1}']
    assert list(events([*damaged[:3], *bodies, *damaged[3:]])) == happened


def test_a_thing_comes_back() -> None:
    assert thing_of(thing_body(THING)) == THING
    none = replace(THING, corner=None, laps=())
    assert thing_of(thing_body(none)) == none
    for text in ("", "[]", "{}", '{"fault": "x"}', "null"):
        with pytest.raises(FormatError):
            thing_of(text)
