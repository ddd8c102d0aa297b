"""The lines of a recording: item to text and back."""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

import orjson

from coach.vocabulary.actions import DRIVER
from coach.vocabulary.errors import FormatError
from feeds.base import Datagram

FORMAT = "cornerword recording"
VERSION = 1


@dataclass(slots=True)
class ActionLine:
    """A button of the driver or an instructor, by the action's name; `received` s as a datagram's."""

    received: float
    action: str
    by: str = DRIVER


@dataclass(slots=True)
class RecalledLine:
    """At `received` (s) the memory said what it knows of driver, car and circuit: plain values, whose meaning is the
    caller's."""

    received: float
    recalled: dict[str, Any]


@dataclass(slots=True)
class SilenceLine:
    """At `received` (s) the stream had been silent for so long that it was called lost."""

    received: float


@dataclass(slots=True)
class EndLine:
    """The recording was closed in good order at `received` (s)."""

    received: float


Item = Datagram | ActionLine | RecalledLine | SilenceLine | EndLine

_quoted = json.JSONEncoder(ensure_ascii=False).encode


def head_line(head: Mapping[str, Any]) -> bytes:
    """The first line; `format` and `version` come first and are ours."""
    own = {"format": FORMAT, "version": VERSION}
    return (json.dumps({**own, **head, **own}) + "\n").encode()


def datagram_line(received: float, data: bytes) -> bytes:
    """Text where the bytes are UTF-8 (strict decoding, so the same bytes come back), else base64."""
    try:
        body = f'"text":{_quoted(str(data, "utf-8"))}'
    except UnicodeDecodeError:
        body = f'"base64":"{b64encode(data).decode()}"'
    return f'{{"received":{_time(received)},{body}}}\n'.encode()


def action_line(received: float, action: str, by: str = DRIVER) -> bytes:
    """What was pressed; by whom, where that was not the driver."""
    whose = "" if by == DRIVER else f',"by":{json.dumps(by)}'
    return f'{{"received":{_time(received)},"action":{json.dumps(action)}{whose}}}\n'.encode()


def recalled_line(received: float, recalled: Mapping[str, Any]) -> bytes:
    """What the memory knew; a megabyte where a lap is in it."""
    what = orjson.dumps(recalled, option=orjson.OPT_SERIALIZE_NUMPY)
    return b'{"received":%b,"recalled":%b}\n' % (_time(received).encode(), what)


def silence_line(received: float) -> bytes:
    """The stream was called lost."""
    return f'{{"received":{_time(received)},"silence":true}}\n'.encode()


def end_line(received: float) -> bytes:
    """The last line of a recording closed in good order."""
    return f'{{"received":{_time(received)},"end":true}}\n'.encode()


def _time(received: float) -> str:
    return repr(round(received, 6))


def item_of(line: bytes) -> Item | None:
    """The item in a line; None for a kind that this version does not know; FormatError for anything else."""
    try:
        found = json.loads(str(line, "utf-8"))
        received = found.get("received")
        if received is None:
            return None
        if type(received) not in (float, int) or not isfinite(received):
            raise ValueError("received is no time")
        received = float(received)
        if "text" in found:
            return Datagram(received, found["text"].encode())
        if "base64" in found:
            return Datagram(received, b64decode(found["base64"], validate=True))
        if "action" in found:
            return ActionLine(received, str(found["action"]), str(found.get("by", DRIVER)))
        if "recalled" in found:
            if not isinstance(found["recalled"], dict):
                raise TypeError("recalled is no object")
            return RecalledLine(received, found["recalled"])
        if "silence" in found:
            return SilenceLine(received)
        return EndLine(received) if "end" in found else None
    except (ValueError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise FormatError(f"no line of a recording: {error}", "damaged line") from None
