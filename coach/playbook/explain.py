"""What pydantic found, in one line: the key as TOML writes it, and the mend."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from coach.playbook.schema import dotted
from coach.playbook.text import CHARACTERS, did_you_mean

_NEEDS = {
    "string_type": "text in quotes is needed",
    "bool_type": "true or false is needed, without quotes",
    "int_type": "a whole number is needed",
    "float_type": "a number is needed",
    "finite_number": "a finite number is needed",
    "list_type": "a list in [ ] is needed",
    "dict_type": "a table is needed",
    "model_type": "a table is needed",
    "model_attributes_type": "a table is needed",
    "missing": "it is missing: write it",
    "too_short": "at least {min_length} must stand in it",
    "too_long": "at most {max_length} may stand in it",
    "string_too_short": "text with at least {min_length} character is needed",
    "string_too_long": "text with at most {max_length} characters is needed",
    "greater_than": "a number above {gt:g} is needed",
    "greater_than_equal": "a number of {ge:g} or more is needed",
    "less_than_equal": "a number of {le:g} or less is needed",
    "string_pattern_mismatch": "it has to look like {pattern}",
}
"""What is said for a type of pydantic's errors; in braces what it tells of it."""
_QUOTE = "'"
_TOLD_WITH_VALUE = ("_type", "finite_number", "greater_", "less_", "pattern_mismatch")


def explained(error: ValidationError) -> str:
    """`key: what is wrong, the mend` of the first thing that is."""
    first = error.errors(include_url=False)[0]
    context: dict[str, Any] = first.get("ctx", {})
    key = _key(first["loc"])
    kind = first["type"]
    if kind == "misplaced":
        return f"{key}{context['key']}".lstrip(".") + f": {context['message']}"
    if kind == "value_error":
        return f"{key}: {context['error']}"
    if kind == "literal_error":
        known = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        given = _short(first["input"])
        return f"{key}: {given} is none of its values; {did_you_mean(given.strip(_QUOTE), known)}"
    needs = _NEEDS[kind].format(**context) if kind in _NEEDS else f"{first['msg']}: write it otherwise"
    shown = any(part in kind for part in _TOLD_WITH_VALUE)
    return f"{key}: {needs}" + (f", not {_short(first['input'])}" if shown else "")


def _key(location: tuple[int | str, ...]) -> str:
    key = ""
    for part in location:
        if part == "[key]":
            continue
        key = f"{key}[{part}]" if isinstance(part, int) else dotted(key, part)
    return key.lstrip(".")


def _short(value: Any) -> str:
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and value.bit_length() > 128:  # Python writes no number of over 4,300 digits
        return "so long a number"
    shown = repr(value)
    return shown if len(shown) <= CHARACTERS else f"{shown[:CHARACTERS]}..."
