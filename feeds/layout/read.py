"""A layout from its file, or from a recording's head."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pydantic import ValidationError

from coach.toml.reading import contents, plain
from coach.vocabulary.errors import FormatError
from feeds.layout.explain import explained
from feeds.layout.model import Layout
from feeds.paths import on_one_line


def read_layout(path: Path) -> Layout:
    """The layout in a file.

    Raises InputError for a file that cannot be read, FormatError, one line with file, key, line and mend, for one that
    is not right.
    """
    where = f"layout {on_one_line(path)}"
    return layout_from_text(contents(Path(path), where), where)


def layout_from_text(content: bytes, where: str = "layout") -> Layout:
    """The layout in a file's bytes; `where` begins the message of the FormatError."""
    values, text = plain(content, where)
    try:
        return Layout.model_validate(values)
    except ValidationError as error:
        raise FormatError(f"{where}: {on_one_line(explained(error, values, text))}") from error
    except RecursionError as error:
        raise FormatError(f"{where}: tables or lists nested too deep; is it another file?") from error


def layout_of(given: Any) -> Layout:
    """The layout that a recording's head holds, as `Layout.to_json` gave it. Raises FormatError."""
    try:
        return Layout.model_validate(given)
    except ValidationError as error:
        message = f"layout.{on_one_line(explained(error, given))}; is this the head of a recording?"
        raise FormatError(message) from error
    except RecursionError as error:
        raise FormatError("layout: nested too deep; is this the head of a recording?") from error
