"""What a person does with the memory: looks, names, notes, chooses, forgets, hands on."""

from __future__ import annotations

import random
import resource
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from store.keptdrive import BEGAN, DAY, DRIVER, keep, same_lap

from coach.review.model import KeptSession
from coach.store.memory import Memory
from coach.vocabulary.errors import CornerwordError, InputError, WorkError
from coach.vocabulary.sample import Sample


@pytest.fixture(scope="module")
def two_days(
    driven: tuple[Path, list[KeptSession]], two_laps: list[Sample], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """A drive, one of two laps the day after, and a short one by another driver. Only to read."""
    path = tmp_path_factory.mktemp("memory") / "memory.sqlite"
    shutil.copy(driven[0], path)
    keep(path, two_laps, BEGAN + DAY)
    keep(path, [replace(sample, driver="driver-b") for sample in two_laps[:50]], BEGAN + 2 * DAY)
    return path


@pytest.fixture
def memory(two_days: Path, tmp_path: Path) -> Iterator[Memory]:
    path = tmp_path / "memory.sqlite"
    shutil.copy(two_days, path)
    with Memory(path) as opened:
        yield opened


def test_sessions_are_listed_newest_first(memory: Memory) -> None:
    assert [row.id for row in memory.sessions()] == [3, 2, 1]
    assert [row.id for row in memory.sessions(driver="driver-a")] == [2, 1]
    track = memory.sessions()[0].track
    assert [row.id for row in memory.sessions("driver-b", track=track)] == [3]
    assert memory.sessions(car="none such") == []
    assert [memory.before(n) for n in (1, 2, 3)] == [None, 1, None]


def test_the_latest_is_the_one_kept_last_that_has_a_lap(memory: Memory, two_laps: list[Sample], tmp_path: Path) -> None:
    """Whatever the clock said: the third has no lap, and the fourth is of a computer that did not know the day."""
    assert memory.latest() == memory.sessions()[1]
    keep(tmp_path / "memory.sqlite", two_laps, BEGAN - 1000 * DAY)
    last = memory.latest()
    assert last is not None and last.id == 4 and memory.sessions()[-1] == last
    for number in (1, 2, 4):
        memory.forget_session(number)
    last = memory.latest()
    assert last is not None and last.id == 3
    memory.forget_session(3)
    assert memory.latest() is None


def test_notes_and_setups(memory: Memory) -> None:
    memory.note(1, "rear steps out in 4 ü\n")
    memory.set_up(1, "soft")
    row = memory.sessions()[-1]
    assert (row.note, row.setup) == ("rear steps out in 4 ü\n", "soft")
    assert (memory.session(1).note, memory.session(1).setup) == (row.note, row.setup)
    memory.note(1, "")
    memory.set_up(1, "")
    row = memory.sessions()[-1]
    assert (row.note, row.setup) == ("", None)
    for change in (memory.note, memory.set_up):
        with pytest.raises(InputError, match="there is no session 9 in the memory"):
            change(9, "x")


def test_a_lap_has_one_name_and_a_name_one_lap(memory: Memory) -> None:
    first, second, *_ = memory.laps(1)
    memory.name(first.id, "qualifying")
    assert memory.lap("qualifying").id == first.id
    assert memory.lap(str(first.id)).name == "qualifying"
    assert [lap.id for lap in memory.laps()] == [first.id]
    memory.name(first.id, "qualifying")  # its own again
    with pytest.raises(InputError, match=f"lap {first.id} has that name already"):
        memory.name(second.id, "qualifying")
    memory.name(first.id, None)
    assert memory.laps() == []
    for which in ("qualifying", "999", "", "9" * 40, "²"):
        with pytest.raises(InputError, match="there is no lap"):
            memory.lap(which)
    with pytest.raises(InputError, match="there is no lap"):
        memory.name(999, "x")


def test_a_chosen_lap_is_the_reference_until_the_best_is_chosen(memory: Memory) -> None:
    whose = memory.sessions()[-1]
    best = memory.recall("driver-a", whose.car, whose.track).known
    assert best is not None and best.reference is not None
    slower = next(lap for lap in memory.laps(1) if lap.time != best.reference.total)
    memory.choose(slower.id)
    assert memory.lap(str(slower.id)).chosen
    for driver in ("driver-a", "driver-b", None):
        known = memory.recall(driver, whose.car, whose.track).known
        assert known is not None and known.reference is not None
        assert same_lap(known.reference, memory.grid(slower.id))
        assert known.driver == "driver-a"
    memory.choose_best(None, whose.car, whose.track)
    known = memory.recall("driver-a", whose.car, whose.track).known
    assert known is not None and known.reference is not None and same_lap(known.reference, best.reference)
    assert not memory.lap(str(slower.id)).chosen


def test_a_forgotten_lap_has_no_channels_and_its_session_stays(memory: Memory) -> None:
    whose = memory.sessions()[-1]
    lap = memory.laps(1)[2]
    memory.name(lap.id, "mine")
    memory.choose(lap.id)
    memory.forget_lap(lap.id)
    found = memory.lap(str(lap.id))
    assert (found.whole, found.name, found.chosen) == (False, None, False)
    with pytest.raises(InputError, match="has no channels"):
        memory.grid(lap.id)
    with pytest.raises(InputError, match="cannot be the reference"):
        memory.choose(lap.id)
    assert memory.session(1, grids=True).laps[2].grid is None
    assert len(memory.laps(1)) == whose.laps == 5


def test_a_forgotten_session_goes_with_all_that_is_its(memory: Memory, tmp_path: Path) -> None:
    memory.choose(memory.laps(1)[2].id)
    memory.forget_session(1)
    assert [row.id for row in memory.sessions()] == [3, 2]
    for ask in (memory.session, memory.laps, memory.forget_session):
        with pytest.raises(InputError, match="there is no session 1 in the memory"):
            ask(1)
    with closing(sqlite3.connect(tmp_path / "memory.sqlite")) as plain:
        for table in ("event", "piece", "thing", "lap", "reference"):
            assert plain.execute(f"SELECT count(*) FROM {table} WHERE session = 1").fetchone() == (0,), table
        assert plain.execute("SELECT count(*) FROM channels").fetchone() == (2,)
        assert plain.execute("SELECT count(*) FROM chosen").fetchone() == (0,)
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_lap_that_was_handed_on(memory: Memory) -> None:
    grid = memory.grid(memory.laps(1)[2].id)
    number = memory.add_lap(grid, "the instructor", "show", True)
    row = memory.lap("show")
    assert (row.id, row.session, row.driver, row.time, row.clean, row.whole) == (
        *(number, None, "the instructor"),
        *(grid.total, True, True),
    )
    assert (row.track, row.car) == (grid.track, grid.car)
    assert same_lap(memory.grid(number), grid)
    assert [lap.id for lap in memory.laps()] == [number]
    best = memory.recall(None, grid.car, grid.track).known
    assert best is not None and best.driver == "driver-a"  # what was handed on is used where it is chosen
    memory.choose(number)
    known = memory.recall("driver-a", grid.car, grid.track).known
    assert known is not None
    assert (known.origin, known.driver, known.usual, known.warm) == ("show", "the instructor", {}, None)
    with pytest.raises(InputError, match="has that name already"):
        memory.add_lap(grid, None, "show", True)
    memory.forget_lap(number)
    with pytest.raises(InputError):
        memory.lap("show")
    known = memory.recall("driver-a", grid.car, grid.track).known
    assert known is not None and known.driver == "driver-a"


def test_a_copy_is_one_whole_file(memory: Memory, tmp_path: Path) -> None:
    to = tmp_path / "for my instructor.sqlite"
    memory.copy(to)
    with pytest.raises(InputError, match="exists already"):
        memory.copy(to)
    with Memory(to) as copy:
        assert copy.sessions() == memory.sessions()
        assert copy.session(1) == memory.session(1)
    with pytest.raises(WorkError, match="cannot write"):
        memory.copy(tmp_path / "no folder" / "a.sqlite")
    assert {entry.name for entry in tmp_path.iterdir()} >= {to.name}
    assert not list(tmp_path.glob("*.part")) and not list(tmp_path.glob(f"{to.name}-*"))


def test_a_copy_needs_no_links_and_touches_no_other_file(
    memory: Memory, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """FAT and exFAT, on most USB sticks, have no hard links: link(2) fails with EPERM there."""

    def refused(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", refused)
    beside, to = tmp_path / "copy.sqlite.part", tmp_path / "copy.sqlite"
    beside.write_text("mine")
    memory.copy(to)
    assert beside.read_text() == "mine"
    with Memory(to) as copy:
        assert copy.sessions() == memory.sessions()
    away = tmp_path / "away.sqlite"
    away.symlink_to(tmp_path / "nowhere")
    with pytest.raises(InputError, match="exists already"):
        memory.copy(away)


def test_a_copy_that_fails_leaves_nothing(memory: Memory, tmp_path: Path) -> None:
    """A file that may not grow stands for a stick that is full (setrlimit(2))."""
    to = tmp_path / "copy.sqlite"
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, before[1]))
    try:
        with pytest.raises(WorkError, match=r"^cannot write .*copy.sqlite \(.*\): make room, or name another place$"):
            memory.copy(to)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert not list(tmp_path.glob("copy.sqlite*"))
    memory.copy(to)


@settings(max_examples=25, deadline=None)
@given(st.randoms(use_true_random=False))
def test_whatever_is_damaged_is_one_line_or_not_seen(damaged: Path, chance: random.Random) -> None:
    """Bytes are changed anywhere, or the end is missing: every look and change gives something, or says one line."""
    path, whole = damaged.with_name("memory.sqlite"), damaged.read_bytes()
    for left in damaged.parent.glob("memory.sqlite*"):
        left.unlink()
    data = bytearray(whole)
    for _ in range(chance.choice((1, 10, 100))):
        data[chance.randrange(chance.choice((40_000, len(data))))] = chance.randrange(256)
    path.write_bytes(data[: chance.choice((len(data), chance.randrange(len(data))))])
    try:
        memory = Memory(path)
    except CornerwordError as error:
        assert "\n" not in str(error)
        return
    looks: list[Callable[[], object]] = [
        *(memory.sessions, lambda: memory.session(1, grids=True), lambda: memory.laps(1), memory.laps),
        *(lambda: memory.grid(2), lambda: memory.things(1), lambda: memory.before(1)),
        lambda: memory.recall(DRIVER, "car-a", "loop-a"),
        *(lambda: memory.note(1, "x"), lambda: memory.name(1, "x"), lambda: memory.choose(2)),
        *(lambda: memory.forget_lap(1), lambda: memory.copy(path.with_name("memory.sqlite-copy"))),
        lambda: memory.forget_session(1),
    ]
    with memory:
        for look in looks:
            try:
                look()
            except CornerwordError as error:
                assert "\n" not in str(error)


@pytest.fixture(scope="module")
def damaged(driven: tuple[Path, list[KeptSession]], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A whole one, in a folder where damaged ones are made of it."""
    return Path(shutil.copy(driven[0], tmp_path_factory.mktemp("damaged") / "whole.sqlite"))
