"""The shipped tables of phrase lengths: how long each phrase takes to say, measured once from a voice."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from importlib import resources
from typing import Any

from coach.vocabulary.errors import FormatError, InputError

DEFAULT = "en-us-175"
"""The table of the default voice."""
RATE = 175
"""words a minute that every shipped table was measured at."""
ESTIMATED = "estimated"
"""The name of the empty table of a voice that none was measured from."""


@dataclass(frozen=True, slots=True)
class LengthTable:
    """`lengths`: phrase -> s of speech, silence at both ends left out. `voice` spoke at `rate` words a minute."""

    name: str
    voice: str
    rate: int
    lengths: dict[str, float]


def names() -> list[str]:
    """The tables there are."""
    return sorted(entry.name.removesuffix(".json") for entry in _folder().iterdir() if entry.name.endswith(".json"))


def load(name: str = DEFAULT) -> LengthTable:
    """One table. Raises InputError for a name that there is none of, FormatError for a file that is no table."""
    known = names()
    if name not in known:
        raise InputError(f"phrases: no table of lengths is called {name!r}; choose from {', '.join(known)}")
    return read(name, (_folder() / f"{name}.json").read_bytes())


def for_voice(voice: str | None) -> LengthTable:
    """The shipped table of a synthesiser's voice, None for its default.

    Where there is none for it, an empty table that is named so: its phrases are then estimated.
    """
    if voice is None:
        return load()
    name = f"{voice}-{RATE}"
    return load(name) if name in names() else LengthTable(ESTIMATED, voice, RATE, {})


def read(name: str, content: bytes) -> LengthTable:
    """A table from its file's bytes; `name` is what errors call it."""
    where = f"table of lengths {name}"
    try:
        plain = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise FormatError(f"{where}: not JSON ({error}); measure it again with voice.measure_lengths") from error
    if not isinstance(plain, dict):
        raise FormatError(f"{where}: one JSON object is needed")
    lengths = plain.get("lengths")
    if not isinstance(lengths, dict) or not lengths:
        raise FormatError(f"{where}: lengths: an object of phrase to seconds is needed")
    for phrase, seconds in lengths.items():
        if not _is_length(seconds):
            raise FormatError(f"{where}: lengths: {phrase!r} is {seconds!r}, not seconds above 0")
    rate = plain.get("rate")
    if isinstance(rate, bool) or not isinstance(rate, int):
        raise FormatError(f"{where}: rate: whole words a minute are needed, not {rate!r}")
    for key in ("table", "voice"):
        if not isinstance(plain.get(key), str):
            raise FormatError(f"{where}: {key}: text is needed, not {plain.get(key)!r}")
    return LengthTable(plain["table"], plain["voice"], rate, {text: float(value) for text, value in lengths.items()})


def _is_length(value: Any) -> bool:
    return not isinstance(value, bool) and isinstance(value, (int, float)) and math.isfinite(value) and value > 0


def _folder() -> Any:
    return resources.files(__package__)
