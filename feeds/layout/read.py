"""A layout from its file, or from a recording's head."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from coach.vocabulary.errors import FormatError, InputError
from feeds.layout.explain import explained
from feeds.layout.model import Layout
from feeds.paths import on_one_line

LARGEST = 1_000_000
"""bytes of a file: a hundred times as much as one needs (choice)."""


def read_layout(path: Path) -> Layout:
    """The layout in a file.

    Raises InputError for a file that cannot be read, FormatError, one line with file, key, line and mend, for one that
    is not right.
    """
    where = f"layout {on_one_line(path)}"
    return layout_from_text(_contents(Path(path), where), where)


def layout_from_text(content: bytes, where: str = "layout") -> Layout:
    """The layout in a file's bytes; `where` begins the message of the FormatError."""
    if len(content) > LARGEST:
        raise FormatError(f"{where}: over {LARGEST // 1_000_000} MB, none is that large; is it another file?")
    try:
        text = content.decode("utf-8-sig")  # some editors begin a file with a byte-order mark
        plain = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise FormatError(f"{where}: not UTF-8 text at byte {error.start}; save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        # Where an integer has thousands of digits, Python adds how its own limit is moved.
        what = " ".join(str(error).partition(";")[0].split())[:200]
        if isinstance(error, RecursionError):
            what = "tables or lists nested too deep"
        raise FormatError(f"{where}: not TOML: {on_one_line(what)}; mend it there") from error
    try:
        return Layout.model_validate(plain)
    except ValidationError as error:
        raise FormatError(f"{where}: {on_one_line(explained(error, plain, text))}") from error
    except RecursionError as error:
        raise FormatError(f"{where}: tables or lists nested too deep; is it another file?") from error


def layout_of(plain: Any) -> Layout:
    """The layout that a recording's head holds, as `Layout.to_json` gave it. Raises FormatError."""
    try:
        return Layout.model_validate(plain)
    except ValidationError as error:
        message = f"layout.{on_one_line(explained(error, plain))}; is this the head of a recording?"
        raise FormatError(message) from error
    except RecursionError as error:
        raise FormatError("layout: nested too deep; is this the head of a recording?") from error


def _contents(path: Path, where: str) -> bytes:
    try:
        if path.is_fifo() or path.is_socket():
            raise InputError(f"{where}: it is a pipe, and may never end; name a TOML file")
        with path.open("rb") as file:
            return file.read(LARGEST + 1)
    except OSError as error:
        raise InputError(f"{where}: cannot be read ({error.strerror or error}); name a TOML file") from error
    except ValueError as error:
        raise InputError(f"{where}: no name of a file ({error}); name a TOML file") from error
