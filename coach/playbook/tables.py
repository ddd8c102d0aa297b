"""TOML read into a model: each key is looked at, and one line says what is wrong."""

from __future__ import annotations

from typing import TypeVar

from pydantic import ValidationError

from coach.playbook.explain import explained
from coach.playbook.schema import Table
from coach.toml.reading import plain
from coach.vocabulary.errors import FormatError

Kind = TypeVar("Kind", bound=Table)


def parsed(kind: type[Kind], where: str, content: bytes) -> Kind:
    """The model that a file's bytes hold. Raises FormatError with `where`, the key and the mend."""
    values, _ = plain(content, where)
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        raise FormatError(f"{where}: {explained(error)}") from error
