"""What pydantic found, in one line: the key as TOML writes it, and the mend."""

from __future__ import annotations

from pydantic import ValidationError

from coach.playbook.schema import dotted
from coach.toml.words import wrong


def explained(error: ValidationError) -> str:
    """`key: what is wrong, the mend` of the first thing that is."""
    first = error.errors(include_url=False)[0]
    key = _key(first["loc"])
    if first["type"] == "misplaced":
        key = f"{key}{first['ctx']['key']}".lstrip(".")
    return f"{key}: {wrong(first)}"


def _key(location: tuple[int | str, ...]) -> str:
    key = ""
    for part in location:
        if part == "[key]":
            continue
        key = f"{key}[{part}]" if isinstance(part, int) else dotted(key, part)
    return key.lstrip(".")
