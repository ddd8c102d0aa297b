"""Which drives are being kept right now: each holds a lock beside the file, which the system frees when it is killed.

A session names the lock (`slot`) of the program that writes it. Where that lock is free, or has another holder, its
writer has gone, and whoever begins next closes it. A time would not tell: a paused program is not dead.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from pathlib import Path
from typing import IO

from coach.store.naming import shown
from coach.vocabulary.errors import WorkError

SLOTS = 64
"""drives into one memory at once (choice): nobody has so many."""

if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[bytes]) -> bool:
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


class Slot:
    """A lock that is held until `free`."""

    def __init__(self, number: int, file: IO[bytes]) -> None:
        self.number = number
        self._file = file

    def free(self) -> None:
        """Let go of it."""
        with suppress(OSError):
            self._file.close()


def hold(memory: Path) -> Slot:
    """The first lock that nobody holds. Raises WorkError where all are held, or no file can be made there."""
    for number in range(1, SLOTS + 1):
        try:
            slot = hold_one(memory, number)
        except OSError as error:
            where = f"cannot make a file in {shown(memory.parent)} ({error.strerror})"
            raise WorkError(f"{where}: give leave there, or name another file with --memory") from error
        if slot is not None:
            return slot
    raise WorkError(f"the memory {shown(memory)} cannot be locked by one more drive: end another first")


def hold_one(memory: Path, number: int) -> Slot | None:
    """That lock, where nobody holds it."""
    file = memory.with_name(f"{memory.name}-drive{number}").open("ab")
    if _lock(file):
        return Slot(number, file)
    file.close()
    return None
