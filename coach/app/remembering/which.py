"""Which session or lap is meant: by its number or its name, with the nearest names where there is none."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from coach.app.console import plain
from coach.store.memory import Memory
from coach.store.rows import LapRow, SessionRow
from coach.vocabulary.errors import FormatError, InputError
from coach.vocabulary.laptime import lap_time

NEAR = 3
"""names that are offered in place of one that there is not"""
ALIKE = 0.8
"""of two names' letters that are the same (difflib's ratio): a slip or two, not another word with the same ending
(choice)"""
LABEL = 40
"""characters of a label that are shown within a sentence"""


def session_of(memory: Memory, number: int) -> SessionRow:
    """The session of that number. InputError where there is none."""
    rows = memory.sessions()
    found = next((row for row in rows if row.id == number), None)
    if found is not None:
        return found
    has = "it has none" if not rows else f"`cornerword memory sessions` lists the {len(rows)} there are"
    raise InputError(f"there is no session {number} in the memory: {has}")


def lap_of(memory: Memory, which: str) -> LapRow:
    """The lap of that number or name. InputError where there is none, with the names that come near."""
    found = find_lap(memory, which)
    if found is not None:
        return found
    kind = "number" if which.isdecimal() else "name"
    raise InputError(
        f"there is no lap of the {kind} {plain(which, LABEL)} in the memory: "
        f"{near(which, names(memory)) or '`cornerword memory laps` lists them'}"
    )


def find_lap(memory: Memory, which: str) -> LapRow | None:
    """The lap of that number or name, None where there is none. FormatError for a memory that is damaged."""
    try:
        return memory.lap(which)
    except FormatError:
        raise
    except InputError:
        return None


def names(memory: Memory) -> list[str]:
    """The names that laps have."""
    return [row.name for row in memory.laps() if row.name is not None]


def near(which: str, known: Iterable[str]) -> str | None:
    """`did you mean "x" or "y"?`, None where nothing comes near."""
    lowered: dict[str, str] = {}
    for name in known:
        lowered.setdefault(name.casefold(), name)
    found = [f'"{plain(lowered[name], LABEL)}"' for name in get_close_matches(which.casefold(), lowered, NEAR, ALIKE)]
    return f"did you mean {' or '.join(found)}?" if found else None


def described(row: LapRow) -> str:
    """`lap 57, "the coach's" (lap 4 of session 12, 1:31.204)`."""
    name = "" if row.name is None else f', "{plain(row.name, LABEL)}"'
    where = "handed on" if row.session is None else f"lap {row.number} of session {row.session}"
    return f"lap {row.id}{name} ({where}, {lap_time(row.time)})"


def ways_to_use(row: LapRow) -> list[str]:
    """What to write to drive against it, once or from now on."""
    which = str(row.id) if row.name is None else f'"{row.name}"'
    return [
        f"  to drive against it:       --reference {which}",
        f"  to do so from now on:      cornerword memory choose {which}",
    ]


def labels_of(track: str | None, car: str | None, driver: str | None) -> str:
    """`track, car, driver`, and of what has no name that it has none."""
    labels = {"track": track, "car": car, "driver": driver}
    return ", ".join(plain(label, LABEL) if label else f"a {what} without a name" for what, label in labels.items())


def lap_labels(row: LapRow) -> tuple[str | None, str | None, str | None]:
    """Track, car and driver of a lap."""
    return row.track, row.car, row.driver
