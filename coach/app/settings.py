"""What one person sets once for every drive: a TOML file, each key of which may be left out.

A new table is a class here and a field of `Settings`.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal, Self

import platformdirs
from pydantic import AfterValidator, Field, model_validator

from coach.overlay.contrast import KEYS, shortfall
from coach.overlay.look import DISTANCE, OPACITY
from coach.overlay.palette import Colour, Palette
from coach.overlay.placing import LARGEST, USUAL
from coach.overlay.sight import check_size
from coach.playbook.load import shown
from coach.playbook.schema import Table, misplaced
from coach.playbook.tables import parsed
from coach.toml.reading import contents
from coach.vocabulary.errors import InputError
from voice.espeak import RATES

WINDOWS = Literal["edge", "window", "screen"]
"""Kinds of window: one that lies over the simulator, an ordinary one, or a whole monitor."""

Name = Annotated[str, Field(min_length=1, max_length=200)]


def _colour(given: str) -> str:
    if not re.fullmatch("#[0-9a-fA-F]{6}", given):
        raise ValueError(
            f"{given[:40]!r} is no colour: write # and two digits 0-f each of red, green and blue, #56b4e9"
        )
    return given


HexColour = Annotated[str, AfterValidator(_colour)]


class VoiceSettings(Table):
    """`speaker`: one of the synthesiser's voices. `device`: the sound device, by its name or a part of it."""

    speaker: Name | None = None
    words_a_minute: Annotated[int, Field(ge=RATES.start, le=RATES.stop - 1)] | None = None
    volume: Annotated[float, Field(ge=0.0, le=1.0)] | None = None
    device: Name | None = None


class ColourTable(Table):
    """The overlay's colours, `#rrggbb`: its plate and rim, the float ahead and behind, and all that is neither."""

    plate: HexColour | None = None
    rim: HexColour | None = None
    ahead: HexColour | None = None
    behind: HexColour | None = None
    plain: HexColour | None = None

    def palette(self) -> Palette:
        """These colours, and the usual ones where none is named."""
        named = {key: getattr(self, key) for key in KEYS}
        return Palette(**{key: _read(value) for key, value in named.items() if value is not None})


class OverlaySettings(Table):
    """`distance` m from the eye to the screen; `pixel` mm of one; `size` arcmin of a character's height, `opacity` of
    the plate; `text` false: nothing to read, ever; `times` false: lap time is hidden; `monitor`: its name.

    Colours that cannot be seen or told apart, and text that cannot be read, are refused.
    """

    distance: Annotated[float, Field(ge=0.2, le=5.0)] | None = None
    pixel: Annotated[float, Field(ge=0.05, le=2.0)] | None = None
    size: Annotated[float, Field(le=LARGEST)] | None = None
    opacity: Annotated[float, Field(ge=0.0, le=1.0)] | None = None
    text: bool | None = None
    times: bool | None = None
    window: WINDOWS | None = None
    monitor: Name | None = None
    colours: ColourTable = ColourTable()

    @model_validator(mode="after")
    def _can_be_seen(self) -> Self:
        found = shortfall(self.colours.palette(), OPACITY if self.opacity is None else self.opacity)
        if found is not None and self.opacity is not None and self.colours == ColourTable():
            raise misplaced(".opacity", f"{found.key} {found.what}")
        if found is not None:
            raise misplaced(f".colours.{found.key}", found.what)
        try:
            check_size(USUAL if self.size is None else self.size, self.distance or DISTANCE, self.pixel)
        except InputError as error:
            raise misplaced(".size", str(error)) from error
        return self


class Settings(Table):
    """The whole file."""

    voice: VoiceSettings = VoiceSettings()
    overlay: OverlaySettings = OverlaySettings()


def settings_file() -> Path:
    """Where the settings are if no other file is named: in the user's own folder for such things."""
    return platformdirs.user_config_path("cornerword", appauthor=False) / "settings.toml"


def placing_file() -> Path:
    """Where it is written where the overlay stands, beside the settings."""
    return settings_file().with_name("overlay.toml")


def window_file() -> Path:
    """Where it is written where the overlay's ordinary window was left, beside the settings."""
    return settings_file().with_name("window.json")


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


def _read(colour: str) -> Colour:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
