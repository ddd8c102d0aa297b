"""What a kill -9 costs the memory: `python -m tests.bench.bench_memory_kill [--times 100] [--seed 1]`.

A process drives the built-in test loop into one memory, at 16 to 100 times the pace of life or as fast as it goes, and
is killed with SIGKILL at a random moment between 0.05 and 4 s. Then the next start is made, and looked at: SQLite's
integrity_check, that all sessions of the kills before are as they were (a digest of every row), that of this one the
events are the first ones of a drive without a kill, each lap's channels are bit for bit those of that drive, and the
samples of the running lap go on from there without a hole, up to how long before the kill (s, by the clock). Printed:
how many were clean, the worst and the median of what is missing, and what was wrong.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import signal
import sqlite3
import struct
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from statistics import median

import numpy as np

from coach.app.console import Console
from coach.app.intake import Intake
from coach.app.keeping import STANDS, keeping
from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.store.memory import Memory
from coach.store.packing import unpack
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.base import Datagram
from tests.make_stream import Mistake, make_drive, test_loop

LAPS = 12
PACES = (16.0, 100.0, None)
"""times the pace of life; None: as fast as it goes."""
FRESH = 20
"""kills of one memory; then a new one, for a kill may come while it is made."""
ALLOWED = 1.0
"""s that may be missing (the issue)."""
PUT = struct.Struct("<d")
CUT_SHORT = "a session was cut short before: what was driven by then is kept"
TABLES = {"event": "session", "lap": "session", "piece": "session", "thing": "session", "session": "id"}


@dataclass(slots=True)
class Killed:
    """One kill: s by the clock that are missing, how much was kept, and what is wrong."""

    missing: float
    events: int
    laps: int
    samples: int
    wrong: list[str]


def drive(path: Path, samples: list[Sample], pace: float | None, pipe: int | None) -> None:
    """Drive them all into the memory; each sample's receive time goes to `pipe` once it has been put."""
    with keeping(path, True, Console(io.StringIO())) as kept:
        if kept is None:
            raise SystemExit("the memory does not open")
        start = fresh(Source(), None, ())
        line = Line(start.engine, start.planner, [], [kept])
        begun, first = time.time(), samples[0].t
        for sample in samples:
            if pace is not None:
                time.sleep(max(0.0, begun + (sample.t - first) / pace - time.time()))
            now = time.time()
            kept.sample(sample, now)
            line.push(sample, now)
            if pipe is not None:
                os.write(pipe, PUT.pack(now))
        line.finish()


def kill(path: Path, samples: list[Sample], pace: float | None, after: float) -> tuple[float, float]:
    """Drive in a process and kill it; returns when the first and the last sample were put that it could tell of."""
    come, go = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(come)
        try:
            drive(path, samples, pace, go)
            signal.pause()  # all driven before the kill
        finally:
            os._exit(1)
    os.close(go)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with open(come, "rb") as file:
        told = file.read()
    put = [moment for (moment,) in PUT.iter_unpack(told[: len(told) // PUT.size * PUT.size])]
    return (put[0], put[-1]) if put else (0.0, 0.0)


def digest(memory: sqlite3.Connection, session: int) -> str:
    """Of every row that belongs to a session."""
    found = sha256()
    for table, key in TABLES.items():
        for row in memory.execute(f"SELECT * FROM {table} WHERE {key} = ? ORDER BY 1, 2", (session,)):
            found.update(repr(row).encode())
    laps = "SELECT lap, grid FROM channels JOIN lap ON lap.id = channels.lap WHERE session = ? ORDER BY lap"
    for row in memory.execute(laps, (session,)):
        found.update(repr(row).encode())
    return found.hexdigest()


def bodies(memory: sqlite3.Connection, session: int) -> list[str]:
    rows = memory.execute("SELECT n, body FROM event WHERE session = ? ORDER BY n", (session,)).fetchall()
    assert [n for n, _ in rows] == list(range(len(rows))), "an event is missing"
    return [body for _, body in rows]


def channels(memory: sqlite3.Connection, session: int) -> list[bytes]:
    rows = "SELECT grid FROM lap JOIN channels ON channels.lap = lap.id WHERE session = ? ORDER BY place"
    return [grid for (grid,) in memory.execute(rows, (session,))]


def look(path: Path, whole: Path, samples: list[Sample], put: tuple[float, float], before: dict[int, str]) -> Killed:
    """The next start, and what it finds. `whole`: a memory of the drive without a kill; `put`: first and last."""
    said = io.StringIO()
    with keeping(path, True, Console(said)) as kept:
        time.sleep(0.0)
    wrong = [] if kept is not None else ["it does not open"]
    with closing(sqlite3.connect(path)) as memory, closing(sqlite3.connect(whole)) as reference:
        if memory.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            wrong.append("integrity")
        if memory.execute("PRAGMA foreign_key_check").fetchall():
            wrong.append("foreign keys")
        if memory.execute("SELECT 1 FROM session WHERE whole IS NULL").fetchall():
            wrong.append("a session was left open")
        wrong += [f"session {n} has changed" for n, known in before.items() if digest(memory, n) != known]
        new = [n for (n,) in memory.execute("SELECT id FROM session ORDER BY id") if n not in before]
        if not new:
            return Killed(put[1] - put[0], 0, 0, 0, wrong)
        (session,) = new
        events, all_events = bodies(memory, session), bodies(reference, 1)
        if events != all_events[: len(events)]:
            wrong.append("the events are not the drive's")
        laps, all_laps = channels(memory, session), channels(reference, 1)
        if laps != all_laps[: len(laps)]:
            wrong.append("the laps are not the drive's")
        (ended, is_whole) = memory.execute("SELECT ended, whole FROM session WHERE id = ?", (session,)).fetchone()
        if is_whole == 0 and said.getvalue() != CUT_SHORT + "\n":
            wrong.append(f"it said {said.getvalue()!r}")
        running = memory.execute("SELECT columns FROM piece WHERE session = ?", (session,)).fetchall()
        kept_samples = np.concatenate([np.zeros(0), *(unpack(columns)[0]["t"] for (columns,) in running)])
        wrong += _holes(kept_samples, samples, len(laps))
        before[session] = digest(memory, session)
    with Memory(path) as again:
        if len(again.session(session, grids=True).laps) != again.sessions()[0].laps:
            wrong.append("a lap's event is missing")
    return Killed(max(0.0, put[1] - ended), len(events), len(laps), len(kept_samples), wrong)


def _holes(kept: np.ndarray, samples: list[Sample], laps: int) -> list[str]:
    """The running lap's samples are the drive's, one after the other, from where the last lap's channels end."""
    times = np.round([sample.t for sample in samples], 6)
    places = np.searchsorted(times, kept)
    if len(kept) == 0:
        return []
    if (times[np.minimum(places, len(times) - 1)] != kept).any():
        return ["the running lap has samples of its own"]
    lacking = sorted(set(range(int(places[0]), int(places[-1]))) - set(places.tolist()))
    if (np.diff(places) < 1).any() or any((samples[i].speed or 0.0) >= STANDS for i in lacking):
        return ["the running lap has a hole"]
    line = next((i for i, sample in enumerate(samples) if sample.lap is not None and sample.lap > laps), len(samples))
    return [] if places[0] <= line else ["the running lap does not begin at the line"]


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_memory_kill")
    parser.add_argument("--times", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    chance = random.Random(options.seed)
    mistakes = [Mistake("late_throttle", lap, 1, 0.5) for lap in range(3, LAPS, 2)]
    intake = Intake(registry.create("generic", None), lambda line: None)
    made = make_drive(test_loop(), laps=LAPS, rate=25.0, mistakes=mistakes)
    found = [intake.read(Datagram(0.0, data)) for data in made.datagrams()]
    samples = [replace(sample, driver="driver-a", setup="soft") for sample in found if sample is not None]
    kills: list[Killed] = []
    with tempfile.TemporaryDirectory() as folder:
        whole, path = Path(folder) / "whole.sqlite", Path(folder)
        drive(whole, samples, None, None)
        before: dict[int, str] = {}
        for number in range(options.times):
            if number % FRESH == 0:
                before.clear()
                path = Path(folder) / f"memory-{number}.sqlite"
            pace = PACES[number % len(PACES)]
            put = kill(path, samples, pace, chance.uniform(0.05, 4.0))
            kills.append(look(path, whole, samples, put, before))
            for wrong in kills[-1].wrong:
                print(f"kill {number + 1}: {wrong}")
        size = sum(file.stat().st_size for file in Path(folder).glob("memory-*.sqlite"))
    missing = [killed.missing for killed in kills]
    clean = sum(not killed.wrong for killed in kills)
    print(f"{len(kills)} kills, {clean} clean starts with nothing lost or torn; memories of {size / 1e6:.1f} MB")
    print(f"kept: {sum(k.laps for k in kills)} laps, {sum(k.events for k in kills)} events")
    print(
        f"missing before the kill: worst {max(missing):.3f} s, median {median(missing):.3f} s (allowed {ALLOWED:.0f} s)"
    )
    return 0 if clean == len(kills) and max(missing) <= ALLOWED else 1


if __name__ == "__main__":
    sys.exit(main())
