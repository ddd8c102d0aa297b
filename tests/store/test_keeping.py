"""A drive is kept as it happens, whatever becomes of the program, the disk and the file."""

from __future__ import annotations

import io
import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from time import monotonic

import numpy as np
import pytest
from make_stream import Drive
from store.keptdrive import BEGAN, DAY, DRIVER, keep, kept_line, same_lap, samples_of

from coach.app.console import Console
from coach.app.keeping import Keeping, keeping, own_file
from coach.review.model import KeptSession
from coach.store import ending, opening, writing
from coach.store import writer as writing_thread
from coach.store.memory import Memory
from coach.store.packing import unpack
from coach.store.reading import kept_session
from coach.store.slots import hold
from coach.vocabulary.events import Run
from coach.vocabulary.sample import Sample

TOP = Path(__file__).parents[2]


def integrity(path: Path) -> str:
    with closing(sqlite3.connect(path)) as plain:
        return str(plain.execute("PRAGMA integrity_check").fetchone()[0])


def test_what_is_read_is_what_the_drive_saw(driven: tuple[Path, list[KeptSession]], samples: list[Sample]) -> None:
    path, (seen,) = driven
    with Memory(path) as memory:
        kept, bare = memory.session(1, grids=True), memory.session(1)
        (row,) = memory.sessions()
        rows = memory.laps(1)
    assert (seen.id, kept.id) == (1, 1)
    assert (kept.begun, kept.ended) == (BEGAN + samples[0].t, BEGAN + samples[-1].t) == (seen.begun, seen.ended)
    for name in (
        "track",
        "car",
        "driver",
        "setup",
        "kind",
        "source",
        "version",
        "stage",
        "topic",
        "map",
        "reference_origin",
    ):
        assert getattr(kept, name) == getattr(seen, name), name
    assert bare.length == pytest.approx(seen.length) and bare.laps[0].grid is None  # of the map, without any channels
    assert (kept.driver, kept.setup) == (DRIVER, "soft")
    assert kept.conditions == seen.conditions
    assert kept.stream == seen.stream and kept.off == seen.off
    assert [mark.corner for mark in kept.corners] == [mark.corner for mark in seen.corners] != []
    assert len(kept.laps) == len(seen.laps) == len(rows) == row.laps == 5
    for mine, theirs, lap in zip(kept.laps, seen.laps, rows, strict=True):
        assert (mine.number, mine.clean, mine.why_not, mine.stage) == (
            *(theirs.number, theirs.clean, theirs.why_not, theirs.stage),
        )
        assert mine.time is not None and theirs.time is not None
        assert lap.time == theirs.time == pytest.approx(mine.time, abs=1e-4)  # the log's digits
        assert [(f.fault, f.corner) for f in mine.faults] == [(f.fault, f.corner) for f in theirs.faults]
        assert [(c.text, c.spoken) for c in mine.cues] == [(c.text, c.spoken) for c in theirs.cues]
        assert [(p.corner, p.judged, len(p.marks)) for p in mine.passes] == [
            (p.corner, p.judged, len(p.marks)) for p in theirs.passes
        ]
        assert mine.grid is not None and theirs.grid is not None and same_lap(mine.grid, theirs.grid)
        assert (lap.id, lap.driver, lap.whole) == (mine.id, DRIVER, True)
    assert {f.fault for lap in kept.laps for f in lap.faults} >= {"late_throttle"}  # the mistake that was put in
    assert row.whole and row.clean == sum(lap.clean for lap in kept.laps)
    best = min(lap.time for lap in kept.laps if lap.clean and lap.time is not None)
    assert row.best == pytest.approx(best, abs=1e-4)


def test_a_person_can_read_it_with_plain_sql(driven: tuple[Path, list[KeptSession]]) -> None:
    path, (seen,) = driven
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as plain:
        faults = plain.execute(
            "SELECT json_extract(body, '$.fault') FROM event WHERE json_extract(body, '$.type') = 'fault' ORDER BY n"
        ).fetchall()
        types = {row[0] for row in plain.execute("SELECT DISTINCT json_extract(body, '$.type') FROM event")}
        assert plain.execute("SELECT count(*) FROM piece WHERE place IS NOT NULL").fetchone() == (0,)  # all were whole
    found = [fault.fault for lap in seen.laps for fault in lap.faults] + [fault.fault for fault in seen.loose_faults]
    assert sorted(row[0] for row in faults) == sorted(found) != []
    assert {"run", "lap", "loss", "corners", "reference", "passed"} <= types
    assert not {"delta", "moment", "learned", "practised", "topic", "answer"} & types


def test_the_recalled_lap_is_the_lap_itself(driven: tuple[Path, list[KeptSession]]) -> None:
    path, (seen,) = driven
    best = min((lap for lap in seen.laps if lap.clean and lap.time is not None), key=lambda lap: lap.time or 0.0)
    assert best.grid is not None
    with Memory(path) as memory:
        recalled = memory.recall(DRIVER, seen.car, seen.track)
        assert memory.recall(None, seen.car, seen.track).known is not None
        assert memory.recall("somebody", seen.car, seen.track).known is not None  # the map, whoever drove
        nobody = memory.recall("somebody", seen.car, seen.track)
        assert nobody.known is not None and nobody.known.reference is None and nobody.planner is None
        elsewhere = memory.recall(DRIVER, seen.car, "another circuit")
        assert elsewhere.is_empty
        assert memory.recall(DRIVER, seen.car, None).known is None
    known = recalled.known
    assert known is not None and known.reference is not None and known.circuit is not None
    assert same_lap(known.reference, best.grid)
    assert known.origin == f"lap {best.number} of 2023-11-14"
    assert known.driver == DRIVER
    assert known.circuit.name == seen.map
    assert len(known.circuit.marks) == len(seen.corners)
    assert known.usual and known.scatter.to_json()
    assert recalled.planner is not None


def test_a_drive_recalls_the_day_before(
    driven: tuple[Path, list[KeptSession]], samples: list[Sample], tmp_path: Path
) -> None:
    path = tmp_path / "memory.sqlite"
    shutil.copy(driven[0], path)
    with kept_line(path) as (kept, push):
        for sample in samples[:200]:
            push(sample, BEGAN + DAY + sample.t)
        recalled = kept.recall(DRIVER, samples[0].car, samples[0].track)
        assert recalled is not None and recalled.known is not None and recalled.known.reference is not None
        assert kept.recall("somebody", "some car", "somewhere") is None
    (today,) = kept.sessions()
    assert today.id == 2
    with Memory(path) as memory:
        assert memory.before(2) == 1 and memory.before(1) is None
        assert kept.told_before(today) == memory.things(1)
        assert [row.id for row in memory.sessions()] == [2, 1]
        known = memory.recall(DRIVER, samples[0].car, samples[0].track)
        assert known.planner is not None  # a drive of a few seconds takes nothing away
        assert known.known is not None and known.known.reference is not None


def test_labels_that_come_late_are_the_sessions(samples: list[Sample], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    late = [replace(s, driver=None, setup=None) if i < 100 else s for i, s in enumerate(samples[:400])]
    keep(path, late)
    with Memory(path) as memory:
        (row,) = memory.sessions()
        assert (row.driver, row.setup, row.whole) == (DRIVER, "soft", True)


def test_another_driver_is_another_session(samples: list[Sample], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    both = [replace(s, driver="driver-b", setup="hard") if i >= 300 else s for i, s in enumerate(samples[:600])]
    seen = keep(path, both)
    assert [session.id for session in seen] == [1, 2]
    with Memory(path) as memory:
        second, first = memory.sessions()
        assert (first.driver, first.setup, first.whole) == (DRIVER, "soft", True)
        assert (second.driver, second.setup, second.whole) == ("driver-b", "hard", True)
        assert first.begun == BEGAN + both[0].t and second.begun == BEGAN + both[300].t
        assert [memory.session(n).driver for n in (1, 2)] == [DRIVER, "driver-b"]


def test_hostile_labels_are_kept(samples: list[Sample], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    label = "a'; DROP TABLE session; --\x00\n\x1b[2J\ud800" + "x" * 5000
    keep(path, [replace(s, driver=label, track=label) for s in samples[:100]])
    with Memory(path) as memory:
        (row,) = memory.sessions()
        assert row.driver is not None and row.driver.startswith("a'; DROP TABLE session; --\x00\n\x1b[2J?x")
        assert memory.session(row.id).track == row.track
        assert [found.id for found in memory.sessions(driver=label)] == [row.id]


KILLED = """
import os, signal, sys
from pathlib import Path
from coach.app.console import Console
from coach.app.keeping import keeping
from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from feeds import registry
path, file, most = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
feed = registry.create("generic", None)
with keeping(path, True, Console()) as kept:
    start = fresh(Source(), None, ())
    line = Line(start.engine, start.planner, [], [kept])
    for number, data in enumerate(file.read_bytes().splitlines()[:most]):
        sample = feed.decode(data)
        kept.sample(sample, 1.7e9 + sample.t)
        line.push(sample, 1.7e9 + sample.t)
    while kept._writer._waiting:
        pass
    import time
    time.sleep(0.6)
    os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_killed_drive_is_closed_at_the_next_start(practice_file: Path, practice: Drive, tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    cut = next(i for i, row in enumerate(practice.rows) if row["lap"] == 4) + 400
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(path), str(practice_file), str(cut)],
        env={**os.environ, "PYTHONPATH": str(TOP)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == -signal.SIGKILL, done.stderr
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as plain:
        assert plain.execute("SELECT whole FROM session").fetchall() == [(None,)]
    said: list[str] = []
    keep(path, samples_of(practice)[:50], BEGAN + DAY, said)
    assert said == ["a session was cut short before: what was driven by then is kept"]
    assert integrity(path) == "ok"
    with Memory(path) as memory:
        second, first = memory.sessions()
        assert (first.whole, first.laps, second.whole) == (False, 3, True)
        assert first.ended == pytest.approx(BEGAN + practice.rows[cut - 2]["t"], abs=0.001)
        assert all(lap.whole for lap in memory.laps(1))
        left = memory.session(1, grids=True)
        assert left.reference is not None and left.reference is left.laps[left.reference.number - 1].grid
    with closing(sqlite3.connect(path)) as plain:
        ((columns, count),) = plain.execute("SELECT columns, samples FROM piece WHERE session = 1").fetchall()
        running, _ = unpack(columns)
    begun = next(row["t"] for row in practice.rows if row["lap"] == 4)
    assert running["t"][0] <= begun  # from the line on
    assert running["t"][-1] == pytest.approx(practice.rows[cut - 2]["t"], abs=1e-6)  # the last one waits for the next
    assert len(running["t"]) == count >= 399


def test_a_session_that_is_driven_is_left_alone(samples: list[Sample], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    with kept_line(path) as (kept, push):
        for sample in samples[:60]:
            push(sample, BEGAN + sample.t)
        settle(kept)
        with Memory(path) as memory:
            (row,) = memory.sessions()
            assert (row.ended, row.whole) == (None, False)
        with kept_line(path) as (_, other):  # a second drive at once, into the same file
            for sample in samples[:60]:
                other(replace(sample, driver="driver-b"), BEGAN + 5.0 + sample.t)
        with Memory(path) as memory:
            assert [(row.driver, row.whole) for row in memory.sessions()] == [("driver-b", True), (DRIVER, False)]
    with Memory(path) as memory:
        assert [row.whole for row in memory.sessions()] == [True, True]
    assert integrity(path) == "ok"


def settle(kept: Keeping) -> None:
    """Until what was put has been written."""
    done = threading.Event()
    for _ in range(200):
        if not kept._writer._waiting and kept._writer.sessions:
            done.wait(0.3)
            return
        done.wait(0.02)
    raise AssertionError("the writer writes nothing")


def test_what_fails_while_it_writes_is_told_once_and_the_drive_goes_on(two_laps: list[Sample], tmp_path: Path) -> None:
    samples = two_laps
    path = tmp_path / "memory.sqlite"
    said: list[str] = []
    with kept_line(path, said) as (kept, push):
        for sample in samples[:60]:
            push(sample, BEGAN + sample.t)
        settle(kept)
        with closing(sqlite3.connect(path)) as plain:
            plain.execute("DROP TABLE piece")
            plain.commit()
        for sample in samples[60:]:
            push(sample, BEGAN + sample.t)
        settle_failure(kept)
        for sample in samples[:10]:
            kept.sample(sample, BEGAN)
    assert len(said) == 1 and said[0].endswith("; the drive goes on unkept") and "no such table: piece" in said[0]
    (session,) = kept.sessions()
    assert len(session.laps) == 2  # the summary has it all the same


def test_a_disk_that_is_full_costs_the_rest_alone(two_laps: list[Sample], tmp_path: Path) -> None:
    """A file that may not grow stands for a disk that is full (setrlimit(2))."""
    path = tmp_path / "memory.sqlite"
    said: list[str] = []
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    with kept_line(path, said) as (kept, push):
        for sample in two_laps[:300]:
            push(sample, BEGAN + sample.t)
        settle(kept)
        resource.setrlimit(resource.RLIMIT_FSIZE, (path.with_name("memory.sqlite-wal").stat().st_size, before[1]))
        try:
            for sample in two_laps[300:]:
                push(sample, BEGAN + sample.t)
            settle_failure(kept)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert len(said) == 1 and said[0].endswith("; the drive goes on unkept")
    assert len(kept.sessions()[0].laps) == 2
    with Memory(path) as memory:
        assert [(row.whole, row.ended) for row in memory.sessions()] == [(False, BEGAN + two_laps[298].t)]
    assert integrity(path) == "ok"


def test_the_clock_of_a_source_that_begins_anew(two_laps: list[Sample], tmp_path: Path) -> None:
    """What was driven before stays, as a lap that was left; the laps behind it are kept as ever."""
    path = tmp_path / "memory.sqlite"
    left = [replace(sample, t=sample.t + 5000.0, lap=1) for sample in two_laps[:600]]
    with kept_line(path) as (_, push):
        for number, sample in enumerate([*left, *two_laps]):
            push(sample, BEGAN + number / 25)
    with Memory(path) as memory:
        assert [(lap.number, lap.whole) for lap in memory.laps(1)] == [(1, True), (2, True)]
    with closing(sqlite3.connect(path)) as plain:
        pieces = plain.execute("SELECT place, samples, begins FROM piece ORDER BY id").fetchall()
    assert [place for place, _, _ in pieces] == [-1, None]
    assert pieces[0][2] >= 5000.0 > pieces[1][2]


def test_a_drive_that_ends_no_lap_is_kept_in_few_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "memory.sqlite"
    monkeypatch.setattr(writing, "MANY", 3)
    monkeypatch.setattr(ending, "LARGE", 500)
    monkeypatch.setattr(writing_thread, "AT_ONCE", 50)
    with kept_line(path) as (kept, _):
        kept.take(Run(0.0, 0, "0", "generic", "loop", "car", None, "plain"))
        for n in range(2000):
            kept.sample(Sample(t=n / 25, track="loop", car="car", speed=9.0, x=float(n)), BEGAN + n / 25)
    with closing(sqlite3.connect(path)) as plain:
        pieces = plain.execute("SELECT samples, columns, begins, ends FROM piece ORDER BY id").fetchall()
    assert len(pieces) <= 5
    assert sum(row[0] for row in pieces) == 2000
    x = np.concatenate([unpack(row[1])[0]["x"] for row in pieces])
    assert (x == np.arange(2000)).all()
    assert all(row[2] < row[3] for row in pieces)


def settle_failure(kept: Keeping) -> None:
    wait = threading.Event()
    for _ in range(300):
        if kept.failure is not None:
            return
        wait.wait(0.02)
    raise AssertionError("nothing failed")


def test_a_file_that_cannot_be_opened_is_one_line_and_no_keeping(tmp_path: Path) -> None:
    (tmp_path / "memory.sqlite").write_text("something else, and long enough")
    out = io.StringIO()
    with keeping(tmp_path / "memory.sqlite", True, Console(out)) as kept:
        assert kept is None
    assert out.getvalue() == (
        f"{tmp_path / 'memory.sqlite'} is no memory: name another file, or move it away; the drive goes on unkept\n"
    )
    with keeping(tmp_path / "other.sqlite", False, Console(out)) as kept:
        assert kept is None
    assert not (tmp_path / "other.sqlite").exists()


def test_samples_are_dropped_where_the_disk_is_too_slow_and_events_never(
    two_laps: list[Sample], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "memory.sqlite"
    monkeypatch.setattr(writing_thread, "WAITING", 20)
    monkeypatch.setattr(writing_thread, "EVERY", 3600.0)  # nothing is written before the end
    said: list[str] = []
    with kept_line(path, said) as (kept, push):
        for sample in two_laps:
            push(sample, BEGAN + sample.t)
    assert said == ["the memory cannot be written as fast as samples come: a lap cut short may have gaps"]
    assert kept._writer.dropped > 1000
    with Memory(path) as memory:
        assert [lap.whole for lap in memory.laps(1)] == [True] * 2


def test_a_file_that_is_deleted_or_moved_meanwhile_is_told_of(two_laps: list[Sample], tmp_path: Path) -> None:
    """The system lets it go on being written until it is closed (unlink(2)), and then it is gone."""
    path = tmp_path / "memory.sqlite"
    said: list[str] = []
    with kept_line(path, said) as (kept, push):
        for sample in two_laps[:100]:
            push(sample, BEGAN + sample.t)
        settle(kept)
        path.unlink()
        for sample in two_laps[100:]:
            push(sample, BEGAN + sample.t)
        settle_failure(kept)
    assert said == [f"the memory {path} was moved or deleted: what was driven may be lost; the drive goes on unkept"]
    assert len(kept.sessions()[0].laps) == 2  # the summary has it all the same


def test_another_program_that_writes_is_waited_for(samples: list[Sample], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    said: list[str] = []
    with kept_line(path, said) as (kept, push), closing(sqlite3.connect(path, isolation_level=None)) as other:
        settle_open(kept)
        other.execute("BEGIN IMMEDIATE")
        for sample in samples[:100]:
            push(sample, BEGAN + sample.t)
        assert kept.recall(DRIVER, "car", "loop") is None  # and does not wait
        threading.Event().wait(0.6)
        other.execute("COMMIT")
    assert said == []
    with Memory(path) as memory:
        assert memory.sessions()[0].whole


def test_one_that_holds_the_file_for_long_is_told_of_and_holds_up_no_drive(
    samples: list[Sample], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "memory.sqlite"
    monkeypatch.setattr(opening, "connect", partial(opening.connect, busy=0.05))
    monkeypatch.setattr(writing_thread, "LAST", 0.3)
    said: list[str] = []
    waits = f"the memory {path} is in use by another program: this drive waits for it"
    late = f"the memory {path} takes too long to write: the end of this drive may not be kept"
    for frees, lines in ((True, [waits]), (False, [waits, late])):
        said.clear()
        with closing(sqlite3.connect(path, isolation_level=None)) as other, kept_line(path, said) as (kept, push):
            settle_open(kept)
            other.execute("BEGIN IMMEDIATE")
            slowest = 0.0
            for sample in samples[:100]:
                before = monotonic()
                push(sample, BEGAN + sample.t)
                slowest = max(slowest, monotonic() - before)
            settle_open(kept)
            if frees:
                other.execute("COMMIT")
        assert said == lines
        assert slowest < 0.3  # a drive that waited for the lock would wait for ever
    with Memory(path) as memory:
        assert [row.whole for row in memory.sessions()] == [True]


def settle_open(kept: Keeping) -> None:
    threading.Event().wait(0.4)
    assert kept.failure is None


def test_what_stands_is_kept_once_a_second(tmp_path: Path) -> None:
    """A car that stands in the pits for ten minutes is no ten minutes of samples."""
    path = tmp_path / "memory.sqlite"
    with kept_line(path) as (kept, _):
        kept.take(Run(0.0, 0, "0", "generic", "loop", "car", None, "plain"))
        for n in range(36_000):
            kept.sample(Sample(t=n / 60, track="loop", car="car", speed=0.0, in_pit=True), BEGAN + n / 60)
    with closing(sqlite3.connect(path)) as plain:
        (count,) = plain.execute("SELECT sum(samples) FROM piece").fetchone()
    assert 590 <= count <= 602


def test_a_receive_time_of_a_sources_own_clock_is_no_date(two_laps: list[Sample], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    keep(path, two_laps, began=0.0)
    with Memory(path) as memory:
        session = memory.session(1)
        assert (session.begun, session.ended) == (None, None)
        known = memory.recall(DRIVER, two_laps[0].car, two_laps[0].track).known
        assert known is not None and known.origin.endswith(f"of {DRIVER}")


def test_damage_in_one_event_costs_that_event(driven: tuple[Path, list[KeptSession]], tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    with Memory(driven[0]) as memory:
        memory.copy(path)
    with closing(sqlite3.connect(path)) as plain:
        plain.execute('UPDATE event SET body = \'{"type": "fault", "t": "x"}\' WHERE n = 7')
        plain.execute("UPDATE event SET body = 'no json' WHERE n = 9")
        plain.commit()
        assert len(kept_session(plain, 1).laps) == 5


def test_the_users_own_file_is_in_the_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG Base Directory Specification: `$XDG_DATA_HOME`."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert own_file() == tmp_path / "cornerword" / "memory.sqlite"


def test_a_lock_is_free_again_once_its_holder_has_gone(tmp_path: Path) -> None:
    path = tmp_path / "memory.sqlite"
    first, second = hold(path), hold(path)
    assert (first.number, second.number) == (1, 2)
    first.free()
    third = hold(path)
    assert third.number == 1
    second.free()
    third.free()
