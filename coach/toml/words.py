"""What is wrong with a value, and the mend, in words: of what pydantic found, and of names that nobody knows."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from datetime import date, time
from typing import Any

SHOWN = 40
"""characters of a name or value of the file in a message (choice)."""

_NEEDS = {
    "string_type": "text in quotes is needed",
    "bool_type": "true or false is needed, without quotes",
    "int_type": "a whole number is needed",
    "float_type": "a number is needed",
    "finite_number": "a finite number is needed",
    "list_type": "a list in [ ] is needed",
    "tuple_type": "a list in [ ] is needed",
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


def wrong(found: Mapping[str, Any]) -> str:
    """What is wrong, and the mend, of one of the errors that pydantic lists; without the key."""
    kind, context = found["type"], found.get("ctx", {})
    if kind == "misplaced":
        return str(context["message"])
    if kind == "value_error":
        return str(context["error"])
    if kind == "literal_error":
        known = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        given = short(found["input"])
        return f"{given} is none of its values; {did_you_mean(given.strip(_QUOTE), known)}"
    needs = _NEEDS[kind].format(**context) if kind in _NEEDS else f"{found['msg']}: write it otherwise"
    shown = any(part in kind for part in _TOLD_WITH_VALUE)
    return needs + (f", not {short(found['input'])}" if shown else "")


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """The mend for a name that is none of those known: the likely one, or else all there are."""
    names = list(known)
    likely = difflib.get_close_matches(name[:SHOWN], names, n=1)
    return f"did you mean {likely[0]}?" if likely else f"choose from {', '.join(names)}"


def short(value: Any) -> str:
    """A value of the file in a message: short, on one line, whatever it is."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "a list"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and value.bit_length() > 128:  # Python writes no number of over 4,300 digits
        return "so long a number"
    if isinstance(value, (date, time)):
        return "a date or time"
    shown = repr(value)
    return shown if len(shown) <= SHOWN else f"{shown[:SHOWN]}..."
