"""What is wrong in a layout file, in one line: the key as TOML writes it, its line, and the mend."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from datetime import date, time
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

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
}
"""What is said for a type of pydantic's errors; in braces what it tells of it."""
_MISSING = {
    "layout": "it is missing: write layout = 1 at the top, the version of the format",
    "packet": "it is missing: write a table [[packet]] for each kind of packet",
}
"""What is said where one of the first keys is missing, from which a file that is no layout is known."""
_TOLD_WITH_VALUE = ("_type", "finite_number", "greater_", "less_")
_HEADER = re.compile(r"\s*(\[\[|\[)\s*([^\[\]]+?)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_.\"' -]+?)\s*=")


def misplaced(path: Sequence[str | int], message: str) -> PydanticCustomError:
    """The error for something deeper inside of what is checked; `path` goes on from where that stands."""
    return PydanticCustomError("misplaced", "{message}", {"message": message, "path": list(path)})


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


def explained(error: ValidationError, plain: Any, text: str = "") -> str:
    """`key: what is wrong, the mend` of the first thing that is in the `plain` values; with its line of the file's
    `text`, where found."""
    first = error.errors(include_url=False)[0]
    context: dict[str, Any] = first.get("ctx", {})
    kind = first["type"]
    path = [part for part in first["loc"] if part != "[key]"]
    if kind == "misplaced":
        path += context["path"]
        message = str(context["message"])
    elif kind == "value_error":
        message = str(context["error"])
    elif kind == "literal_error":
        known = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        given = short(first["input"])
        message = f"{given} is none of its values; {did_you_mean(given.strip(chr(39)), known)}"
    elif kind == "missing" and len(path) == 1 and path[0] in _MISSING:
        message = _MISSING[path[0]]
    else:
        message = _NEEDS[kind].format(**context) if kind in _NEEDS else f"{first['msg']}: write it otherwise"
        if any(part in kind for part in _TOLD_WITH_VALUE):
            message += f", not {short(first['input'])}"
    path = _written(plain, path)
    line = line_of(text, path)
    where = "" if line is None else f" (line {line})"
    message = " ".join(message.split())
    return f"{dotted(path)}{where}: {message}" if path else message


def _written(plain: Any, path: list[str | int]) -> list[str | int]:
    """The path as the file has it: a value may stand there alone in place of a list of one."""
    found = plain
    for index, part in enumerate(path):
        if isinstance(part, int) and not isinstance(found, (list, tuple)):
            return path[:index]
        try:
            found = found[part]
        except (LookupError, TypeError):
            break
    return path


def dotted(path: Iterable[str | int]) -> str:
    """A place in the file as TOML writes it; the tables of a list are counted from 1."""
    written = ""
    for part in path:
        if isinstance(part, int):
            written += f"[{part + 1}]"
        else:
            cut = part if len(part) <= SHOWN else f"{part[:SHOWN]}..."
            plain = re.fullmatch(r"[A-Za-z0-9_-]+", part) is not None
            written += f".{cut}" if plain else f".{cut!a}"
    return written.lstrip(".")


def line_of(text: str, path: Sequence[str | int]) -> int | None:
    """The line, from 1, on which a key of the file stands, or else the nearest key or table around it."""
    table: list[str | int] = []
    counts: dict[tuple[str | int, ...], int] = {}
    best, found = 0, None
    for number, line in enumerate(text.split("\n"), start=1):
        header = _HEADER.match(line)
        key = None if header else _KEY.match(line)
        if header:
            table = _table(_parts(header[2]), counts, is_list=header[1] == "[[")
            place = table
        elif key:
            place = [*table, *_parts(key[1])]
        else:
            continue
        if len(place) > best and list(path[: len(place)]) == place:
            best, found = len(place), number
    return found


def _table(parts: list[str], counts: dict[tuple[str | int, ...], int], is_list: bool) -> list[str | int]:
    """The place of a table's header, with the numbers of those tables on its way that stand in lists."""
    table: list[str | int] = []
    for index, part in enumerate(parts):
        table.append(part)
        if is_list and index == len(parts) - 1:
            counts[tuple(table)] = counts.get(tuple(table), -1) + 1
        if tuple(table) in counts:
            table.append(counts[tuple(table)])
    return table


def _parts(key: str) -> list[str]:
    return [part.strip().strip("\"'") for part in key.split(".")]
