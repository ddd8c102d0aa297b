"""Where the overlay stands and how large it is, remembered from one drive to the next in a small TOML file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coach.overlay.kept import quoted, write_whole
from coach.vocabulary.errors import FormatError, InputError, WorkError

LEAST, USUAL, LARGEST = 20.0, 30.0, 120.0
"""arcmin of a character's height: 20 are preferred by ISO 15008 (number from memory); the others are choices."""

_MOST_BYTES = 100_000
"""of the file: a thousand times as much as it needs (choice)."""
_HEAD = "# Where the overlay stands, written by `cornerword place`. Without this file: at the top, in the middle."
_NEEDS = {
    "monitor": "a monitor's name in quotes",
    "across": "a number from 0, left, to 1, right",
    "down": "a number from 0, top, to 1, bottom",
    "size": f"a number from {LEAST:g} to {LARGEST:g} (arcmin of a character's height)",
}
_MEND = "mend it there, or delete the file and run `cornerword place`"


@dataclass(frozen=True, slots=True)
class Placing:
    """`monitor`: its name, None: the main one. `across`, `down`: the share of the free room that lies left of and above
    the plate, 0..1, so that it fits whatever the resolution. `size`: arcmin of a character's height.
    """

    monitor: str | None = None
    across: float = 0.5
    down: float = 0.02
    size: float = USUAL


class _Table(BaseModel):
    """The file; a key that is left out is as it comes."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)

    monitor: str | None = None
    across: Annotated[float, Field(ge=0.0, le=1.0)] = Placing().across
    down: Annotated[float, Field(ge=0.0, le=1.0)] = Placing().down
    size: Annotated[float, Field(ge=LEAST, le=LARGEST)] = USUAL


def load(path: Path) -> Placing:
    """The placing in the file; where there is no such file, the usual one.

    Raises InputError for a file that cannot be read, FormatError, one line with file and key, for one that is not
    right.
    """
    where = f"placing {_shown(path)}"
    try:
        if not path.exists():
            return Placing()
        if not path.is_file():
            raise InputError(f"{where}: it is no ordinary file; name a TOML file")
        with path.open("rb") as file:
            content = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise InputError(f"{where}: cannot be read ({error.strerror or error}); name a TOML file") from error
    except ValueError as error:
        raise InputError(f"{where}: no name of a file ({error}); name a TOML file") from error
    table = _checked(_plain(content, where), where)
    return Placing(table.monitor, table.across, table.down, table.size)


def save(path: Path, placing: Placing) -> None:
    """Write the placing, whole or not at all; its folder is made. What lies beyond a range is brought to its end.

    Raises WorkError, one line, where the disk fails.
    """
    where = f"placing {_shown(path)}"
    try:
        target = path.resolve()  # a link stays a link
        if target.exists() and not target.is_file():
            raise WorkError(f"{where}: not written, it is no ordinary file; name another")
        write_whole(target, _toml(placing).encode("utf-8", "replace"))
    except OSError as error:
        raise WorkError(f"{where}: not written ({error.strerror or error}); make room, or name another") from error
    except ValueError as error:
        raise WorkError(f"{where}: not written, no name of a file ({error}); name another") from error


def _plain(content: bytes, where: str) -> dict[str, Any]:
    if len(content) > _MOST_BYTES:
        raise FormatError(f"{where}: over {_MOST_BYTES // 1000} kB, none is that large; is it another file?")
    try:
        return tomllib.loads(content.decode("utf-8-sig"))  # some editors begin a file with a byte-order mark
    except UnicodeDecodeError as error:
        raise FormatError(f"{where}: not UTF-8 text at byte {error.start}; save it as UTF-8") from error
    except (ValueError, RecursionError) as error:
        raise FormatError(f"{where}: not TOML: {' '.join(str(error).split())[:200]}; {_MEND}") from error


def _checked(plain: dict[str, Any], where: str) -> _Table:
    try:
        return _Table.model_validate(plain)
    except ValidationError as error:
        first = error.errors()[0]
    key = str(first["loc"][0])
    if key not in _NEEDS:
        raise FormatError(f"{where}: no key is called {key[:40]!r} here; there are {', '.join(_NEEDS)}")
    raise FormatError(f"{where}: {key}: {_NEEDS[key]} is needed, not {repr(first['input'])[:60]}; {_MEND}")


def _toml(placing: Placing) -> str:
    lines = [_HEAD]
    if placing.monitor is not None:
        lines.append(f"monitor = {quoted(placing.monitor)}")
    numbers = (("across", 0.0, 1.0), ("down", 0.0, 1.0), ("size", LEAST, LARGEST))
    lines += [f"{key} = {float(max(low, min(high, getattr(placing, key))))!r}" for key, low, high in numbers]
    return "\n".join(lines) + "\n"


def _shown(path: Path) -> str:
    """A path on one line."""
    name = str(path)
    return name if name.isprintable() else ascii(name)
