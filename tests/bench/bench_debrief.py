"""What a debrief of a long session costs: `python -m tests.bench.bench_debrief --laps 40`.

A few laps of the built-in car go through the line, then over and over, with other times, into a memory of its own,
until the last session has so many laps; before it lie `--before` sessions of `--each` laps. Measured is the whole
command in a process of its own, from the kept session to the page on the disk, and its parts in this process. Fails
over the bars of issue 8, 3 s and 8 MB; the seconds are judged by the processor's time, in which other work on the
machine does not count.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import perf_counter
from typing import Any, TypeVar

from coach.app.console import Console
from coach.app.keeping import keeping
from coach.app.line import Line
from coach.app.source import Source
from coach.app.start import fresh
from coach.engine.learned import Learned
from coach.vocabulary.events import Corners, Cue, Delta, Detector, Event, Lap, Moment, Reference, Run
from coach.vocabulary.sample import Sample
from feeds import registry
from feeds.car.circuit import CIRCUITS
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import CARS

TOP = Path(__file__).parents[2]
SECONDS, BYTES = 3.0, 8_000_000
"""the bars"""
BEGAN, DAY = 1_790_000_000.0, 86_400.0
"""s since 1970 of the first session, and to the next"""
MISTAKES = ("late_throttle:1:6:0.8", "early_braking:2:1:18", "late_throttle:2:6:0.8", "throttle_lift:3:4:0.5")
STEP = 1e-3
"""by which one lap differs from another"""
HEAD = (Run, Corners, Reference, Detector)
Made = TypeVar("Made")


@dataclass(slots=True)
class Driven:
    """A watcher that keeps all events of a real drive, by lap, but those that come with each sample."""

    sample: Sample | None = None
    head: list[Event] = field(default_factory=list)
    laps: dict[int, list[Event]] = field(default_factory=lambda: defaultdict(list))

    def take(self, event: Event) -> None:
        if isinstance(event, HEAD):
            self.head.append(event)
        elif not isinstance(event, (Moment, Delta)):
            self.laps[event.lap].append(event)


def driven(laps: int, rate: int) -> Driven:
    """A beginner's laps with some mistakes, and the best of them as the reference."""
    mistakes = [read_mistake(text) for text in MISTAKES if read_mistake(text).lap <= laps]
    spec = DriveSpec(
        next(iter(CIRCUITS.values()))(),
        next(iter(CARS.values())),
        PERSONS["beginner"],
        laps=laps,
        rate=rate,
        mistakes=mistakes,
    )
    found, start, feed = Driven(), fresh(Source(), None, ()), registry.create("generic")
    line = Line(start.engine, start.planner, [], [found])
    for row in Drive(spec):
        sample = feed.decode(encode(row), row["t"])
        if sample is not None:
            found.sample = found.sample or sample
            line.push(sample, row["t"])
    line.finish()
    return found


def again(found: Driven, laps: int) -> Iterator[Event]:
    """The events of as many laps: those that were driven, over and over, each lap a little slower or quicker."""
    yield from (replace(event, t=0.0) for event in found.head)
    whole = [events for events in found.laps.values() if any(isinstance(e, Learned) and e.grid for e in events)]
    clock = 0.0
    for number in range(1, laps + 1):
        events = whole[number % len(whole)]
        ended = next(event for event in events if isinstance(event, Lap))
        factor = 1.0 + STEP * ((number * 7) % 11 - 5)
        begun = ended.t - (ended.time or 0.0)
        for event in events:
            yield changed(event, number, clock + (event.t - begun) * factor, factor)
        clock += (ended.time or 0.0) * factor


def changed(event: Event, lap: int, t: float, factor: float) -> Event:
    """The same event of another lap, whose time is another."""
    more: dict[str, Any] = {"t": t, "lap": lap}
    if isinstance(event, Lap) and event.time is not None:
        more["time"] = event.time * factor
        more["delta"] = None if event.delta is None else event.delta + event.time * (factor - 1.0)
    elif isinstance(event, Learned) and event.grid is not None:
        more["grid"] = replace(event.grid, number=lap, time=event.grid.time * factor)
    elif isinstance(event, Cue):
        more["of"] = tuple(replace(of, lap=lap) for of in event.of)
    return replace(event, **more)


def keep(memory: Path, found: Driven, laps: int, began: float) -> None:
    """One session with so many laps."""
    assert found.sample is not None
    with keeping(memory, True, Console()) as kept:
        assert kept is not None
        kept.sample(replace(found.sample, t=0.0), began)
        for event in again(found, laps):
            kept.take(event)
        kept.sample(replace(found.sample, t=1e4), began + 1e4)


def command(memory: Path, page: Path) -> tuple[float, float, int]:
    """s of the whole command, wall and of the processor, and the page's bytes."""
    page.unlink(missing_ok=True)
    environment = {**os.environ, "PYTHONPATH": str(TOP)}
    line = [sys.executable, "-m", "coach", "debrief", "--memory", str(memory), "--to", str(page)]
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    subprocess.run(line, check=True, env=environment, stdout=subprocess.DEVNULL)
    wall, after = perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, spent, page.stat().st_size


def parts(memory: Path) -> None:
    """Print what each part takes, once, in this process."""
    from coach.app import debrief, pagefiles
    from coach.app.kept import with_some_channels
    from coach.app.telling.debrieftext import debrief_text
    from coach.debrief.page import debrief_page
    from coach.review.progress import progress
    from coach.review.review import review
    from coach.store.memory import Memory

    def timed(what: str, work: Callable[[], Made]) -> Made:
        began = perf_counter()
        made = work()
        print(f"  {what:<44}{perf_counter() - began:7.3f} s")
        return made

    with timed("open the memory", lambda: Memory(memory)) as opened:
        number = opened.sessions()[0].id
        session = timed("read the session with its channels", lambda: opened.session(number, grids=True))
        before, earlier = opened.before(number), []
        began = perf_counter()
        told = [] if before is None else opened.things(before)
        while before is not None and len(earlier) < debrief.EARLIER:
            earlier.append(with_some_channels(opened, opened.session(before), debrief.LAPS))
            before = opened.before(before)
        print(f"  {f'read {len(earlier)} sessions before it':<44}{perf_counter() - began:7.3f} s")
    found = timed("review", lambda: review(session, told))
    week = timed("progress", lambda: progress([*earlier[::-1], session]))
    timed("text", lambda: debrief_text(session, found))
    script = timed("read the charting library's script", lambda: pagefiles.charts(Console()))
    page = timed("page", lambda: debrief_page(session, found, week, script))
    print(f"  {'of the page ours':<44}{(len(page) - len(script or '')) / 1e6:7.2f} MB")


def main() -> int:
    parsed = argparse.ArgumentParser(description=__doc__)
    parsed.add_argument("--laps", type=int, default=40)
    parsed.add_argument("--before", type=int, default=6, help="sessions before it")
    parsed.add_argument("--each", type=int, default=15, help="laps of each of these")
    parsed.add_argument("--driven", type=int, default=4, help="laps that are really driven")
    parsed.add_argument("--rate", type=int, default=60, help="Hz")
    parsed.add_argument("--rounds", type=int, default=5)
    parsed.add_argument("--memory", type=Path, help="keep the memory here, or take the one that is there")
    asked = parsed.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-debrief-") as folder:
        memory = asked.memory or Path(folder) / "memory.sqlite"
        if not memory.exists():
            found = driven(asked.driven, asked.rate)
            for number in range(asked.before + 1):
                laps = asked.laps if number == asked.before else asked.each
                keep(memory, found, laps, BEGAN + number * DAY)
        rounds = [command(memory, Path(folder) / "page.html") for _ in range(asked.rounds)]
        size = rounds[0][2]
        walls, spent = sorted(wall for wall, _, _ in rounds), sorted(spent for _, spent, _ in rounds)
        print(f"{asked.laps} laps, the whole command, least, median and most of {asked.rounds}:")
        for what, of in (("wall", walls), ("of the processor", spent)):
            print(f"  {what:<44}{of[0]:7.2f} s {statistics.median(of):7.2f} s {of[-1]:7.2f} s")
        print(f"  {'the page':<44}{size / 1e6:7.2f} MB\nIts parts, once, wall:")
        parts(memory)
    fails = statistics.median(spent) >= SECONDS or size >= BYTES
    print("over the bars" if fails else f"under the bars: {SECONDS:.0f} s, {BYTES / 1e6:.0f} MB")
    return int(fails)


if __name__ == "__main__":
    sys.exit(main())
