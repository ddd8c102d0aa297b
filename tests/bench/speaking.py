"""`python -m tests.bench.speaking FILE... --reference FILE`: what is said of recordings, held against them.

For each recording: cues that overlap, pass their deadline, or sound while the driver brakes or corners; how many are
said a lap; and, with the focus on each kind of fault that was found in it, the share of its findings of 0.05 s or more
that a cue speaks of by the end of the next lap (those left out whose next lap the recording does not hold). `--made`
takes the drives that `tests.bench.judgement` has kept, each with its own reference; `--most N` the first so many.
"""

from __future__ import annotations

import argparse
import bisect
import gzip
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

from coach.app.source import Source
from coach.app.start import SessionStart, fresh
from coach.engine.engine import Engine
from coach.planner.planner import Planner
from coach.vocabulary.events import Cue, Event, Fault, Lap
from coach.vocabulary.sample import Sample
from feeds import registry

from .judgement.drives import default_folder, is_kept, kept
from .judgement.intervals import wilson
from .judgement.jobs import all_jobs

BRAKING = 0.05
"""Brake above which a driver brakes."""
CORNERING = 0.5
"""Share of the lap's 99th percentile of lateral acceleration above which a driver corners."""
SHOCKS = 2
"""Samples of that which count for nothing: a kerb."""
SPEAKABLE = 0.05
"""s that a finding must have lost for it to count."""


@dataclass(slots=True)
class Report:
    """What came of one recording, or of several together. `cover`: by kind, told and speakable findings."""

    laps: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    overlapping: int = 0
    late: int = 0
    busy: list[str] = field(default_factory=list)
    untold: list[str] = field(default_factory=list)
    cover: dict[str, list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0]))

    def add(self, other: Report) -> None:
        self.laps += other.laps
        self.kinds.update(other.kinds)
        self.overlapping += other.overlapping
        self.late += other.late
        self.busy += other.busy
        self.untold += other.untold
        for kind, (told, all_found) in other.cover.items():
            self.cover[kind][0] += told
            self.cover[kind][1] += all_found


def judged(samples: list[Sample], start: SessionStart) -> list[Event]:
    """What the engine sees in a recording: the same whatever is asked for."""
    engine = Engine(start.engine)
    return [event for sample in samples for event in engine.push(sample)] + engine.finish()


def said(seen: list[Event], start: SessionStart, focus: tuple[str, ...]) -> list[Event]:
    """That with what the planner says of it, as the line puts them together."""
    planner = Planner(replace(start.planner, focus=focus))
    return [one for event in seen for one in (event, *planner.push(event))] + planner.finish()


def report(name: str, samples: list[Sample], reference: str) -> Report:
    """Everything that is measured of one recording."""
    out = Report()
    start = fresh(Source(), reference, ())
    seen = judged(samples, start)
    events = said(seen, start, ())
    out.laps = sum(isinstance(event, Lap) for event in events)
    out.kinds.update(event.kind for event in events if isinstance(event, Cue) and event.spoken)
    _hold(name, events, samples, out)
    ended = max((event.lap for event in events if isinstance(event, Lap)), default=0)
    for kind in sorted(
        {event.fault for event in events if isinstance(event, Fault) and (event.net or 0.0) >= SPEAKABLE}
    ):
        focused = said(seen, start, (kind,))
        _hold(f"{name} --focus {kind}", focused, samples, out)
        told = _told(focused)
        for fault in focused:
            if isinstance(fault, Fault) and fault.fault == kind and (fault.net or 0.0) >= SPEAKABLE:
                in_time = told.get((fault.lap, fault.corner, kind), fault.lap + 2) <= fault.lap + 1
                if not in_time and fault.lap >= ended:
                    continue  # the recording ends before the next lap does
                out.cover[kind][1] += 1
                out.cover[kind][0] += in_time
                if not in_time:
                    out.untold.append(f"{name}: {kind}, lap {fault.lap}, turn {fault.corner}: {_why(focused, fault)}")
    return out


def _why(events: list[Event], fault: Fault) -> str:
    """Why no cue spoke of it, as the log has it."""
    of = (fault.lap, fault.corner, fault.fault)
    cues = [event for event in events if isinstance(event, Cue)]
    reasons = [
        cue.why_not or f"said on lap {cue.lap}" for cue in cues if of in [(o.lap, o.corner, o.fault) for o in cue.of]
    ]
    return ", ".join(reasons) or "no cue"


def _told(events: Iterable[Event]) -> dict[tuple[int, int | None, str], int]:
    """By finding: the lap on which a cue spoke of it."""
    out: dict[tuple[int, int | None, str], int] = {}
    for cue in events:
        if isinstance(cue, Cue) and cue.spoken:
            for of in cue.of:
                out.setdefault((of.lap, of.corner, of.fault), cue.lap)
    return out


def _hold(name: str, events: list[Event], samples: list[Sample], out: Report) -> None:
    """Hold what was said against what the driver did meanwhile."""
    cues = [event for event in events if isinstance(event, Cue) and event.spoken]
    out.overlapping += sum((after.starts or 0.0) < (before.ends or 0.0) for before, after in pairwise(cues))
    times, bounds = [sample.t for sample in samples], _bounds(samples)
    for cue in cues:
        assert cue.starts is not None and cue.ends is not None and cue.deadline is not None
        out.late += cue.ends > cue.deadline
        rows = samples[bisect.bisect_left(times, cue.starts) : bisect.bisect_right(times, cue.ends)]
        braking = sum((row.brake or 0.0) > BRAKING for row in rows)
        cornering = sum(abs(row.ay or 0.0) > bounds.get(row.lap, 99.0) for row in rows)
        if braking > SHOCKS or cornering > SHOCKS:
            what = "brakes" if braking > SHOCKS else "cornering"
            out.busy.append(f"{name}: lap {cue.lap}, {cue.text!r} at {cue.starts:.2f} s, {what}")


def _bounds(samples: list[Sample]) -> dict[int | None, float]:
    by_lap: dict[int | None, list[float]] = defaultdict(list)
    for sample in samples:
        by_lap[sample.lap].append(abs(sample.ay or 0.0))
    return {lap: CORNERING * sorted(pulls)[int(0.99 * (len(pulls) - 1))] for lap, pulls in by_lap.items()}


def _samples(path: Path) -> list[Sample]:
    feed = registry.create("generic")
    with gzip.open(path, "rb") if path.suffix == ".gz" else path.open("rb") as file:
        return [feed.decode(line) for line in file]


def _made(most: int) -> Iterator[tuple[str, Path, Path]]:
    folder = default_folder()
    jobs = [job for job in all_jobs(False) if is_kept(job, folder, True) and is_kept(job.reference(), folder, True)]
    for job in jobs[:most]:
        yield job.name, kept(job, folder, True).stream, kept(job.reference(), folder, True).stream


def _print(title: str, found: Report) -> None:
    kinds = ", ".join(f"{kind} {number}" for kind, number in sorted(found.kinds.items())) or "nothing"
    print(f"{title}: {found.laps} laps, said {kinds}: {found.kinds.total() / max(found.laps, 1):.2f} a lap")
    told, speakable = (sum(pair[n] for pair in found.cover.values()) for n in (0, 1))
    low, high = wilson(told, speakable)
    print(
        f"  overlapping {found.overlapping}, past the deadline {found.late}, while braking or cornering"
        f" {len(found.busy)}; asked for and told by the end of the next lap {told}/{speakable}"
        f" ({100 * low:.1f} to {100 * high:.1f} %)"
    )
    if found.cover:
        print("  " + ", ".join(f"{kind} {pair[0]}/{pair[1]}" for kind, pair in sorted(found.cover.items())))
    for line in found.busy:
        print(f"  busy: {line}")
    for line in found.untold:
        print(f"  untold: {line}")


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.speaking", description=__doc__)
    parser.add_argument("files", metavar="FILE", nargs="*", type=Path, help="generic datagrams, one a line")
    parser.add_argument("--reference", metavar="FILE", help="the lap that the files are held against")
    parser.add_argument("--made", action="store_true", help="the drives that tests.bench.judgement has kept")
    parser.add_argument("--most", metavar="N", type=int, default=1000, help="so many of them")
    options = parser.parse_args()
    runs: list[tuple[str, Path, Path]] = list(_made(options.most)) if options.made else []
    if options.files and options.reference is None:
        parser.error("--reference: name the lap that the files are held against")
    runs += [(path.name, path, Path(options.reference)) for path in options.files]
    whole: dict[str, Report] = defaultdict(Report)
    for name, path, reference in runs:
        found = report(name, _samples(path), str(reference))
        if options.files:
            _print(name, found)
        group = next((word for word in ("scattering", "steady") if word in name), "files")
        kind = name.partition("-")[0] if options.made else "all"
        whole[f"{kind}, {group}"].add(found)
        print(f"{name} done", file=sys.stderr)
    for title, found in whole.items():
        _print(title, found)
    return 0


if __name__ == "__main__":
    sys.exit(main())
