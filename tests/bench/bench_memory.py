"""How quick and large a memory of many sessions is: `python -m tests.bench.bench_memory [--sessions 500] [--laps 15]`.

One drive of the test loop is kept, and its session copied row by row under other numbers, dates, setups and lap times.
Printed: the file's size; the time (median and worst of some, in one process with the file's pages where the system put
them) to open the file, to list, to open a session with its events and with its laps' channels, to recall, to find the
session before and its three things. And what keeping costs a drive at full speed: time of the thread that drives, and
of the whole process, with and without.
"""

from __future__ import annotations

import argparse
import io
import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter, process_time, thread_time

from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.keeping import keeping
from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.store.memory import Memory
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram
from tests.make_stream import Mistake, make_drive, test_loop

BEGAN, DAY = 1_790_000_000.0, 86_400.0
RATE = 60.0
TRIES = 15
OPENS, RECALLS = 0.3, 0.05
"""s that a session may take to open (the issue), and a recall (the brief)."""


def made_samples(laps: int) -> list[Sample]:
    intake = Intake(registry.create("generic", None), lambda line: None)
    mistakes = [Mistake("late_throttle", lap, 1, 0.5) for lap in range(3, laps, 2)]
    made = make_drive(test_loop(), laps=laps, rate=RATE, mistakes=mistakes)
    found = [intake.read(Datagram(0.0, data)) for data in made.datagrams()]
    return [replace(sample, driver="driver-a", setup="soft") for sample in found if sample is not None]


def drive(path: Path, samples: list[Sample], keep: bool) -> tuple[float, float]:
    """s of this thread a sample, and of the whole process in all."""
    whole = process_time()
    with keeping(path, keep, Console(io.StringIO())) as kept:
        start = fresh(Source(), None, ())
        line = Line(start.engine, start.planner, [], [] if kept is None else [kept])
        mine = thread_time()
        for sample in samples:
            if kept is not None:
                kept.sample(sample, BEGAN + sample.t)
            line.push(sample, BEGAN + sample.t)
        line.finish()
        mine = thread_time() - mine
    return mine / len(samples), process_time() - whole


def copy_sessions(path: Path, sessions: int) -> None:
    chance = random.Random(1)
    with closing(sqlite3.connect(path, isolation_level=None)) as memory:
        columns = [row[1] for row in memory.execute("PRAGMA table_info(session)")]
        same = ", ".join(name for name in columns if name not in ("id", "begun", "ended", "setup"))
        laps = memory.execute("SELECT id, place, number, time, clean, why_not FROM lap WHERE session = 1").fetchall()
        memory.execute("BEGIN")
        for number in range(2, sessions + 1):
            memory.execute(
                f"INSERT INTO session (id, begun, ended, setup, {same}) SELECT ?, begun + ?, ended + ?, ?, {same} "
                "FROM session WHERE id = 1",
                (number, number * DAY, number * DAY, f"setup {number % 7}"),
            )
            memory.execute("INSERT INTO event SELECT ?, n, body FROM event WHERE session = 1", (number,))
            memory.execute("INSERT INTO thing SELECT ?, place, body FROM thing WHERE session = 1", (number,))
            for lap, place, counted, time, clean, why_not in laps:
                added = memory.execute(
                    "INSERT INTO lap (session, place, number, time, clean, why_not) VALUES (?, ?, ?, ?, ?, ?)",
                    (number, place, counted, time + chance.uniform(0.0, 2.0), clean, why_not),
                )
                to = added.lastrowid
                memory.execute("INSERT INTO channels SELECT ?, grid FROM channels WHERE lap = ?", (to, lap))
            memory.execute(  # one that is no lap of the session: the largest there is
                "INSERT INTO reference SELECT ?, n, NULL, (SELECT max(grid) FROM channels) FROM reference "
                "WHERE session = 1 ORDER BY n DESC LIMIT 1",
                (number,),
            )
        memory.execute("COMMIT")


def timed(what: str, work: Callable[[], object], most: float | None = None) -> bool:
    took = []
    for _ in range(TRIES):
        begun = perf_counter()
        work()
        took.append(perf_counter() - begun)
    allowed = "" if most is None else f" (allowed {1e3 * most:.0f})"
    print(f"{what}: median {1e3 * median(took):.1f} ms, worst {1e3 * max(took):.1f} ms{allowed}")
    return most is None or max(took) <= most


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_memory")
    parser.add_argument("--sessions", type=int, default=500)
    parser.add_argument("--laps", type=int, default=15)
    options = parser.parse_args(arguments)
    samples = made_samples(options.laps)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "memory.sqlite"
        without, all_without = drive(path, samples, False)
        kept, all_kept = drive(path, samples, True)
        print(
            f"keeping, {len(samples)} samples at {RATE:.0f} Hz: {1e6 * without:.1f} -> {1e6 * kept:.1f} us a sample of "
            f"the driving thread ({kept / without - 1:+.0%}), {all_without:.2f} -> {all_kept:.2f} s of the process: "
            f"at {RATE:.0f} Hz that is {(all_kept - all_without) / (len(samples) / RATE):.2%} of a processor more"
        )
        size = path.stat().st_size
        copy_sessions(path, options.sessions)
        print(
            f"{options.sessions} sessions of {options.laps} laps: {path.stat().st_size / 1e6:.1f} MB, "
            f"{size / 1e3 / options.laps:.1f} kB a lap with all that was found in it"
        )
        some = random.Random(2)
        good = True
        timed("open and close the file", lambda: Memory(path).close())
        with Memory(path) as memory:
            row = memory.sessions()[0]
            timed("list all sessions", memory.sessions)
            timed("a session's laps", lambda: memory.laps(some.randint(1, options.sessions)))
            timed("open a session", lambda: memory.session(some.randint(1, options.sessions)))
            good &= timed(
                "open a session with its laps' channels",
                lambda: memory.session(some.randint(1, options.sessions), grids=True),
                OPENS,
            )
            good &= timed("recall", lambda: memory.recall(row.driver, row.car, row.track), RECALLS)
            timed("the session before", lambda: memory.before(some.randint(2, options.sessions)))
            timed("its three things", lambda: memory.things(some.randint(1, options.sessions)))
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
