"""What is wrong in a layout file, in one line: the key as TOML writes it, its line, and the mend."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from coach.toml.words import SHOWN, wrong

_MISSING = {
    "layout": "it is missing: write layout = 1 at the top, the version of the format",
    "packet": "it is missing: write a table [[packet]] for each kind of packet",
}
"""What is said where one of the first keys is missing, from which a file that is no layout is known."""
_HEADER = re.compile(r"\s*(\[\[|\[)\s*([^\[\]]+?)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_.\"' -]+?)\s*=")


def misplaced(path: Sequence[str | int], message: str) -> PydanticCustomError:
    """The error for something deeper inside of what is checked; `path` goes on from where that stands."""
    return PydanticCustomError("misplaced", "{message}", {"message": message, "path": list(path)})


def explained(error: ValidationError, plain: Any, text: str = "") -> str:
    """`key: what is wrong, the mend` of the first thing that is in the `plain` values; with its line of the file's
    `text`, where found."""
    first = error.errors(include_url=False)[0]
    path = [part for part in first["loc"] if part != "[key]"]
    message = wrong(first)
    if first["type"] == "misplaced":
        path += first["ctx"]["path"]
    elif first["type"] == "missing" and len(path) == 1:
        message = _MISSING.get(str(path[0]), message)
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
