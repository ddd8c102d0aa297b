"""The file is made, moved on, shared and refused as it should be. What SQLite does is its manual's word
(https://www.sqlite.org/wal.html, https://www.sqlite.org/pragma.html), and is looked at with plain `sqlite3`."""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from coach.store import opening
from coach.store.memory import Memory
from coach.store.opening import open_to_keep, transaction
from coach.store.schema import APPLICATION, SCHEMA, VERSION
from coach.vocabulary.errors import CornerwordError, FormatError, InputError, WorkError

TOP = Path(__file__).parents[2]
VERSION_1 = """
CREATE TABLE session (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    begun REAL NOT NULL,
    ended REAL NOT NULL,
    whole INTEGER,
    track TEXT,
    car TEXT,
    driver TEXT,
    setup TEXT,
    kind TEXT,
    source TEXT NOT NULL,
    version TEXT NOT NULL,
    stage TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    conditions TEXT NOT NULL DEFAULT '{}'
);
CREATE TABLE event (
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    n INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (session, n)
) WITHOUT ROWID;
CREATE TABLE lap (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    session INTEGER REFERENCES session ON DELETE CASCADE,
    place INTEGER,
    number INTEGER NOT NULL,
    time REAL,
    clean INTEGER NOT NULL,
    why_not TEXT NOT NULL DEFAULT '[]',
    name TEXT UNIQUE,
    track TEXT,
    car TEXT,
    driver TEXT,
    taken REAL,
    UNIQUE (session, place)
);
CREATE TABLE channels (
    lap INTEGER PRIMARY KEY REFERENCES lap ON DELETE CASCADE,
    grid BLOB NOT NULL
);
CREATE TABLE piece (
    id INTEGER PRIMARY KEY,
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place INTEGER,
    begins REAL NOT NULL,
    ends REAL NOT NULL,
    samples INTEGER NOT NULL,
    columns BLOB NOT NULL
);
CREATE INDEX piece_of_session ON piece (session, place);
CREATE TABLE circuit (
    track TEXT PRIMARY KEY,
    body TEXT NOT NULL,
    changed REAL NOT NULL
) WITHOUT ROWID;
CREATE TABLE known (
    driver TEXT NOT NULL,
    car TEXT NOT NULL,
    track TEXT NOT NULL,
    scatter TEXT,
    usual TEXT,
    warm REAL,
    planner TEXT,
    stage TEXT,
    changed REAL NOT NULL,
    PRIMARY KEY (driver, car, track)
) WITHOUT ROWID;
CREATE TABLE chosen (
    car TEXT NOT NULL,
    track TEXT NOT NULL,
    lap INTEGER NOT NULL REFERENCES lap ON DELETE CASCADE,
    PRIMARY KEY (car, track)
) WITHOUT ROWID;
CREATE TABLE thing (
    session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (session, place)
) WITHOUT ROWID;
INSERT INTO session VALUES (1, 1790000000.5, 1790000900.5, 1, 'loop-a', 'car-a', 'driver-a', NULL, NULL, 'generic',
    '0.7', 'clean', 'hot', '{}');
INSERT INTO session VALUES (2, 1790090000.5, 1790090300.5, NULL, 'loop-a', 'car-a', 'driver-a', 'soft', NULL, 'generic',
    '0.7', 'clean', '', '{}');
INSERT INTO lap (id, session, place, number, time, clean) VALUES (1, 1, 0, 2, 81.25, 1);
INSERT INTO circuit VALUES ('loop-a', '{"name": "m0123456789", "length": 2345.0, "marks": []}', 1790000900.5);
INSERT INTO known VALUES ('driver-a', 'car-a', 'loop-a', NULL, NULL, 78.5, NULL, 'clean', 1790000900.5);
"""
"""A memory as version 1 wrote it. It never changes."""


def shape(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """By table: its columns, their types and keys, in the order of their names."""
    with closing(sqlite3.connect(path)) as plain:
        names = [name for (name,) in plain.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            name: sorted(row[1:] for row in plain.execute(f"PRAGMA table_info({name})"))
            for name in sorted(names)
            if not name.startswith("sqlite_")
        }


def indices(path: Path) -> list[tuple[str, str]]:
    with closing(sqlite3.connect(path)) as plain:
        return plain.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'index' ORDER BY 1").fetchall()


def old_memory(path: Path) -> Path:
    with closing(sqlite3.connect(path)) as plain:
        plain.execute("PRAGMA journal_mode=WAL")
        plain.executescript(VERSION_1)
        plain.execute(f"PRAGMA application_id={APPLICATION}")
        plain.execute("PRAGMA user_version=1")
    return path


def integrity(path: Path) -> str:
    with closing(sqlite3.connect(path)) as plain:
        return str(plain.execute("PRAGMA integrity_check").fetchone()[0])


def test_a_new_one_is_made_with_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "a folder" / "b ?#%ü" / "memory.sqlite"
    opened = open_to_keep(path)
    assert opened.notices == []
    assert opened.memory.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert opened.memory.execute("PRAGMA synchronous").fetchone() == (1,)  # NORMAL
    assert opened.memory.execute("PRAGMA foreign_keys").fetchone() == (1,)
    assert opened.memory.execute("PRAGMA user_version").fetchone() == (VERSION,)
    opened.memory.close()
    assert [entry.name for entry in path.parent.iterdir()] == ["memory.sqlite"]
    assert path.parent.stat().st_mode & 0o777 == 0o700  # XDG Base Directory Specification, "Referencing this ..."
    assert integrity(path) == "ok"


def test_an_empty_file_that_a_kill_left_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    path.touch()
    open_to_keep(path).memory.close()
    assert integrity(path) == "ok"


def test_version_1_is_moved_on_and_a_copy_is_kept(tmp_path: Path) -> None:
    path = old_memory(tmp_path / "memory.sqlite")
    before = shape(path)
    with Memory(path) as memory:
        kept = tmp_path / "memory-v1-before-v2.sqlite"
        assert memory.notices == [f"the memory was moved on to version 2; the old one is kept as {kept}"]
        second, first = memory.sessions()
        assert (first.note, first.stage, first.laps, first.best, first.whole) == ("hot", "clean", 1, 81.25, True)
        assert (second.setup, second.whole, second.ended) == ("soft", False, 1790090300.5)  # it was left open
        recalled = memory.recall("driver-a", "car-a", "loop-a")
        assert recalled.stage == "clean"
        assert recalled.known is not None and recalled.known.circuit is not None
        assert (recalled.known.circuit.name, recalled.known.circuit.length) == ("m0123456789", 2345.0)
    assert integrity(path) == integrity(kept) == "ok"
    assert shape(kept) == before
    with closing(sqlite3.connect(kept)) as plain:
        assert plain.execute("PRAGMA user_version").fetchone() == (1,)
        assert plain.execute("SELECT note FROM session").fetchall() == [("hot",), ("",)]
        assert plain.execute("PRAGMA journal_mode").fetchone() == ("delete",)  # one file
    new = tmp_path / "new.sqlite"
    open_to_keep(new).memory.close()
    assert indices(path) == indices(new)
    assert {name: {row[:2] for row in rows} for name, rows in shape(path).items()} == {
        name: {row[:2] for row in rows} for name, rows in shape(new).items()
    }


def test_a_migration_that_fails_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = old_memory(tmp_path / "memory.sqlite")
    before = shape(path)

    def half(memory: sqlite3.Connection) -> None:
        memory.execute("DROP TABLE circuit")
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setitem(opening.MIGRATIONS, 1, half)
    with pytest.raises(WorkError, match="disk I/O error"):
        open_to_keep(path)
    assert shape(path) == before
    assert integrity(path) == "ok"


def test_a_copy_never_takes_another_copys_place(tmp_path: Path) -> None:
    first = tmp_path / "memory-v1-before-v2.sqlite"
    first.write_bytes(b"of an earlier time")
    Memory(old_memory(tmp_path / "memory.sqlite")).close()
    assert first.read_bytes() == b"of an earlier time"
    assert integrity(tmp_path / "memory-v1-before-v2-2.sqlite") == "ok"


OPEN = """
import sys, time
from pathlib import Path
from coach.store.opening import open_to_keep
while time.time() < float(sys.argv[2]):
    pass
open_to_keep(Path(sys.argv[1])).memory.close()
"""


@pytest.mark.parametrize("old", [False, True])
def test_two_programs_that_start_at_once_both_work(tmp_path: Path, old: bool) -> None:
    path = tmp_path / "memory.sqlite"
    if old:
        old_memory(path)
    environment = {**os.environ, "PYTHONPATH": str(TOP)}
    import time

    at = str(time.time() + 1.5)
    programs = [
        subprocess.Popen([sys.executable, "-c", OPEN, str(path), at], env=environment, stderr=subprocess.PIPE)
        for _ in range(3)
    ]
    said = [program.communicate(timeout=60)[1].decode() for program in programs]
    assert said == ["", "", ""]
    assert integrity(path) == "ok"
    copies = [entry.name for entry in tmp_path.iterdir() if "before" in entry.name]
    assert copies == (["memory-v1-before-v2.sqlite"] if old else [])


def refusal(path: Path) -> str:
    """The one line, the same for a drive and for a look."""
    with pytest.raises(CornerwordError) as refused:
        open_to_keep(path)
    with pytest.raises(CornerwordError) as unread:
        Memory(path)
    assert str(refused.value) == str(unread.value)
    assert "\n" not in str(refused.value)
    return str(refused.value)


def test_a_later_version_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    open_to_keep(path).memory.close()
    with closing(sqlite3.connect(path)) as plain:
        plain.execute("PRAGMA user_version=9")
    said = refusal(path)
    assert said == f"the memory {path} is of version 9, and this program knows up to 2: update it"


def test_what_is_no_memory_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "a.txt"
    text.write_text("no database at all, but long enough to be one")
    assert refusal(text) == f"{text} is no memory: name another file, or move it away"
    other = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(other)) as plain:
        plain.execute("CREATE TABLE mine (a)")
    before = other.read_bytes()
    assert refusal(other) == f"{other} is a database, and no memory: name another file"
    assert other.read_bytes() == before
    assert refusal(tmp_path) == f"{tmp_path} is no file: name the memory's file"
    assert text.read_text().startswith("no database")


def test_a_damaged_one_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    open_to_keep(path).memory.close()
    data = bytearray(path.read_bytes())
    data[100:8000] = os.urandom(7900)
    path.write_bytes(data)
    assert "is damaged or no memory" in refusal(path)
    path.write_bytes(data[:3000])
    assert "is damaged or no memory" in refusal(path)


def test_looking_makes_no_file(tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    with pytest.raises(InputError, match="there is no memory"):
        Memory(path)
    path.touch()
    with pytest.raises(FormatError, match="is empty"):
        Memory(path)
    assert path.stat().st_size == 0


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for inside in ("memory.sqlite", "deep/memory.sqlite"):
        with pytest.raises(FormatError, match=r"/file(/deep)? is no folder: name another file with --memory$"):
            open_to_keep(tmp_path / "file" / inside)


def test_where_programs_share_no_memory_another_journal_is_used(tmp_path: Path) -> None:
    """`unix-dotfile` has no shared memory, as a network folder has none (https://www.sqlite.org/vfs.html)."""
    opened = open_to_keep(tmp_path / "memory.sqlite", vfs="unix-dotfile")
    with closing(opened.memory) as memory:
        assert "network folder" in opened.notices[0]
        assert memory.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert memory.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
        with transaction(memory):
            memory.execute("INSERT INTO chosen SELECT 'a', 'b', 1 WHERE 0")
    assert integrity(tmp_path / "memory.sqlite") == "ok"


READ = """
import os, sys
from pathlib import Path
from coach.store.memory import Memory
from coach.store.opening import open_to_keep
from coach.vocabulary.errors import WorkError
path = Path(sys.argv[1])
os.setgroups([]), os.setgid(65534), os.setuid(65534)  # nobody, once all is imported
with Memory(path) as memory:
    print(len(memory.sessions()))
    try:
        memory.note(1, "x")
    except WorkError as error:
        print(error)
try:
    open_to_keep(path)
except WorkError as error:
    print(error)
"""


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can run as somebody who may not write")
@pytest.mark.parametrize("journal", ["WAL", "DELETE"])
def test_one_that_may_not_be_written_is_read(journal: str) -> None:
    import shutil
    import tempfile

    folder = Path(tempfile.mkdtemp())  # where others may look in
    try:
        path = folder / "memory.sqlite"
        Memory(old_memory(path)).close()
        with closing(sqlite3.connect(path)) as plain:
            plain.execute(f"PRAGMA journal_mode={journal}")
        folder.chmod(0o755)
        path.chmod(0o644)
        done = subprocess.run(
            [sys.executable, "-B", "-c", READ, str(path)],
            env={**os.environ, "PYTHONPATH": str(TOP)},
            capture_output=True,
            text=True,
            timeout=60,
        )
        sessions, *lines = done.stdout.splitlines()
        assert (sessions, len(lines), done.stderr) == ("2", 2, "")
        assert all("readonly" in line and "--memory" in line for line in lines), lines
    finally:
        shutil.rmtree(folder)


FULL = """
import resource, sys
from pathlib import Path
from coach.store.opening import open_to_keep, told, transaction
from coach.vocabulary.errors import WorkError
path = Path(sys.argv[1])
memory = open_to_keep(path).memory
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))
try:
    with told(path):
        for n in range(1000):
            with transaction(memory):
                memory.execute("INSERT INTO circuit VALUES (?, 'm', ?, 0)", (str(n), "x" * 4000))
except WorkError as error:
    print(n, error)
"""


def test_a_full_disk_is_one_line_and_loses_nothing_before(tmp_path: Path) -> None:
    """A file that may not grow stands for a disk that is full (setrlimit(2))."""
    path = tmp_path / "memory.sqlite"
    done = subprocess.run(
        [sys.executable, "-c", FULL, str(path)],
        env={**os.environ, "PYTHONPATH": str(TOP)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.stderr == ""
    count, line = done.stdout.rstrip("\n").split(" ", 1)
    assert line.startswith(f"the memory {path} ") and "\n" not in line
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("SELECT count(*) FROM circuit").fetchone() == (int(count),)
    assert int(count) > 10
    assert integrity(path) == "ok"
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY


def test_the_tables_are_told_of() -> None:
    """Every table and column has its place in the words above them."""
    from coach.store import schema

    for line in SCHEMA.splitlines():
        word = line.strip().split(" ")[0]
        if line.startswith("CREATE TABLE"):
            word = line.split()[2]
        elif not word.islower() or word in ("id", "session", "lap"):
            continue
        assert f"`{word}`" in str(schema.__doc__), word
