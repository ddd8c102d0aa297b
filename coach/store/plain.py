"""Events and things as JSON text and back."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, fields
from typing import Any

import orjson

from coach.review.results import Thing
from coach.store.naming import clean_text
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Event, record
from coach.vocabulary.reading import event_of

_OPTIONS = orjson.OPT_SERIALIZE_NUMPY | orjson.OPT_NON_STR_KEYS
_THING = {field.name for field in fields(Thing)}


def text_of(plain: Any) -> str:
    """Plain values as JSON text, whatever numbers and labels are among them; what is not finite is null."""
    try:
        return orjson.dumps(plain, option=_OPTIONS).decode()
    except TypeError:  # half a character, or a whole number of more than 64 bits
        return clean_text(json.dumps(plain, ensure_ascii=False, default=str))


def value_of(text: str | None) -> Any:
    """The values in JSON text, None for none. Raises FormatError."""
    if text is None:
        return None
    try:
        return orjson.loads(text)
    except (orjson.JSONDecodeError, TypeError) as error:
        raise FormatError(f"what was kept cannot be read ({error}): the memory is damaged") from None


def body(event: Event) -> str:
    """An event as it is kept: the object of the event log."""
    return text_of(record(event))


def events(bodies: list[str]) -> Iterator[Event]:
    """The events in their order; what cannot be read is left out, for the rest of a session is worth having."""
    for text in bodies:
        try:
            event = event_of(value_of(text))
        except (FormatError, AttributeError):
            continue
        if event is not None:
            yield event


def thing_body(thing: Thing) -> str:
    """A thing as it is kept."""
    return text_of(asdict(thing))


def thing_of(text: str) -> Thing:
    """The thing that was kept. Raises FormatError."""
    plain = value_of(text)
    try:
        plain = {name: value for name, value in plain.items() if name in _THING}
        return Thing(**{**plain, "laps": tuple(plain["laps"])})
    except (TypeError, KeyError, AttributeError) as error:
        raise FormatError(f"what was told cannot be read ({error}): the memory is damaged") from None
