"""What a session was held against is kept with it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from store.keptdrive import BEGAN, DAY, keep, same_lap

from coach.app.source import Source
from coach.app.start import fresh
from coach.review.model import KeptSession
from coach.store.memory import Memory
from coach.vocabulary.sample import Sample

LARGEST = 100_000
"""bytes that a reference may add to a session (the brief's bar)."""


def rows(path: Path) -> list[tuple[int, int, int | None, int | None]]:
    with closing(sqlite3.connect(path)) as plain:
        return plain.execute("SELECT session, n, lap, length(grid) FROM reference ORDER BY session, n").fetchall()


@pytest.fixture(scope="module")
def against_a_file(
    driven: tuple[Path, list[KeptSession]],
    two_laps: list[Sample],
    practice_file: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Path, KeptSession]:
    """A second session in the memory, held against a file. Only to read."""
    path = tmp_path_factory.mktemp("memory") / "memory.sqlite"
    shutil.copy(driven[0], path)
    (seen,) = keep(path, two_laps, BEGAN + DAY, reference=practice_file)
    return path, seen


@pytest.fixture
def copied(against_a_file: tuple[Path, KeptSession], tmp_path: Path) -> Iterator[tuple[Path, KeptSession]]:
    path, seen = against_a_file
    yield Path(shutil.copy(path, tmp_path / "memory.sqlite")), seen


def test_a_lap_of_the_session_is_not_kept_twice(driven: tuple[Path, list[KeptSession]]) -> None:
    path, (seen,) = driven
    best = min((lap for lap in seen.laps if lap.clean and lap.time is not None), key=lambda lap: lap.time or 0.0)
    found = rows(path)
    assert found and all(grid is None for _, _, _, grid in found)
    with Memory(path) as memory:
        assert memory.session(1).reference is None  # only with channels
        kept = memory.session(1, grids=True)
    assert kept.reference is kept.laps[best.index].grid is not None
    assert found[-1][2] == kept.laps[best.index].id


def test_a_files_lap_is_kept_as_it_is(against_a_file: tuple[Path, KeptSession], practice_file: Path) -> None:
    path, seen = against_a_file
    ((_, n, lap, size),) = [row for row in rows(path) if row[0] == 2]
    assert lap is None and size is not None and size < LARGEST
    with Memory(path) as memory:
        kept = memory.session(2, grids=True)
    given = fresh(Source(), str(practice_file), ()).engine.reference
    assert kept.reference is not None and given is not None and same_lap(kept.reference, given)
    assert kept.reference.total == pytest.approx(kept.reference_time, abs=1e-4)
    assert kept.reference_origin == seen.reference_origin is not None
    with closing(sqlite3.connect(path)) as plain:
        (kind,) = plain.execute(
            "SELECT json_extract(body, '$.type') FROM event WHERE session = 2 AND n = ?", (n,)
        ).fetchone()
    assert kind == "reference"


@pytest.mark.parametrize("made", ["grip", "patchwork"])
def test_a_lap_that_is_made_is_kept(samples: list[Sample], tmp_path: Path, made: str) -> None:
    path = tmp_path / "memory.sqlite"
    until = next(i for i, sample in enumerate(samples) if sample.lap == 4) + 50
    (seen,) = keep(path, samples[:until], reference=made)
    with Memory(path) as memory:
        kept = memory.session(1, grids=True)
    assert kept.reference is not None and kept.reference_origin == f"{made} lap"
    assert kept.reference.total == pytest.approx(seen.reference_time, abs=1e-6)


@pytest.mark.parametrize("damage", [b"", b"CW\x01 no channels", 5, None, "text"])
def test_a_damaged_one_is_left_out(copied: tuple[Path, KeptSession], damage: object) -> None:
    path, _ = copied
    with closing(sqlite3.connect(path)) as plain, plain:
        plain.execute("UPDATE reference SET grid = ? WHERE session = 2", (damage,))
    with Memory(path) as memory:
        kept = memory.session(2, grids=True)
    assert kept.reference is None
    assert [lap.grid is not None for lap in kept.laps] == [True, True]


def test_an_earlier_one_never_stands_for_the_last(driven: tuple[Path, list[KeptSession]], tmp_path: Path) -> None:
    """A kill between the event and the channels leaves the event alone."""
    path = Path(shutil.copy(driven[0], tmp_path / "memory.sqlite"))
    found = rows(path)
    assert len(found) > 1
    with closing(sqlite3.connect(path)) as plain, plain:
        plain.execute("DELETE FROM reference WHERE n = ?", (found[-1][1],))
    with Memory(path) as memory:
        assert memory.session(1, grids=True).reference is None


def test_what_is_forgotten_is_gone(copied: tuple[Path, KeptSession]) -> None:
    path, _ = copied
    with Memory(path) as memory:
        lap = memory.session(1, grids=True).reference
        assert lap is not None
        memory.forget_lap(next(row.id for row in memory.laps(1) if row.number == lap.number))
        assert memory.session(1, grids=True).reference is None
        memory.forget_session(2)
    assert {session for session, *_ in rows(path)} == {1}


def test_a_copy_has_it(copied: tuple[Path, KeptSession], tmp_path: Path) -> None:
    path, _ = copied
    to = tmp_path / "copy.sqlite"
    with Memory(path) as memory:
        memory.copy(to)
        mine = memory.session(2, grids=True).reference
    with Memory(to) as copy:
        theirs = copy.session(2, grids=True).reference
    assert mine is not None and theirs is not None and same_lap(mine, theirs)
