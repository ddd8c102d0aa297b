"""A TOML file as plain values: size, encoding and syntax are looked at, and one line says what is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from coach.vocabulary.errors import FormatError, InputError

LARGEST = 1_000_000
"""bytes of a file: a hundred times as much as one needs (choice)."""


def contents(path: Path, where: str) -> bytes:
    """A file's bytes, up to what is too many. Raises InputError for one that cannot be read; `where` names it."""
    try:
        if path.is_fifo() or path.is_socket():
            raise InputError(f"{where}: it is a pipe, and may never end; name a TOML file")
        with path.open("rb") as file:
            return file.read(LARGEST + 1)
    except OSError as error:
        raise InputError(f"{where}: cannot be read ({error.strerror or error}); name a TOML file") from error
    except ValueError as error:
        raise InputError(f"{where}: no name of a file ({error}); name a TOML file") from error


def plain(content: bytes, where: str) -> tuple[dict[str, Any], str]:
    """What a file's bytes hold, and their text. Raises FormatError with `where` and the mend."""
    if len(content) > LARGEST:
        raise FormatError(f"{where}: over {LARGEST // 1_000_000} MB, none is that large; is it another file?")
    try:
        text = content.decode("utf-8-sig")  # some editors begin a file with a byte-order mark
        return tomllib.loads(text), text
    except UnicodeDecodeError as error:
        raise FormatError(f"{where}: not UTF-8 text at byte {error.start}; save it as UTF-8") from error
    except RecursionError as error:
        raise FormatError(f"{where}: not TOML: tables or lists nested too deep; mend it there") from error
    except ValueError as error:
        # Where an integer has thousands of digits, Python adds how its own limit is moved.
        what = " ".join(str(error).partition(";")[0].split())[:200]
        shown = "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in what)
        raise FormatError(f"{where}: not TOML: {shown}; mend it there") from error
