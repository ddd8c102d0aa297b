"""File names in messages."""

from __future__ import annotations

from pathlib import Path


def on_one_line(path: str | Path) -> str:
    """The name as it is, but for line breaks, control characters and undecodable bytes: these as Python escapes."""
    name = str(path)
    if name.isprintable():
        return name
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode("ascii") for letter in name
    )
