"""From one version of the memory's tables to the next, one function each. They run inside a transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable


def _to_2(memory: sqlite3.Connection) -> None:
    """Two layouts of one name have a map each, a session says which lock its writer holds, what its laps were held
    against is kept, so is what came with a lap that was handed on, and the best lap of some hundred sessions is found
    in a moment."""
    memory.execute("ALTER TABLE session ADD COLUMN slot INTEGER")
    memory.execute("ALTER TABLE lap ADD COLUMN came TEXT")
    memory.execute("ALTER TABLE circuit RENAME TO circuit_1")
    memory.execute(
        "CREATE TABLE circuit (track TEXT NOT NULL, map TEXT NOT NULL, body TEXT NOT NULL, changed REAL NOT NULL, "
        "PRIMARY KEY (track, map)) WITHOUT ROWID"
    )
    memory.execute(
        "INSERT INTO circuit SELECT track, coalesce(json_extract(body, '$.name'), ''), body, changed FROM circuit_1"
    )
    memory.execute("DROP TABLE circuit_1")
    memory.execute(
        "CREATE TABLE reference (session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE, n INTEGER NOT NULL, "
        "lap INTEGER REFERENCES lap ON DELETE CASCADE, grid BLOB, PRIMARY KEY (session, n))"
    )
    memory.execute("CREATE INDEX reference_lap ON reference (lap) WHERE lap IS NOT NULL")
    memory.execute("CREATE INDEX quick_lap ON lap (time) WHERE clean AND time IS NOT NULL AND session IS NOT NULL")


MIGRATIONS: dict[int, Callable[[sqlite3.Connection], None]] = {1: _to_2}
"""By the version that it starts from."""
