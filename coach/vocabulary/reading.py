"""Events from their plain records: the inverse of `events.record`, for what is kept over the days."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import MISSING, Field, fields
from functools import cache
from math import isfinite
from types import NoneType, UnionType
from typing import Any, Union, cast, get_args, get_origin, get_type_hints

from coach.vocabulary import events
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Event
from coach.vocabulary.trace import LapTrace

_NO_TRACE = LapTrace(0.0, 1.0, [0.0, 0.0], [0.0, 0.0], [0.0, 0.0], [0.0, 0.0], [0.0, 0.0])
"""What stands for a lap that the record does not hold: a reference's or a map's, of length 0."""

_KINDS: dict[str, type[Event]] = {
    kind.type: kind
    for kind in vars(events).values()
    if isinstance(kind, type) and issubclass(kind, Event) and kind.type
}


def event_of(plain: dict[str, Any]) -> Event | None:
    """The event that `record` made `plain` of; None for a type that is not known here.

    A lap that the record leaves out (`trace`) is one of length 0. Raises FormatError naming the field that is wrong.
    """
    kind = _KINDS.get(plain.get("type", "")) if isinstance(plain.get("type", ""), str) else None
    return None if kind is None else _made(kind, plain, kind.type)


def _made(kind: type[Any], plain: Any, where: str) -> Any:
    if not isinstance(plain, dict):
        raise _wrong(where, "is no object")
    given: dict[str, Any] = {}
    for field, name, read in _columns(cast(Hashable, kind)):
        if field.metadata.get("hidden"):
            given[field.name] = _NO_TRACE
        elif name in plain:
            given[field.name] = read(plain[name], f"{where}.{name}")
        elif field.default is MISSING and field.default_factory is MISSING:
            raise _wrong(f"{where}.{name}", "is missing")
    return kind(**given)


@cache
def _columns(kind: Hashable) -> tuple[tuple[Field[Any], str, Callable[[Any, str], Any]], ...]:
    hints = get_type_hints(kind)
    return tuple((f, f.metadata.get("name", f.name), _reader(hints[f.name])) for f in fields(cast(type[Any], kind)))


def _reader(hint: Any) -> Callable[[Any, str], Any]:
    """Reads a value of this type."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        (wanted,) = (arg for arg in inner if arg is not NoneType)
        read = _reader(wanted)
        return lambda value, where: None if value is None else read(value, where)
    if origin is tuple:
        one = _reader(inner[0])
        return lambda value, where: tuple(one(item, where) for item in _a(list, value, where))
    if origin is dict:
        if inner[1] is Any:
            return lambda value, where: dict(_a(dict, value, where))
        of = _reader(inner[1])
        return lambda value, where: {key: of(item, where) for key, item in _a(dict, value, where).items()}
    if hint is float:
        return _number
    if hint in (int, str, bool):
        return lambda value, where: _a(hint, value, where)
    return lambda value, where: _made(hint, value, where)


def _a(kind: type[Any], value: Any, where: str) -> Any:
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        raise _wrong(where, f"is {value!r:.40}")
    return value


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _wrong(where, f"is {value!r:.40}")
    try:
        number = float(value)
    except OverflowError as error:
        raise _wrong(where, "is no number of this world") from error
    if not isfinite(number):
        raise _wrong(where, f"is {number}")
    return number


def _wrong(where: str, what: str) -> FormatError:
    return FormatError(f"a kept event cannot be read: {where} {what}; it was written by another program or is damaged")
