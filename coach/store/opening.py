"""Opens the memory's file: makes it, moves an earlier version on with a copy kept, and says in one line what is wrong.

Write-ahead logging (WAL) lets others read while a drive is written. `synchronous=NORMAL`: what a commit has written is
with the system before the next one begins, so a killed program loses nothing that was committed; the disk itself is
waited for only at a checkpoint, so that a power cut may cost the last commits and never the file
(https://www.sqlite.org/pragma.html#pragma_synchronous). WAL needs memory that programs share, which network folders do
not have: there the rollback journal is used, which is as safe with `synchronous=FULL`, only slower.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, sleep
from urllib.parse import quote

from coach.store.migrations import MIGRATIONS
from coach.store.naming import shown
from coach.store.schema import APPLICATION, SCHEMA, VERSION
from coach.vocabulary.errors import CornerwordError, FormatError, InputError, WorkError

BUSY = 10.0
"""s to wait for another program that writes: a migration of some hundred sessions takes one (choice)."""
QUICK = 0.02
"""s to wait where the drive itself waits: rather nothing is recalled."""
UNREADABLE = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""What comes of a row that is not as it was written: SQLite sees damage to its pages, not to what stands in them."""


@dataclass(slots=True)
class Opened:
    """`notices`: lines that a person should know of."""

    memory: sqlite3.Connection
    notices: list[str]


@contextmanager
def told(path: Path) -> Iterator[None]:
    """What SQLite or the system says, as one of our errors."""
    try:
        yield
    except sqlite3.Error as error:
        raise explained(path, error) from error
    except UNREADABLE as error:
        raise damaged(path, repr(error)) from error
    except OSError as error:
        raise WorkError(f"cannot use the memory {shown(path)} ({error.strerror or error}): {_ELSEWHERE}") from error


_ELSEWHERE = "make room or give leave there, or name another file with --memory"


def explained(path: Path, error: sqlite3.Error) -> CornerwordError:
    """One line that says what is wrong with the file and how to mend it."""
    name, said = shown(path), str(error)
    if isinstance(error, sqlite3.OperationalError):
        if "locked" in said or "busy" in said:
            return WorkError(f"the memory {name} is being written by another program: try again when it has ended")
        if "full" in said:
            return WorkError(f"the memory {name} cannot grow, the disk is full: make room")
        if said.startswith("no such"):  # a table or a column
            return damaged(path, said)
        return WorkError(f"the memory {name} cannot be used ({said}): {_ELSEWHERE}")
    if "not a database" in said:
        return FormatError(f"{name} is no memory: name another file, or move it away", "no memory")
    if "malformed" in said:
        return damaged(path, said)
    return WorkError(f"the memory {name} cannot be used ({said}): {_ELSEWHERE}")


def damaged(path: Path, why: str) -> FormatError:
    """The one line on a file in which something is not as it was written."""
    return FormatError(
        f"the memory {shown(path)} is damaged or no memory ({why}): move it away, or put a copy in its place", "damaged"
    )


def open_to_keep(path: Path, vfs: str | None = None) -> Opened:
    """For a drive: made where there is none. Raises FormatError, WorkError. `vfs`: SQLite's, for tests."""
    with told(path):
        _make_folder(path.parent)
        if path.exists():
            check(path, may_be_empty=True)
        memory = connect(path, "rwc", vfs=vfs)
    notices: list[str] = []
    with _closed_if_it_fails(memory), told(path):
        _version(path, memory)  # what is not ours is left as it is
        if _journal(memory) != "wal":
            notices.append(
                f"the memory {shown(path)} lies where programs share no memory (a network folder?): it is kept, "
                "slower, and reading it may wait for the drive"
            )
        _make_or_move_on(path, memory, notices)
        memory.execute("SELECT count(*) FROM session").fetchone()
    return Opened(memory, notices)


def _make_folder(folder: Path) -> None:
    """For the user alone, as the XDG Base Directory Specification wants a folder that is not there to be made."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise FormatError(f"{shown(folder)} is no folder: name another file with --memory", "no folder") from None


def open_to_read(path: Path) -> Opened:
    """One that is there; an earlier version is moved on. Raises InputError where it is not, FormatError, WorkError."""
    with told(path):
        if not path.exists():
            raise InputError(f"there is no memory {shown(path)}: `cornerword drive` makes it, or give its name")
        check(path)
        memory = _open_as_allowed(path)
    notices: list[str] = []
    with _closed_if_it_fails(memory), told(path):
        if _version(path, memory) == 0:
            raise FormatError(f"{shown(path)} is a database without a table, and no memory yet: drive first", "empty")
        _make_or_move_on(path, memory, notices)
        memory.execute("SELECT count(*) FROM session").fetchone()
    return Opened(memory, notices)


def open_beside(path: Path) -> sqlite3.Connection:
    """A second connection, only to read, that hardly waits: of a file that this program has open already."""
    with told(path):
        return connect(path, "ro", busy=QUICK)


def connect(path: Path, mode: str, busy: float = BUSY, vfs: str | None = None, more: str = "") -> sqlite3.Connection:
    """A connection with our settings; transactions are begun by hand."""
    uri = f"file:{quote(os.fsencode(path.absolute()))}?mode={mode}{more}" + (f"&vfs={vfs}" if vfs else "")
    memory = sqlite3.connect(uri, timeout=busy, isolation_level=None, check_same_thread=False, uri=True)
    memory.text_factory = _text
    with _closed_if_it_fails(memory):
        memory.execute("PRAGMA foreign_keys=ON")
        memory.execute("PRAGMA trusted_schema=OFF")  # a pupil's file may come from anybody
        memory.execute("PRAGMA synchronous=NORMAL")
    return memory


def check(path: Path, may_be_empty: bool = False) -> None:
    """Raises FormatError for a folder, and for an empty file; OSError where it cannot be looked at.

    It does not open the file: closing it would take away the locks that this process has on it through SQLite
    (https://www.sqlite.org/howtocorrupt.html, 2.2).
    """
    if not path.is_file():
        raise FormatError(f"{shown(path)} is no file: name the memory's file", "no file")
    if not may_be_empty and not path.stat().st_size:
        raise FormatError(f"{shown(path)} is empty: name another file, or move it away", "no memory")


@contextmanager
def transaction(memory: sqlite3.Connection) -> Iterator[None]:
    """All of it or nothing."""
    memory.execute("BEGIN IMMEDIATE")
    try:
        yield
        memory.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):  # the disk that failed may have ended it already
            memory.execute("ROLLBACK")
        raise


def copy_whole(memory: sqlite3.Connection, to: Path) -> None:
    """The file as it stands to a new one, in one step, whoever writes meanwhile; one file, without WAL."""
    with closing(sqlite3.connect(to, isolation_level=None)) as copy:
        memory.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")


def _text(data: bytes) -> str:
    return data.decode("utf-8", "replace")


@contextmanager
def _closed_if_it_fails(memory: sqlite3.Connection) -> Iterator[None]:
    try:
        yield
    except BaseException:
        memory.close()
        raise


def _open_as_allowed(path: Path) -> sqlite3.Connection:
    """To read and write, or, where the file or its folder may not be written, to read alone."""
    if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK):
        return connect(path, "rw")
    try:
        memory = connect(path, "ro")
        with _closed_if_it_fails(memory):
            memory.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        waiting = path.with_name(path.name + "-wal")
        if waiting.exists() and waiting.stat().st_size:
            raise  # what stands there would be left out
        memory = connect(path, "ro", more="&immutable=1")
    return memory


def _journal(memory: sqlite3.Connection) -> str:
    """Asks for WAL, and returns which journal it is. Two programs may ask at once, and SQLite does not wait here."""
    until = monotonic() + BUSY
    while True:
        try:
            (mode,) = memory.execute("PRAGMA journal_mode=WAL").fetchone()
            break
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or monotonic() > until:
                raise
            sleep(QUICK)
    if mode != "wal":
        memory.execute("PRAGMA synchronous=FULL")
    return str(mode)


def _version(path: Path, memory: sqlite3.Connection) -> int:
    """0 for a file without tables. Raises FormatError for another program's, and for a later version."""
    (version,) = memory.execute("PRAGMA user_version").fetchone()
    (application,) = memory.execute("PRAGMA application_id").fetchone()
    (tables,) = memory.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if application != APPLICATION and (tables or version or application):
        raise FormatError(f"{shown(path)} is a database, and no memory: name another file", "no memory")
    if version > VERSION:
        raise FormatError(
            f"the memory {shown(path)} is of version {version}, and this program knows up to {VERSION}: update it",
            "a later version",
        )
    return int(version)


def _make_or_move_on(path: Path, memory: sqlite3.Connection, notices: list[str]) -> None:
    if _version(path, memory) == VERSION:
        return
    if memory.execute("PRAGMA query_only").fetchone()[0] or not os.access(path, os.W_OK):
        raise WorkError(f"the memory {shown(path)} is of an earlier version, and may not be written: {_ELSEWHERE}")
    with transaction(memory):
        version = _version(path, memory)  # another program may have been quicker
        if version == 0:
            for statement in SCHEMA.split(";\n"):
                memory.execute(statement)
            memory.execute(f"PRAGMA application_id={APPLICATION}")
        elif version < VERSION:
            kept = _kept_copy(path, version)
            for step in range(version, VERSION):
                MIGRATIONS[step](memory)
            notices.append(f"the memory was moved on to version {VERSION}; the old one is kept as {shown(kept)}")
        memory.execute(f"PRAGMA user_version={VERSION}")


def _kept_copy(path: Path, version: int) -> Path:
    """A copy beside the file; the file is locked against writers meanwhile."""
    stem = f"{path.stem}-v{version}-before-v{VERSION}"
    to = path.with_name(f"{stem}{path.suffix}")
    number = 2
    while to.exists():
        to = path.with_name(f"{stem}-{number}{path.suffix}")
        number += 1
    growing = to.with_name(to.name + ".part")
    growing.unlink(missing_ok=True)
    with closing(connect(path, "ro")) as old:
        copy_whole(old, growing)
    growing.replace(to)
    return to
