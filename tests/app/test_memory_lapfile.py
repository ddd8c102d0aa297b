"""The lap file: whole or not at all, and the same lap on the other side."""

from __future__ import annotations

import copy
import gzip
import json
import os
import shutil
import subprocess
import tracemalloc
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from coach.app.remembering import lapfile
from coach.app.remembering.lapfile import HandedLap, is_lap_file, lap_bytes, lap_from, read_lap
from coach.app.tables.columns import UNITS
from coach.vocabulary.errors import FormatError, InputError
from tests.app.remembered import MAP, pond_lap

MEND = "give a file that `cornerword memory give` wrote"


def example() -> HandedLap:
    lap = HandedLap(pond_lap(8.123457), MAP, "D. River", "wet line", True, 1_764_000_000.25, warm=81.5)
    lap.usual = {(1, "brake_point"): 70.5}
    lap.scatter.add(1, "brake_point", 1 / 3)
    return lap


GOOD = lap_bytes(example())
PLAIN: dict[str, Any] = json.loads(gzip.decompress(GOOD))


def packed(change: Callable[[dict[str, Any]], object]) -> bytes:
    """The good file with something changed in it."""
    plain = copy.deepcopy(PLAIN)
    change(plain)
    return gzip.compress(json.dumps(plain).encode())


def test_round_trip_is_exact() -> None:
    lap, again = example(), lap_from(GOOD, "lap.cwlap")
    assert again.grid.to_json() == lap.grid.to_json()
    assert all(column.dtype == np.float64 for column in (again.grid.time, *again.grid.channels.values()))
    assert (again.circuit, again.driver, again.name, again.clean) == (MAP, "D. River", "wet line", True)
    assert (again.when, again.usual, again.warm) == (lap.when, lap.usual, lap.warm)
    assert again.scatter.to_json() == lap.scatter.to_json()
    assert lap_bytes(again) == GOOD


def test_the_least_lap_has_no_labels() -> None:
    lap = HandedLap(pond_lap(8.0, track=None, car=None))
    again = lap_from(lap_bytes(lap), "lap.cwlap")
    assert (again.grid.track, again.grid.car, again.driver, again.name, again.when) == (None,) * 5
    assert (again.circuit, again.usual, again.warm, again.scatter.to_json()) == (None, {}, None, [])


@pytest.mark.skipif(shutil.which("zcat") is None, reason="there is no zcat here")
def test_zcat_shows_it(tmp_path: Path) -> None:
    """zcat is gzip's own (RFC 1952), which reads nothing of ours."""
    path = tmp_path / "lap.cwlap"
    path.write_bytes(GOOD)
    text = subprocess.run(["zcat", str(path)], capture_output=True, check=True, text=True).stdout
    plain = json.loads(text)
    assert text.startswith('{"format":"cornerword lap","version":1,')
    assert plain["when"] == "2025-11-24T16:00:00.250+00:00"
    assert (plain["driver"], plain["car"], plain["track"]) == ("D. River", "Pellow R", "Round Pond")
    assert (plain["time"], plain["number"], plain["clean"]) == (8.123457, 3, True)
    assert plain["units"]["lateral"] == "m/s^2" and plain["units"]["gear"] == "1"
    assert set(plain["units"]) == set(plain["channels"])
    assert {name: unit for name, unit in plain["units"].items() if name in UNITS} == {
        name: UNITS[name] for name in plain["channels"] if name in UNITS
    }
    assert {len(column) for column in plain["channels"].values()} == {81}


def test_keys_may_be_added(tmp_path: Path) -> None:
    def more(plain: dict[str, Any]) -> None:
        plain["weather"] = "dry"
        plain["channels"]["fuel"] = [1.0]
        plain["units"]["fuel"] = "L"

    assert lap_from(packed(more), "lap.cwlap").grid.to_json() == example().grid.to_json()


def put(value: Any, *path: Any) -> bytes:
    """The good file with another value at a place in it."""

    def change(plain: Any) -> None:
        for key in path[:-1]:
            plain = plain[key]
        plain[path[-1]] = value

    return packed(change)


def without(*path: Any) -> bytes:
    """The good file without what is at a place in it."""

    def change(plain: Any) -> None:
        for key in path[:-1]:
            plain = plain[key]
        del plain[path[-1]]

    return packed(change)


MARK = ("circuit", "marks", 0)
SPEED = ("channels", "speed")
WRONG: list[tuple[bytes, str]] = [
    (b"", "it is empty"),
    (b"hello", "it is not gzip"),
    (GOOD[:200], "it is cut short"),
    (GOOD[:-1], "it is cut short"),
    (GOOD[:300] + b"\x00" + GOOD[301:], "it is not gzip, or damaged"),
    (GOOD + b"x", "something follows behind its end"),
    (gzip.compress(b"{"), "it holds no JSON (unexpected end of data: line 1 column 2 (char 1))"),
    (gzip.compress(b"[]"), 'its format is not "cornerword lap"'),
    (put("cornerword recording", "format"), 'its format is not "cornerword lap"'),
    (without("version"), "it names no version"),
    (put(0, "version"), "it names no version"),
    (put("yes", "clean"), "its `clean` is neither true nor false"),
    (put(1.5, "number"), "its `number` is no whole number"),
    (put(-3, "length"), "its `length` is no number from 1 to 1e+12"),
    (put(7.0, "time"), "its `time` is not where its channel `time` ends"),
    (put(["x"], "driver"), "its `driver` is no text of a label's length"),
    (put("x" * 257, "name"), "its `name` is no text of a label's length"),
    (put("yesterday", "when"), "its `when` is no date and time of ISO 8601 with an offset"),
    (put("2026-11-20T10:00:00", "when"), "its `when` is no date and time of ISO 8601 with an offset"),
    (without("units"), "it has no `channels` with their `units`"),
    (put("km/h", "units", "speed"), "its channel speed is not in m/s"),
    (without("channels", "lateral"), "it has no channel lateral"),
    (without(*SPEED, 80), "its channel speed has 80 values, 80 m want 81"),
    (put(None, *SPEED), "its channel speed has no values, 80 m want 81"),
    (put(None, *SPEED, 3), "its channel speed holds something that is no number"),
    (put(True, *SPEED, 3), "its channel speed holds something that is no number"),
    (put(1e13, *SPEED, 3), "its channel speed has values beyond -1e+12 to 1e+12"),
    (put(1.2, "channels", "throttle", 3), "its channel throttle has values beyond 0 to 1"),
    (put(-0.1, "channels", "lateral", 3), "its channel lateral has values beyond 0 to 1e+12"),
    (put(2.5, "channels", "gear", 3), "its gears are no whole numbers of -1 or more"),
    (put(0.0, "channels", "time", 3), "its times do not rise from 0"),
    (put(3, "circuit", "marks"), "its map has no list of at most 500 corners"),
    (put(90.0, "circuit", "length"), "its map is 90 m long and the lap 80 m"),
    (put(99.0, *MARK, "apex"), "corner 1 of its map has a place that is not on the lap"),
    (put("up", *MARK, "direction"), "corner 1 of its map turns neither left nor right"),
    (put(0, *MARK, "corner"), "its map has a corner without a number"),
    (put([], *MARK, "apexes"), "corner 1 of its map has no apexes"),
    (put(2 * PLAIN["circuit"]["marks"], "circuit", "marks"), "its map has two corners of one number"),
    (put([[1, "x"]], "habits", "usual"), "its habits have a row in `usual` that is no corner, measure and value"),
    (put([[1, "x", 3]], "habits", "scatter"), "its habits have no list of at most 20 values for a corner's scatter"),
    (put("hot", "habits", "warm"), "its habits hold something that is no number under 1e12"),
]


@pytest.mark.parametrize(("data", "why"), WRONG, ids=[why.replace("/", " ") for _, why in WRONG])
def test_what_is_wrong_is_said_in_one_line(data: bytes, why: str) -> None:
    with pytest.raises(FormatError) as caught:
        lap_from(data, "lap.cwlap")
    assert str(caught.value) == f"lap.cwlap is no whole lap file, {why}: {MEND}"
    assert caught.value.cause == "not a lap file"


@pytest.mark.parametrize("number", [b"NaN", b"Infinity", b"-Infinity", b"1e400"])
def test_what_is_not_finite_is_no_json(number: bytes) -> None:
    """RFC 8259 has no such numbers; Python's own reader would take them."""
    text = json.dumps(PLAIN).replace('"length": 80.0', '"length": ' + number.decode()).encode()
    with pytest.raises(FormatError, match=r"lap\.cwlap is no whole lap file"):
        lap_from(gzip.compress(text), "lap.cwlap")


def test_a_later_version_says_so() -> None:
    with pytest.raises(FormatError) as caught:
        lap_from(put(2, "version"), "lap.cwlap")
    assert str(caught.value) == ("lap.cwlap is a lap file of version 2, and this program reads up to 1: update it")


def test_a_zip_bomb_fills_no_memory() -> None:
    """80 MB of blanks in 100 kB; no more than the limit is ever unpacked."""
    pack = zlib.compressobj(9, zlib.DEFLATED, zlib.MAX_WBITS | 16)
    bomb = b"".join([*(pack.compress(b" " * 1_000_000) for _ in range(80)), pack.flush()])
    assert len(bomb) < 100_000
    tracemalloc.start()
    try:
        with pytest.raises(FormatError, match="unpacked it is larger than 16 MB"):
            lap_from(bomb, "lap.cwlap")
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 3 * lapfile.LARGEST_TEXT


def test_a_file_that_is_too_large_is_not_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "lap.cwlap"
    with path.open("wb") as file:
        file.truncate(10**12)  # sparse: a terabyte that is not there
    with pytest.raises(FormatError, match="it is larger than 8 MB"):
        read_lap(path)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"there is no file .*gone\.cwlap: check the name"):
        read_lap(tmp_path / "gone.cwlap")
    with pytest.raises(InputError, match="is a folder: give the lap file in it"):
        read_lap(tmp_path)
    with pytest.raises(InputError, match=r"cannot read .*: check the name"):
        read_lap(tmp_path / ("x" * 300 + ".cwlap"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "lap.cwlap"
    os.mkfifo(pipe)
    with pytest.raises(InputError, match="is no ordinary file: give a lap file"):
        read_lap(pipe)
    other = tmp_path / "other"
    os.mkfifo(other)
    assert not is_lap_file(other)


def test_it_is_known_by_what_is_in_it(tmp_path: Path) -> None:
    for name, data, known in (
        ("lap.bin", GOOD, True),
        ("spaced.gz", packed(lambda plain: None), True),
        ("named.CWLAP", b"", True),
        ("other.gz", gzip.compress(b'{"format":"cornerword recording"}'), False),
        ("text.txt", b'{"format":"cornerword lap"}', False),
        ("empty", b"", False),
    ):
        path = tmp_path / name
        path.write_bytes(data)
        assert is_lap_file(path) is known, name
    assert not is_lap_file(tmp_path)
    assert not is_lap_file(tmp_path / "gone")
