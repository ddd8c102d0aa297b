"""Names that laps may have: each means one thing wherever a lap or a reference is asked for."""

from __future__ import annotations

import os
from collections.abc import Iterable

from coach.app.console import plain
from coach.app.remembering.lapfile import ENDING
from coach.app.remembering.which import LABEL
from coach.engine.start import CHOICES
from coach.vocabulary.errors import InputError

READ = (ENDING, ".cwrec", ".jsonl", ".jsonl.gz", ".pcap", ".pcapng")
"""Endings of the files that a reference is read from."""
BEST = "best"
"""In place of a lap, `choose` takes the best clean one."""


def reads_as_a_file(name: str) -> bool:
    """Whether a name that is no file's was surely meant to be one."""
    separators = {"/", "\\", os.sep}
    return any(separator in name for separator in separators) or name.lower().endswith(READ)


def checked_name(label: str, taken: Iterable[str], option: str = "NAME") -> str:
    """The name without blanks around it. InputError, which says why, for one that would mean something else."""
    name = label.strip()
    shown = f'"{plain(name, LABEL)}"'
    if not name.isprintable():
        raise InputError(f"{option}: {shown} has a character that no screen shows: choose another name")
    if name.isdecimal():
        raise InputError(f"{option}: {shown} would be taken for a lap's number: choose a name with a letter in it")
    if name.startswith("-"):
        raise InputError(f"{option}: {shown} would be taken for an option: choose a name that begins otherwise")
    if name.casefold() in (*CHOICES, BEST):
        raise InputError(f"{option}: {shown} is a choice of the coach's own: choose another name")
    if reads_as_a_file(name):
        raise InputError(f"{option}: {shown} would be taken for a file: choose a name without / and without its ending")
    if os.path.lexists(name):
        raise InputError(f"{option}: {shown} is a file here, and --reference would read that: choose another name")
    if name.casefold() in {other.casefold() for other in taken}:
        raise InputError(f"{option}: another lap is called {shown}: choose another name, or take it away there first")
    return name
