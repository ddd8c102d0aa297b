"""What one person sets once for every drive: a TOML file, each key of which may be left out.

A new table is a class here and a field of `Settings`.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated

import platformdirs
from pydantic import Field, ValidationError

from coach.playbook.explain import explained
from coach.playbook.schema import Table
from coach.vocabulary.errors import FormatError, InputError

WORDS_A_MINUTE = range(80, 451)
"""What the synthesiser takes (espeak-ng's manual page)."""
LARGEST = 100_000
"""bytes of the file: a hundred times as much as it needs (choice)."""

Name = Annotated[str, Field(min_length=1, max_length=200)]


class VoiceSettings(Table):
    """`speaker`: one of the synthesiser's voices. `device`: the sound device, by its name or a part of it."""

    speaker: Name | None = None
    words_a_minute: Annotated[int, Field(ge=WORDS_A_MINUTE.start, le=WORDS_A_MINUTE.stop - 1)] | None = None
    volume: Annotated[float, Field(ge=0.0, le=1.0)] | None = None
    device: Name | None = None


class Settings(Table):
    """The whole file."""

    voice: VoiceSettings = VoiceSettings()


def settings_file() -> Path:
    """Where the settings are if no other file is named: in the user's own folder for such things."""
    return platformdirs.user_config_path("cornerword", appauthor=False) / "settings.toml"


def read(named: Path | None = None) -> Settings:
    """The settings in the file `named`, or in the user's own; none there is all as it comes.

    Raises InputError for a file that cannot be read, FormatError, one line with file, key and mend, for one that is
    not right.
    """
    path = settings_file() if named is None else named
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except FileNotFoundError as error:
        if named is None:
            return Settings()
        raise InputError(f"settings {path}: there is no such file") from error
    except OSError as error:
        raise InputError(f"settings {path}: cannot be read ({error.strerror or error})") from error
    if len(content) > LARGEST:
        raise FormatError(f"settings {path}: larger than {LARGEST // 1000} kB: name a file of settings")
    try:
        plain = tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise FormatError(f"settings {path}: not UTF-8 text: save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        raise FormatError(f"settings {path}: not TOML ({error or 'nested too deep'})") from error
    try:
        return Settings.model_validate(plain)
    except ValidationError as error:
        raise FormatError(f"settings {path}: {explained(error)}") from error
