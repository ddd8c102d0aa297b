"""The lap file: one lap as a file of its own, to be handed on, put away, or driven against.

A lap file, version 1 (`*.cwlap`), is gzip of one JSON object, so that `zcat` shows it:

  format    "cornerword lap", always the first key
  version   1; a reader refuses a later one, and passes over keys that it does not know
  driver, car, track   text or null; `name` too, which its owner gave it
  when      when the session began, ISO 8601 with its offset from UTC, or null
  clean     whether the lap was clean
  number    as the source counted it
  length    m from line to line
  time      s, the lap time
  units     of each column its unit; always those of the contract
  channels  columns of round(length) + 1 numbers, at even places from 0 to `length`, both ends included: `time` s since
            the line, strictly increasing, `lateral` m/s^2, and each channel that the source sent all the way round
  circuit   the map: `name`, `length` m, `marks` with a corner's number and its places in m from the line; or null
  habits    how its driver drives there, in the measures of this program: `usual` [[corner, measure, value]], `scatter`
            [[corner, measure, [values]]], `warm` degC, the tyres' mean, or null; or null
"""

from __future__ import annotations

import gzip
import stat
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import orjson

from coach.app.console import plain
from coach.app.tables.columns import UNITS as OF_CHANNELS
from coach.engine.circuit import Circuit
from coach.engine.known import Known
from coach.engine.lap import STEP, Floats, GridLap
from coach.engine.scatter import REMEMBERED, Key, Scatter
from coach.engine.tape import CHANNELS
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.events import CornerMark
from feeds.channels import CONVERTERS, LARGEST, LIMITS, Unfit
from feeds.paths import on_one_line

FORMAT, VERSION, ENDING = "cornerword lap", 1, ".cwlap"
LARGEST_FILE = 8_000_000
"""bytes, packed: a lap of 2.6 km with all channels has 117 kB (measured), one of 25 km some 1.2 MB."""
LARGEST_TEXT = 16_000_000
"""bytes, unpacked: 80 km of all channels. As numbers it fills some 150 MB and no more, however well it was packed."""
MOST_CORNERS = 500
"""of a map (choice): the longest circuits have some 170."""
LARGEST_CORNER = 10 * MOST_CORNERS
"""of a corner's number: new bends get new ones"""
MOST_MEASURES = 100
"""of a corner (choice): there are some 20"""
LONGEST_NAME = 60
"""characters of a map's or a measure's name; ours have 20"""
LEAST = 3
"""places of the shortest grid"""
_SLACK = 0.005
"""of the length: a map and a lap of one circuit differ by less (`circuit.survey`)."""
_UNITS = {"time": "s", "lateral": "m/s^2", **{name: OF_CHANNELS[name] for name in CHANNELS}}
_HEAD = 200
"""bytes in which a lap file has said what it is"""
_MEND = "give a file that `cornerword memory give` wrote"


@dataclass(slots=True)
class HandedLap:
    """A lap with what a reader wants to know of it. `when` s since 1970; `name`: its owner's. `scatter`, `usual` and
    `warm`: its driver's, as in `EngineStart`."""

    grid: GridLap
    circuit: Circuit | None = None
    driver: str | None = None
    name: str | None = None
    clean: bool = True
    when: float | None = None
    scatter: Scatter = field(default_factory=Scatter)
    usual: dict[Key, float] = field(default_factory=dict)
    warm: float | None = None

    @property
    def known(self) -> Known:
        """What there is beside the lap, as the memory keeps it."""
        return Known(circuit=self.circuit, scatter=self.scatter, usual=self.usual, driver=self.driver, warm=self.warm)


def lap_bytes(lap: HandedLap) -> bytes:
    """The whole file; the same lap always gives the same bytes."""
    grid = lap.grid
    columns = {"time": grid.time, "lateral": grid.lateral, **grid.channels}
    text = orjson.dumps(
        {
            "format": FORMAT,
            "version": VERSION,
            "driver": lap.driver,
            "car": grid.car,
            "track": grid.track,
            "when": None if lap.when is None else _date(lap.when),
            "name": lap.name,
            "clean": lap.clean,
            "number": grid.number,
            "length": grid.length,
            "time": grid.total,
            "units": {name: _UNITS[name] for name in columns},
            "circuit": None if lap.circuit is None else lap.circuit.to_json(),
            "habits": {
                "usual": [[corner, measure, value] for (corner, measure), value in lap.usual.items()],
                "scatter": lap.scatter.to_json(),
                "warm": lap.warm,
            },
            "channels": {name: column.tolist() for name, column in columns.items()},
        }
    )
    return gzip.compress(text + b"\n", mtime=0)


def read_lap(path: Path) -> HandedLap:
    """The lap in a file. InputError where there is none that may be read, FormatError naming what is wrong in it."""
    name = on_one_line(path)
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError(f"{name} is a folder: give the lap file in it")
        if not stat.S_ISREG(mode):  # a pipe would be waited for
            raise InputError(f"{name} is no ordinary file: give a lap file")
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise InputError(f"there is no file {name}: check the name") from None
    except (OSError, ValueError) as error:
        raise InputError(f"cannot read {name}, {getattr(error, 'strerror', None) or error}: check the name") from None
    return lap_from(data, name)


def lap_from(data: bytes, name: str) -> HandedLap:
    """The lap in the bytes of a file; `name` is what errors call it. Raises FormatError naming what is wrong."""
    if len(data) > LARGEST_FILE:
        _refuse(name, f"it is larger than {LARGEST_FILE // 1_000_000} MB")
    return lap_of_text(_unpacked(data, name), name)


def lap_of_text(text: bytes, name: str) -> HandedLap:
    """The lap in the unpacked text of a file. Raises FormatError naming what is wrong."""
    try:
        data = orjson.loads(text)
    except orjson.JSONDecodeError as error:
        _refuse(name, f"it holds no JSON ({plain(str(error))})")
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        _refuse(name, f'its format is not "{FORMAT}"')
    version = data.get("version")
    if type(version) is not int or version < 1:
        _refuse(name, "it names no version")
    if version > VERSION:
        raise FormatError(
            f"{name} is a lap file of version {version}, and this program reads up to {VERSION}: update it",
            "a newer version",
        )
    try:
        return _lap(data)
    except _Wrong as wrong:
        _refuse(name, str(wrong))


def is_lap_file(path: Path) -> bool:
    """Whether a file is one by its name or, where it can be read, by what is in it."""
    if path.name.lower().endswith(ENDING):
        return True
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            head = zlib.decompressobj(zlib.MAX_WBITS | 16).decompress(file.read(4096), _HEAD)
    except (OSError, ValueError, zlib.error):
        return False  # whoever opens it as something else says why it cannot be read
    return b"".join(head.split(b",")[0].split()) == b'{"format":"cornerwordlap"'


class _Wrong(Exception):
    """What is wrong in a lap file, without its name."""


def _refuse(name: str, why: str) -> NoReturn:
    raise FormatError(f"{name} is no whole lap file, {why}: {_MEND}", "not a lap file")


def _unpacked(data: bytes, name: str) -> bytes:
    """The text of one gzip member, whose check sum fits, and of no more than `LARGEST_TEXT` bytes."""
    inflate = zlib.decompressobj(zlib.MAX_WBITS | 16)
    try:
        text = inflate.decompress(data, LARGEST_TEXT + 1)
        if len(text) <= LARGEST_TEXT:
            text += inflate.flush() if inflate.eof else b""
    except zlib.error:
        _refuse(name, "it is not gzip, or damaged" if data[:2] == b"\x1f\x8b" else "it is not gzip")
    if len(text) > LARGEST_TEXT:
        _refuse(name, f"unpacked it is larger than {LARGEST_TEXT // 1_000_000} MB")
    if not inflate.eof:
        _refuse(name, "it is cut short" if data else "it is empty")
    if inflate.unused_data:
        _refuse(name, "something follows behind its end")
    return text


def _lap(data: dict[str, Any]) -> HandedLap:
    length = _number(data, "length", 1.0, LARGEST)
    number, clean = data.get("number"), data.get("clean")
    if type(number) is not int or abs(number) > LARGEST:
        raise _Wrong("its `number` is no whole number")
    if type(clean) is not bool:
        raise _Wrong("its `clean` is neither true nor false")
    columns = _columns(data, length)
    time, lateral = columns.pop("time"), columns.pop("lateral")
    if time[0] != 0.0 or not (np.diff(time) > 0.0).all():
        raise _Wrong("its times do not rise from 0")
    if abs(_number(data, "time", 0.0, LARGEST) - float(time[-1])) > 1e-6:
        raise _Wrong("its `time` is not where its channel `time` ends")
    grid = GridLap(number, length, time, lateral, columns, _label(data, "track"), _label(data, "car"))
    circuit = None if data.get("circuit") is None else _circuit(data["circuit"], length)
    lap = HandedLap(grid, circuit, _label(data, "driver"), _label(data, "name"), clean, _when(data))
    habits = data.get("habits")
    if habits is not None:
        if not isinstance(habits, dict):
            raise _Wrong("its habits are no table")
        lap.usual = {key: _plain_number(value) for key, value in _measured(habits, "usual")}
        for (corner, measure), values in _measured(habits, "scatter"):
            if not isinstance(values, list) or len(values) > REMEMBERED:
                raise _Wrong(f"its habits have no list of at most {REMEMBERED} values for a corner's scatter")
            for value in values:
                lap.scatter.add(corner, measure, _plain_number(value))
        lap.warm = None if habits.get("warm") is None else _plain_number(habits["warm"])
    return lap


def _measured(habits: dict[str, Any], name: str) -> Iterator[tuple[Key, Any]]:
    """By corner and measure what stands there."""
    rows = habits.get(name, [])
    if not isinstance(rows, list) or len(rows) > MOST_CORNERS * MOST_MEASURES:
        raise _Wrong(f"its habits have no list `{name}`, or one that is too long")
    for row in rows:
        if not isinstance(row, list) or len(row) != 3 or type(row[0]) is not int or not isinstance(row[1], str):
            raise _Wrong(f"its habits have a row in `{name}` that is no corner, measure and value")
        if not 1 <= row[0] <= LARGEST_CORNER or not row[1].isprintable() or len(row[1]) > LONGEST_NAME:
            raise _Wrong(f"its habits have a row in `{name}` of no corner or no measure")
        yield (row[0], row[1]), row[2]


def _plain_number(value: Any) -> float:
    if type(value) not in (float, int) or not -LARGEST <= value <= LARGEST:
        raise _Wrong("its habits hold something that is no number under 1e12")
    return float(value)


def _columns(data: dict[str, Any], length: float) -> dict[str, Floats]:
    """The columns that we know, all of the right length, finite and in their ranges."""
    given, units = data.get("channels"), data.get("units")
    if not isinstance(given, dict) or not isinstance(units, dict):
        raise _Wrong("it has no `channels` with their `units`")
    count = max(LEAST, round(length / STEP) + 1)
    columns = {}
    for name, unit in _UNITS.items():
        if name not in given:
            continue
        if units.get(name) != unit:
            raise _Wrong(f"its channel {name} is not in {unit}" if unit != "1" else f"its channel {name} has a unit")
        columns[name] = _column(name, given[name], count, length)
    for name in ("time", "lateral"):
        if name not in columns:
            raise _Wrong(f"it has no channel {name}")
    return columns


def _column(name: str, values: Any, count: int, length: float) -> Floats:
    if not isinstance(values, list) or len(values) != count:
        has = f"{len(values):,}" if isinstance(values, list) else "no"
        raise _Wrong(f"its channel {name} has {has} values, {length:.6g} m want {count:,}")
    if not all(type(value) in (float, int) for value in values):
        raise _Wrong(f"its channel {name} holds something that is no number")
    column = np.array(values, dtype=np.float64)
    low, high = LIMITS.get(name, (-LARGEST, LARGEST))
    if name == "lateral":
        low = 0.0
    if name == "gear" and not ((column == np.round(column)) & (column >= -1.0)).all():
        raise _Wrong("its gears are no whole numbers of -1 or more")
    if not ((column >= low) & (column <= high)).all():
        raise _Wrong(f"its channel {name} has values beyond {low:.0g} to {high:.0g}")
    return column


def _circuit(data: Any, length: float) -> Circuit:
    """The map; its numbers are checked one by one, as the engine counts on every one of them."""
    marks = data.get("marks") if isinstance(data, dict) else None
    if not isinstance(marks, list) or len(marks) > MOST_CORNERS or not all(isinstance(mark, dict) for mark in marks):
        raise _Wrong(f"its map has no list of at most {MOST_CORNERS} corners")
    name, around = data.get("name"), _number(data, "length", 1.0, LARGEST)
    if not isinstance(name, str) or not name.isprintable() or len(name) > LONGEST_NAME:
        raise _Wrong("its map has no name")
    if abs(around - length) > _SLACK * length:
        raise _Wrong(f"its map is {around:.0f} m long and the lap {length:.0f} m")
    corners = tuple(_corner(mark, max(around, length)) for mark in marks)
    if len({mark.corner for mark in corners}) < len(corners):
        raise _Wrong("its map has two corners of one number")
    return Circuit(name, around, corners)


def _corner(mark: dict[str, Any], length: float) -> CornerMark:
    number, apexes = mark.get("corner"), mark.get("apexes")
    if type(number) is not int or not 1 <= number <= LARGEST_CORNER:
        raise _Wrong("its map has a corner without a number")
    if mark.get("direction") not in ("left", "right"):
        raise _Wrong(f"corner {number} of its map turns neither left nor right")
    if not isinstance(apexes, list) or not 1 <= len(apexes) <= MOST_CORNERS:
        raise _Wrong(f"corner {number} of its map has no apexes")
    places = {name: _place(mark.get(name), number, length) for name in ("brake", "entry", "apex", "exit")}
    flags = {name: mark.get(name) for name in ("linked", "coached")}
    if not all(type(flag) is bool for flag in flags.values()):
        raise _Wrong(f"corner {number} of its map does not say whether it is linked and coached")
    return CornerMark(
        corner=number,
        direction=str(mark["direction"]),
        apexes=tuple(_place(apex, number, length) for apex in apexes),
        **places,
        linked=bool(flags["linked"]),
        coached=bool(flags["coached"]),
    )


def _place(value: Any, corner: int, length: float) -> float:
    if type(value) not in (float, int) or not 0.0 <= value <= length:
        raise _Wrong(f"corner {corner} of its map has a place that is not on the lap")
    return float(value)


def _number(data: dict[str, Any], key: str, low: float, high: float) -> float:
    value = data.get(key)
    if type(value) not in (float, int) or value is None or not low <= value <= high:
        raise _Wrong(f"its `{key}` is no number from {low:.0f} to {high:.0g}")
    return float(value)


def _label(data: dict[str, Any], key: str) -> str | None:
    """A label, held to what a stream's are: short, on one line."""
    if data.get(key) is None:
        return None
    try:
        return str(CONVERTERS["driver"].convert(data[key]))
    except Unfit:
        raise _Wrong(f"its `{key}` is no text of a label's length") from None


def _when(data: dict[str, Any]) -> float | None:
    value = data.get("when")
    if value is None:
        return None
    try:
        when = datetime.fromisoformat(value)
        if when.tzinfo is None:
            raise ValueError("no offset from UTC")
        return when.timestamp()
    except (TypeError, ValueError, OverflowError):
        raise _Wrong("its `when` is no date and time of ISO 8601 with an offset") from None


def _date(when: float) -> str | None:
    """To the millisecond; None for what no calendar has."""
    try:
        return datetime.fromtimestamp(when, UTC).isoformat(timespec="milliseconds")
    except (OverflowError, OSError, ValueError):
        return None
