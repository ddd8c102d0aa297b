"""A layout as the TOML file that a person can read and correct."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from feeds.layout.model import Layout


def layout_text(layout: Layout, notes: Mapping[str, str] | None = None, head: Sequence[str] = ()) -> str:
    """TOML that reads back as the same layout.

    `notes`: of a channel or a packet's name, a comment on the line before it; `head`: comment lines at the top.
    """
    return "".join(f"{line}\n" for line in _lines(layout.to_json(), notes or {}, head))


def _lines(plain: dict[str, Any], notes: Mapping[str, str], head: Sequence[str]) -> Iterator[str]:
    yield from map(_comment, head)
    yield from _scalars(plain)
    for packet in plain["packet"]:
        yield ""
        if packet["name"] in notes:
            yield _comment(notes[packet["name"]])
        yield "[[packet]]"
        yield from _scalars(packet)
        yield from _channels("packet.channels", packet.get("channels", {}), notes)
        if "cars" in packet:
            yield ""
            yield "[packet.cars]"
            yield from _scalars({key: value for key, value in packet["cars"].items() if key != "channels"})
            yield from _channels("packet.cars.channels", packet["cars"]["channels"], notes)


def _scalars(table: dict[str, Any]) -> Iterator[str]:
    for key, value in table.items():
        if key not in ("packet", "channels", "cars"):
            yield f"{key} = {_value(value, key)}"


def _channels(header: str, channels: dict[str, Any], notes: Mapping[str, str]) -> Iterator[str]:
    if not channels and not header.startswith("packet.cars"):
        return
    yield ""
    yield f"[{header}]"
    for name, channel in channels.items():
        if name in notes:
            yield _comment(notes[name])
        yield f"{name} = {_value(channel)}"


def _comment(text: str) -> str:
    shown = "".join(letter if letter.isprintable() else " " for letter in text)
    return f"# {shown}".rstrip()


_ONE_OR_MORE = ("offset", "absent", "is", "radius", "length")
"""Keys of which a list of one is written without its brackets."""


def _value(value: Any, key: str = "") -> str:
    if isinstance(value, dict):
        inside = ", ".join(f"{_key(name)} = {_value(item, name)}" for name, item in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, list):
        if key in _ONE_OR_MORE and len(value) == 1:
            return _value(value[0])
        return f"[{', '.join(_value(item) for item in value)}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, float) and value.is_integer() and 0.0 < abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _text(name)


def _text(value: str) -> str:
    """A basic string of TOML: JSON's escapes, and the one character that JSON leaves as it is and TOML does not."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
