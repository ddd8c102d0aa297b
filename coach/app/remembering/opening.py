"""Where the memory is, and opening it to look at: what is not there is not made by looking."""

from __future__ import annotations

from pathlib import Path

from coach.app.console import Console
from coach.app.keeping import own_file
from coach.store.memory import Memory
from coach.store.opening import open_to_keep
from coach.vocabulary.errors import InputError
from feeds.paths import on_one_line


def memory_file(given: Path | None) -> Path:
    """The file `given`, or the user's own memory."""
    return own_file() if given is None else given


def made(given: Path | None, console: Console) -> Memory:
    """The memory, made where there is none. WorkError where it cannot be."""
    file = memory_file(given)
    opened_to_keep = open_to_keep(file)
    opened_to_keep.memory.close()
    for line in opened_to_keep.notices:
        console.say(line)
    return Memory(file)


def opened(given: Path | None, console: Console | None = None) -> Memory:
    """The memory, to be closed by the caller; what a person should know of it is said. InputError where there is
    none, FormatError for what is none."""
    file = memory_file(given)
    name = on_one_line(file)
    if not is_there(file):
        if given is None:
            raise InputError(f"nothing is kept yet: a drive makes the memory, {name}")
        raise InputError(f"there is no memory {name}: check the name")
    memory = Memory(file)
    if console is not None:
        for line in memory.notices:
            console.say(line)
    return memory


def is_there(file: Path) -> bool:
    """Whether there is such a file."""
    try:
        return file.exists()
    except OSError:  # too long a name, or a folder that may not be looked into
        return False
