"""Names as they are written to the memory and shown in its messages."""

from __future__ import annotations

from pathlib import Path


def shown(path: Path) -> str:
    """A file's name on one line; whatever cannot be printed as Python's escapes."""
    name = str(path)
    return name if name.isprintable() else name.encode("unicode_escape", "surrogatepass").decode("ascii")


def clean_text(text: str) -> str:
    """Text that UTF-8 can hold: a label may come with half a character in it."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return text.encode("utf-8", "replace").decode()
    return text


def label(text: str | None) -> str | None:
    """A label from a stream; an empty one is none."""
    return clean_text(text) if text else None
