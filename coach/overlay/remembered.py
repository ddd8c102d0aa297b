"""Where an ordinary window stood, kept in a small JSON file from one start to the next."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from coach.overlay.kept import write_whole

_LEAST, _MOST, _FARTHEST = 64, 16_384, 100_000
"""px: sizes between which a window can be used, and how far away from the desktop's corner one can be (choice)."""
_Side = Annotated[int, Field(ge=_LEAST, le=_MOST)]
_Place = Annotated[int, Field(ge=-_FARTHEST, le=_FARTHEST)]


@dataclass(frozen=True)
class WindowPlace:
    """px of the desktop: the upper left corner of the window's inside, and its size."""

    left: _Place
    top: _Place
    width: _Side
    height: _Side


_FORM = TypeAdapter(WindowPlace)


def read(path: Path, say: Callable[[str], None]) -> WindowPlace | None:
    """What the file holds; None where there is none yet, or, told in one line, where it is not right."""
    try:
        return _FORM.validate_json(path.read_bytes())
    except FileNotFoundError:
        return None
    except OSError as error:
        why = error.strerror or str(error)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        why = f"{where}: {first['msg']}" if where else first["msg"]
    say(f"{path}: {why}; the overlay's window opens in its usual place")
    return None


def write(path: Path, place: WindowPlace, say: Callable[[str], None]) -> None:
    """Keep it, whole or not at all; one line where it cannot be."""
    try:
        write_whole(path, _FORM.dump_json(place))
    except OSError as error:
        say(f"{path}: {error.strerror or error}; the place of the overlay's window is not remembered")
