"""A TOML file read into a model: size, encoding, syntax and each key are looked at, and one line says what is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from coach.playbook.explain import explained
from coach.playbook.schema import Table
from coach.vocabulary.errors import FormatError, InputError

LARGEST = 1_000_000
"""bytes of a file: a thousand times as much as one needs (choice)."""

Kind = TypeVar("Kind", bound=Table)


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


def parsed(kind: type[Kind], where: str, content: bytes) -> Kind:
    """The model that a file's bytes hold. Raises FormatError with `where`, the key and the mend."""
    if len(content) > LARGEST:
        raise FormatError(f"{where}: over {LARGEST // 1_000_000} MB, none is that large; is it another file?")
    try:
        plain = tomllib.loads(content.decode("utf-8-sig"))  # some editors begin a file with a byte-order mark
    except UnicodeDecodeError as error:
        raise FormatError(f"{where}: not UTF-8 text at byte {error.start}; save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        what = " ".join(str(error).split())[:200]
        raise FormatError(f"{where}: not TOML: {what}; mend it there") from error
    try:
        return kind.model_validate(plain)
    except ValidationError as error:
        raise FormatError(f"{where}: {explained(error)}") from error
