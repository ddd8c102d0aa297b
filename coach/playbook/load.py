"""A playbook from its file, or from a recording's head."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from coach.planner.playbook import Playbook
from coach.playbook import build
from coach.playbook.explain import explained
from coach.playbook.schema import LanguageFile, PlaybookFile
from coach.playbook.tables import parsed
from coach.toml.reading import contents
from coach.toml.words import did_you_mean
from coach.vocabulary.errors import FormatError, InputError

DEFAULT = "default.toml"


def load(source: str | None = None) -> Playbook:
    """The playbook in the file `source`, laid over the default; None: the default itself.

    Raises InputError for a file that cannot be read, FormatError, one line with file, key and mend, for one that is
    not right.
    """
    default = parsed(PlaybookFile, DEFAULT, _shipped(DEFAULT))
    if source is None:
        return _built("the default playbook", default, PlaybookFile())
    if not source:
        raise InputError("playbook: no file is named; name a TOML file")
    where = f"playbook {shown(source)}"
    own = parsed(PlaybookFile, where, contents(Path(source), where))
    named = own if own.name is not None else own.model_copy(update={"name": shown(Path(source).stem)})
    return _built(where, default, named)


def default_in(language: str) -> Playbook:
    """The default playbook in one of the shipped languages. Raises FormatError for a language that there is not."""
    default = parsed(PlaybookFile, DEFAULT, _shipped(DEFAULT))
    return _built("the default playbook", default, PlaybookFile(language=language))


def languages() -> list[str]:
    """Codes of the languages there are."""
    folder = resources.files(__package__) / "languages"
    return sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))


def read(plain: Any) -> Playbook:
    """What `Playbook.to_json` gave, after JSON. Keys of later versions are passed over; raises FormatError."""
    try:
        playbook = _HEAD.validate_json(json.dumps(plain, allow_nan=False), strict=True)
    except ValidationError as error:
        raise FormatError(f"playbook.{explained(error)}; is this the head of a recording?") from error
    except (ValueError, TypeError, RecursionError) as error:
        raise FormatError(f"playbook: not plain JSON ({error}); is this the head of a recording?") from error
    try:
        build.check_templates(playbook)
    except ValueError as error:
        raise FormatError(f"playbook.{error}; is this the head of a recording?") from error
    return playbook


def shown(path: str) -> str:
    """A path on one line."""
    return path if path.isprintable() else ascii(path)


def _built(where: str, default: PlaybookFile, own: PlaybookFile) -> Playbook:
    known = languages()
    code = own.language or default.language or known[0]
    if code not in known:
        raise FormatError(f"{where}: language: there is none called {code[:40]!r}; {did_you_mean(code, known)}")
    name = f"languages/{code}.toml"
    try:
        return build.playbook(default, own, parsed(LanguageFile, name, _shipped(name)))
    except ValueError as error:
        raise FormatError(f"{where}: {error}") from error


def _shipped(name: str) -> bytes:
    return (resources.files(__package__) / name).read_bytes()


_HEAD = TypeAdapter(Playbook)
