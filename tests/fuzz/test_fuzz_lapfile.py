"""Lap files: any bytes, and any JSON, are a lap that the engine can work with or one FormatError."""

from __future__ import annotations

import copy
import gzip
import json
from typing import Any

import numpy as np
import orjson
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.app.remembering.lapfile import HandedLap, lap_bytes, lap_from, lap_of_text
from coach.engine.circuit import survey
from coach.engine.lap import GridLap
from coach.vocabulary.errors import FormatError
from tests.app.remembered import MAP, PLACES, pond_lap


def example() -> HandedLap:
    """A small lap round a circle, with a map of one corner."""
    lap = HandedLap(pond_lap(8.0), MAP, "D. River", "wet line", True, 1_764_000_000.0, warm=81.5)
    lap.usual = {(1, "brake_point"): 70.5, (1, "apex_speed"): 10.0}
    for value in (69.0, 70.5, 72.0, 70.0):
        lap.scatter.add(1, "brake_point", value)
    return lap


SEED = lap_bytes(example())
TEXT = gzip.decompress(SEED)
PLAIN = orjson.loads(TEXT)


def check(data: bytes) -> None:
    """The bytes of a file."""
    held(lambda: lap_from(data, "lap.cwlap"))


def check_text(data: bytes) -> None:
    """What is packed in a file."""
    held(lambda: lap_of_text(data, "lap.cwlap"))


def held(read: Any) -> None:
    """A lap, the same when it is written and read again, of which the engine makes a map; or one FormatError."""
    try:
        lap = read()
    except FormatError as error:
        assert str(error).isprintable()
        assert len(str(error)) < 300
        return
    again = lap_from(lap_bytes(lap), "again.cwlap")
    assert again.grid.to_json() == lap.grid.to_json()
    assert (again.circuit, again.driver, again.name, again.clean) == (lap.circuit, lap.driver, lap.name, lap.clean)
    assert (again.scatter.to_json(), again.usual, again.warm) == (lap.scatter.to_json(), lap.usual, lap.warm)
    lap.scatter.medians()
    assert GridLap.from_json(lap.grid.to_json()).total == lap.grid.total
    for text in (lap.grid.track, lap.grid.car, lap.driver, lap.name):
        assert text is None or text.isprintable()
    with np.errstate(all="ignore"):  # what no car does may overflow, and must end all the same
        survey(lap.grid, lap.circuit)
        lap.grid.trace()


TARGETS = {"lapfile": check, "laptext": check_text}
SEEDS = {"lapfile": [SEED], "laptext": [TEXT]}


def spoilt(place: int, by: bytes) -> bytes:
    """The good file with other bytes at a place."""
    return SEED[:place] + by + SEED[place + len(by) :]


def written(plain: Any) -> bytes:
    """As JSON, also what orjson would not write: whole numbers of any size, and what is not finite."""
    return json.dumps(plain).encode()


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)
keys = st.sampled_from(sorted(PLAIN))


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200) | st.builds(spoilt, st.integers(0, len(SEED)), st.binary(max_size=6)))
def test_any_bytes(data: bytes) -> None:
    check(data)


@settings(max_examples=80, deadline=None)
@given(keys, values)
def test_another_value_under_any_key(key: str, value: Any) -> None:
    check_text(written({**PLAIN, key: value}))


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(sorted(PLAIN["channels"])), st.integers(0, PLACES - 1), st.floats() | st.integers() | st.none())
def test_another_value_in_any_channel(channel: str, place: int, value: Any) -> None:
    plain = copy.deepcopy(PLAIN)
    plain["channels"][channel][place] = value
    check_text(written(plain))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(PLAIN["habits"])), values | st.lists(st.tuples(st.integers(-1, 9), st.text(), values)))
def test_another_value_in_the_habits(key: str, value: Any) -> None:
    check_text(written({**PLAIN, "habits": {**PLAIN["habits"], key: value}}))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(PLAIN["circuit"]["marks"][0])), values)
def test_another_value_in_the_map(key: str, value: Any) -> None:
    plain = copy.deepcopy(PLAIN)
    plain["circuit"]["marks"][0][key] = value
    check_text(written(plain))
