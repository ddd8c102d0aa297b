"""What is recalled where several could be meant, where something is damaged, and where an old drive comes late."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import orjson
import pytest
from store.keptdrive import BEGAN, DAY, DRIVER, keep

from coach.engine.known import Known
from coach.review.model import KeptSession
from coach.store.memory import Memory
from coach.store.merging import merged
from coach.store.packing import pack_grid
from coach.store.recalling import origin_of
from coach.vocabulary.sample import Sample


@pytest.fixture
def path(driven: tuple[Path, list[KeptSession]], tmp_path: Path) -> Path:
    return Path(shutil.copy(driven[0], tmp_path / "memory.sqlite"))


@pytest.fixture
def plain(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, isolation_level=None)) as opened:
        yield opened


def known_of(path: Path, driver: str | None = DRIVER) -> Known:
    with Memory(path) as memory:
        row = memory.sessions()[-1]
        known = memory.recall(driver, row.car, row.track).known
    assert known is not None
    return known


@pytest.mark.parametrize("damage", ["no json", "[1, 2]", '{"version": 999}', "3", '[["a", "b", "c"]]', "null", "[[]]"])
def test_what_is_damaged_is_left_out_and_the_rest_is_recalled(
    path: Path, plain: sqlite3.Connection, damage: str
) -> None:
    before = known_of(path)
    plain.execute("UPDATE known SET planner = ?, scatter = ?, usual = ?", (damage, damage, damage))
    with Memory(path) as memory:
        row = memory.sessions()[0]
        recalled = memory.recall(DRIVER, row.car, row.track)
    assert recalled.planner is None and recalled.known is not None
    assert recalled.known.scatter.to_json() == [] and recalled.known.usual == {}
    assert before.reference is not None and recalled.known.reference is not None
    assert recalled.known.reference.total == before.reference.total
    plain.execute("UPDATE circuit SET body = ?", (damage,))
    assert known_of(path).circuit is None


def test_a_damaged_lap_leaves_the_next_best(path: Path, plain: sqlite3.Connection) -> None:
    best = known_of(path).reference
    assert best is not None
    plain.execute("UPDATE channels SET grid = x'00' WHERE lap = (SELECT id FROM lap WHERE number = ?)", (best.number,))
    following = known_of(path).reference
    assert following is not None and following.total > best.total


def test_a_lap_of_another_layout_of_that_name_is_not_recalled(
    path: Path, plain: sqlite3.Connection, driven: tuple[Path, list[KeptSession]]
) -> None:
    grid = next(lap.grid for lap in driven[1][0].laps if lap.clean and lap.grid is not None)
    short = replace(grid, length=0.5 * grid.length, time=0.5 * grid.time)
    plain.execute("INSERT INTO lap (session, place, number, time, clean) VALUES (1, 99, 99, ?, 1)", (short.total,))
    plain.execute("INSERT INTO channels SELECT max(id), ? FROM lap", (pack_grid(short),))
    reference = known_of(path).reference
    assert reference is not None and reference.length == grid.length
    body = {"name": "mshort", "length": short.length, "marks": []}
    plain.execute("INSERT INTO circuit VALUES (?, 'mshort', ?, 9e9)", (grid.track, orjson.dumps(body).decode()))
    known = known_of(path)  # driven on last
    assert known.circuit is not None and known.circuit.name == "mshort"
    assert known.reference is not None and known.reference.length == short.length


def test_an_old_drive_that_is_taken_in_later_changes_nothing_that_is_known(path: Path, two_laps: list[Sample]) -> None:
    with closing(sqlite3.connect(path)) as plain:
        before = plain.execute("SELECT * FROM known").fetchall(), plain.execute("SELECT * FROM circuit").fetchall()
    keep(path, two_laps, BEGAN - DAY)
    with closing(sqlite3.connect(path)) as plain:
        assert (
            plain.execute("SELECT * FROM known").fetchall(),
            plain.execute("SELECT * FROM circuit").fetchall(),
        ) == before
        assert plain.execute("SELECT count(*) FROM session").fetchone() == (2,)


def test_what_a_wrong_clock_has_dated_beyond_tomorrow_is_replaced(path: Path, two_laps: list[Sample]) -> None:
    with closing(sqlite3.connect(path)) as plain:
        plain.execute("UPDATE known SET changed = 9e9, stage = 'clean'")
        plain.execute("UPDATE circuit SET changed = 9e9")
        plain.commit()
    keep(path, two_laps, BEGAN + DAY)
    with closing(sqlite3.connect(path)) as plain:
        ended = BEGAN + DAY + two_laps[-1].t
        assert plain.execute("SELECT changed, stage FROM known").fetchall() == [(pytest.approx(ended), "pace")]
        ((changed,),) = plain.execute("SELECT changed FROM circuit").fetchall()
        assert BEGAN + DAY < changed <= ended


def test_what_a_drive_without_a_memory_of_the_day_before_has_not_shown_stays_known(
    path: Path, two_laps: list[Sample]
) -> None:
    """This line recalls nothing, so that its own scatter begins at nothing."""
    before = {(corner, feature): values for corner, feature, values in known_of(path).scatter.to_json()}
    keep(path, two_laps, BEGAN + DAY)
    after = {(corner, feature): values for corner, feature, values in known_of(path).scatter.to_json()}
    assert set(after) >= set(before)
    assert all(len(after[key]) >= min(3, len(values)) for key, values in before.items())


def test_the_passes_of_today_count_once_there_are_enough() -> None:
    kept = '[[1, "a", [1.0, 2.0, 3.0]], [1, "b", [1.0, 2.0, 3.0]], [2, "c", 0.5], [3, "d", 1.5]]'
    today = [[1, "a", [7.0]], [1, "b", [7.0, 8.0, 9.0]], [2, "c", 0.75]]
    assert orjson.loads(merged(kept, today)) == [
        [1, "a", [1.0, 2.0, 3.0]],
        [1, "b", [7.0, 8.0, 9.0]],
        [2, "c", 0.75],
        [3, "d", 1.5],
    ]
    assert orjson.loads(merged(None, today)) == orjson.loads(merged("damaged", today)) == today


@pytest.mark.parametrize(
    ("name", "driver", "begun", "words"),
    [
        ("show", "a", 1_790_000_000.0, "show"),
        (None, "a", 1_790_000_000.0, "lap 5 of 2026-09-21"),  # `date -u -d @1790000000` says so
        (None, "a", None, "lap 5 of a"),
        (None, None, 12.0, "lap 5 of an earlier day"),
        (None, None, 1e18, "lap 5 of a day beyond the calendar"),
    ],
)
def test_the_origin_in_words(name: str | None, driver: str | None, begun: float | None, words: str) -> None:
    assert origin_of(5, name, driver, begun) == words
