"""The columns of an exported table: every channel of a sample as one or more of them, with its unit."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from coach.vocabulary.sample import CHANNELS, Sample

Cell = float | int | bool | str | None
"""What stands in a row; None where the channel is absent."""

WHEELS = ("fl", "fr", "rl", "rr")
TREAD = ("inner", "middle", "outer")

UNITS: dict[str, str] = {
    **dict.fromkeys(("session", "session_kind", "track", "car", "driver", "setup", "beside", "assists"), ""),
    **dict.fromkeys(("t", "lap_time", "last_lap_time", "time_left", "gap_ahead", "gap_behind"), "s"),
    **dict.fromkeys(("lap_distance", "track_length", "x", "y", "z", "edge_left", "edge_right", "car_width"), "m"),
    **dict.fromkeys(("lap", "gear", "laps_left"), "1"),
    **dict.fromkeys(("throttle", "brake", "clutch", "damage", "wetness"), "1"),
    **dict.fromkeys(("on_track", "in_pit", "paused", "lap_valid", "blue_flag", "yellow_flag"), "1"),
    **dict.fromkeys(("yaw", "steer"), "rad"),
    "yaw_rate": "rad/s",
    **dict.fromkeys(("speed", "vx", "vy", "wheel_speed"), "m/s"),
    **dict.fromkeys(("ax", "ay", "az"), "m/s^2"),
    **dict.fromkeys(("engine_speed", "engine_speed_max"), "rev/min"),
    "fuel": "L",
    **dict.fromkeys(("tyre_temp", "track_temp", "air_temp"), "degC"),
    "tyre_pressure": "kPa",
}
"""Unit of each channel as the contract has it; "1" for counts, shares and flags, "" for text."""

TEXTS = frozenset(name for name, unit in UNITS.items() if not unit)

RECEIVED, LAP, DISTANCE, DELTA = "received", "counted_lap", "distance", "delta"
"""Columns beside the channels: the receive time, and what the engine knows: its lap, the distance from the line, and
the delta to the reference, which it gives ten times a second."""

_BESIDE = {RECEIVED: "s", LAP: "1", DISTANCE: "m", DELTA: "s"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, its unit, and whether it holds text."""

    name: str
    unit: str
    is_text: bool = False

    @property
    def title(self) -> str:
        """Name and unit, as a head of a table reads: `speed [m/s]`."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


@dataclass(slots=True)
class Row:
    """One sample with what is known beside it. `received` s; `distance` m; `delta` s."""

    sample: Sample
    received: float
    lap: int | None = None
    distance: float | None = None
    delta: float | None = None


class Columns:
    """The columns that a recording has: those of the channels that ever came, and those beside them."""

    def __init__(self, present: Iterable[str], beside: Iterable[str]) -> None:
        """`present`: names of channels; `beside`: of the other columns."""
        has, extra = set(present), set(beside)
        self.columns: list[Column] = []
        self._getters: list[Callable[[Row], list[Cell]]] = []
        for name, getter in ((RECEIVED, _received), (LAP, _lap), (DISTANCE, _distance), (DELTA, _delta)):
            if name in extra:
                self.columns.append(Column(name, _BESIDE[name]))
                self._getters.append(getter)
        for name in CHANNELS:
            if name in has:
                names = parts_of(name)
                self.columns += [Column(part, UNITS[name], name in TEXTS) for part in names]
                self._getters.append(_getter(name, len(names)))

    def cells(self, row: Row) -> list[Cell]:
        """What stands in the columns, in their order."""
        cells: list[Cell] = []
        for getter in self._getters:
            cells += getter(row)
        return cells


def parts_of(name: str) -> list[str]:
    """The columns of one channel: a vector's are told apart by the wheel, a tread's by the place across it as well."""
    if name in ("wheel_speed", "tyre_pressure"):
        return [f"{name}_{wheel}" for wheel in WHEELS]
    if name == "tyre_temp":
        return [f"{name}_{wheel}_{place}" for wheel in WHEELS for place in TREAD]
    return [name]


def _received(row: Row) -> list[Cell]:
    return [row.received]


def _lap(row: Row) -> list[Cell]:
    return [row.lap]


def _distance(row: Row) -> list[Cell]:
    return [row.distance]


def _delta(row: Row) -> list[Cell]:
    return [row.delta]


def _getter(name: str, width: int) -> Callable[[Row], list[Cell]]:
    absent: list[Cell] = [None] * width

    def whole(row: Row) -> list[Cell]:
        return [getattr(row.sample, name)]

    def names(row: Row) -> list[Cell]:
        value = getattr(row.sample, name)
        return [None if value is None else " ".join(value)]

    def flat(row: Row) -> list[Cell]:
        value = getattr(row.sample, name)
        return absent if value is None else _flat(value)

    if name == "assists":
        return names
    return whole if width == 1 else flat


def _flat(value: Any) -> list[Cell]:
    if isinstance(value, tuple):
        return [cell for item in value for cell in _flat(item)]
    return [value]
