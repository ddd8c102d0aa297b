"""What one person sets once for every drive: a TOML file, each key of which may be left out.

A new table is a class here and a field of `Settings`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import platformdirs
from pydantic import Field

from coach.playbook.load import shown
from coach.playbook.schema import Table
from coach.playbook.tables import contents, parsed
from voice.espeak import RATES

Name = Annotated[str, Field(min_length=1, max_length=200)]


class VoiceSettings(Table):
    """`speaker`: one of the synthesiser's voices. `device`: the sound device, by its name or a part of it."""

    speaker: Name | None = None
    words_a_minute: Annotated[int, Field(ge=RATES.start, le=RATES.stop - 1)] | None = None
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
    if named is None and not path.exists():
        return Settings()
    where = f"settings {shown(str(path))}"
    return parsed(Settings, where, contents(path, where))
