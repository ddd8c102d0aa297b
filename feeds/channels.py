"""How a JSON value becomes a channel of a sample: one converter a channel."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from typing import Any

from coach.vocabulary.sample import CHANNELS, Tread, Wheels

LARGEST = 1e12
"""No channel comes near it, a double still tells 0.1 ms apart there, and its powers stay finite in the engine."""

HAIR = 0.01
"""A share this far outside 0..1 is a pedal's calibration and is clamped; further out the unit is wrong."""

LONGEST = 256
"""Characters in a label."""


class Unfit(Exception):
    """A value that its channel cannot hold."""


@dataclass(frozen=True, slots=True)
class Converter:
    """`convert(value)` gives the channel's value, None for "absent", or raises Unfit; `wants` says what would fit."""

    convert: Callable[[Any], Any]
    wants: str


def shown(value: Any) -> str:
    """A JSON value in a message: short, ASCII, on one line, whatever it is."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    text = json.dumps(value)
    return text if len(text) <= 40 else f"{text[:24]}... ({len(text)} characters)"


def _number(value: Any) -> float | None:
    kind = type(value)
    if kind is not float and kind is not int:
        raise Unfit
    if -LARGEST <= value <= LARGEST:
        return float(value)
    if kind is float and not isfinite(value):
        return None
    raise Unfit


def _share(value: Any) -> float | None:
    number = _number(value)
    if number is None or 0.0 <= number <= 1.0:
        return number
    if -HAIR <= number <= 1.0 + HAIR:
        return min(max(number, 0.0), 1.0)
    raise Unfit


def _whole(value: Any) -> int | None:
    if type(value) is int and -LARGEST <= value <= LARGEST:
        return value
    number = _number(value)
    if number is None:
        return None
    if not number.is_integer():
        raise Unfit
    return int(number)


def _gear(value: Any) -> int | None:
    gear = _whole(value)
    if gear is not None and gear < -1:
        raise Unfit
    return gear


def _flag(value: Any) -> bool | None:
    if type(value) is bool:
        return value
    number = _number(value)
    if number is None:
        return None
    if number != 0.0 and number != 1.0:
        raise Unfit
    return number == 1.0


def _label(value: Any) -> str:
    if type(value) is not str or len(value) > LONGEST:
        raise Unfit
    if value.isprintable():
        return value
    # A line break or half a surrogate pair in a name would break every log and screen behind.
    return "".join(letter if letter.isprintable() else " " for letter in value)


def _one_of(*choices: str) -> Converter:
    def convert(value: Any) -> str | None:
        if type(value) is str and value in choices:
            return value
        if value == "":
            return None
        raise Unfit

    return Converter(convert, "one of " + ", ".join(choice or '""' for choice in choices))


def _numbers(value: Any, count: int) -> tuple[float, ...] | None:
    """`count` numbers; None where one of them is absent, since a channel has all of them or none."""
    if type(value) is not list or len(value) != count:
        raise Unfit
    numbers = []
    absent = False
    for item in value:
        number = None if item is None else _number(item)
        if number is None:
            absent = True
        else:
            numbers.append(number)
    return None if absent else tuple(numbers)


def _wheels(value: Any) -> Wheels | None:
    numbers = _numbers(value, 4)
    return None if numbers is None else (numbers[0], numbers[1], numbers[2], numbers[3])


def _treads(value: Any) -> tuple[Tread, ...] | None:
    if type(value) is not list or len(value) != 4:
        raise Unfit
    treads = [_numbers(item, 3) for item in value if item is not None]
    whole = [(tread[0], tread[1], tread[2]) for tread in treads if tread is not None]
    return tuple(whole) if len(whole) == 4 else None


ASSISTS = ("abs", "traction", "gearbox", "clutch", "line")
"""The driving aids that the contract knows, in its order."""


def _assists(value: Any) -> tuple[str, ...]:
    if type(value) is not list:
        raise Unfit
    return tuple(aid for aid in ASSISTS if aid in value)


_NUMBER = Converter(_number, "a number under 1e12")
_SHARE = Converter(_share, "a number from 0 to 1")
_FLAG = Converter(_flag, "true or false")
_LABEL = Converter(_label, f"text of at most {LONGEST} characters")
_WHEELS = Converter(_wheels, "a list of 4 numbers")

_SPECIAL: dict[str, Converter] = {
    **dict.fromkeys(("session", "track", "car", "driver", "setup"), _LABEL),
    "session_kind": _one_of("practice", "qualifying", "race"),
    "lap": Converter(_whole, "a whole number"),
    "gear": Converter(_gear, "a whole number, -1 or more"),
    **dict.fromkeys(("throttle", "brake", "clutch", "damage", "wetness"), _SHARE),
    "wheel_speed": _WHEELS,
    "tyre_pressure": _WHEELS,
    "tyre_temp": Converter(_treads, "4 lists of 3 numbers"),
    **dict.fromkeys(("on_track", "in_pit", "paused", "lap_valid", "blue_flag", "yellow_flag"), _FLAG),
    "beside": _one_of("", "left", "right", "both"),
    "assists": Converter(_assists, "a list of names"),
}

CONVERTERS: dict[str, Converter] = {name: _SPECIAL.get(name, _NUMBER) for name in CHANNELS if name != "t"}
"""The converter of every channel but the clock `t`."""

LIMITS: dict[str, tuple[float, float]] = {
    name: (-LARGEST, LARGEST) if converter is _NUMBER else (0.0, 1.0)
    for name, converter in CONVERTERS.items()
    if converter is _NUMBER or converter is _SHARE
}
"""Between these a float is its channel's value as it is: most of a datagram, set without a call."""
