"""The three dearest things against what was really wrong: `python -m tests.bench.bench_things --runs FOLDER`.

FOLDER has recorded runs (`*.jsonl.gz`) with their truths (`*.truth.json`); the one whose name ends in `ref` is the
reference. With `--made N`, N drives of the judgement's bench besides, on its circuits and cars. Each list is the sum of
seconds by corner and kind, the dearest first; `=` marks what both have among their three.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.review.model import KeptSession
from coach.review.results import Thing
from coach.review.things import things
from tests.bench.judgement.drives import default_folder, kept
from tests.bench.judgement.jobs import all_jobs
from tests.bench.judgement.truth import studied, truth_of
from tests.review.collecting import collected_file

MOST = 3
NAMES = {
    "early_brake": {"early_braking"},
    "late_brake": {"late_braking", "missed_apex"},
    "coast": {"coasting"},
    "lift": {"throttle_lift"},
    "line_entry": {"narrow_entry"},
    "line_exit": {"narrow_exit"},
    "spin": {"spin", "rear_step_out", "off_track"},
    "offtrack": {"off_track"},
}
"""Kinds of a truth file that have another name than the fault."""


@dataclass(frozen=True, slots=True)
class Real:
    """One kind at one corner as it really was: `seconds` in all; the corner reaches from `start` to `exit` (m)."""

    kind: str
    corner: str
    start: float
    exit: float
    seconds: float

    def is_told_by(self, thing: Thing, session: KeptSession) -> bool:
        """Whether `thing` is this: its fault names the kind, and one of its apexes lies in the corner."""
        mark = next((mark for mark in session.corners if mark.corner == thing.corner), None)
        if mark is None or session.length is None:
            return False
        within = (self.exit - self.start) % session.length
        there = any((apex - self.start) % session.length <= within for apex in mark.apexes)
        return there and thing.fault in NAMES.get(self.kind, {self.kind})


def dearest(faults: Iterable[tuple[str, str, float, float, float]]) -> list[Real]:
    """(kind, corner, start, exit, seconds) summed by corner and kind, the dearest first."""
    sums: dict[tuple[str, str], float] = defaultdict(float)
    where: dict[str, tuple[float, float]] = {}
    for kind, corner, start, exit_, seconds in faults:
        sums[kind, corner] += seconds
        where[corner] = start, exit_
    found = [Real(kind, corner, *where[corner], seconds) for (kind, corner), seconds in sums.items()]
    return sorted(found, key=lambda real: -real.seconds)


def of_truth(truth: dict[str, Any]) -> list[Real]:
    """The pairs of a truth file."""
    return dearest(
        (f["kind"], f["corner"], f["corner_start_s"], f["exit_s"], f.get("window_time_lost_s") or 0.0)
        for f in truth["faults"]
    )


def agree(session: KeptSession, real: list[Real]) -> tuple[int, list[str]]:
    """How many of the three of each list are in the other, and both lists side by side."""
    told = things(session)
    lines, same = [], 0
    for place in range(max(len(told), min(MOST, len(real)))):
        mine = told[place] if place < len(told) else None
        hit = mine is not None and any(one.is_told_by(mine, session) for one in real[:MOST])
        same += hit
        left = "-" if mine is None else f"turn {mine.corner} {mine.fault} {mine.total:.2f} s ({mine.times}x)"
        one = real[place] if place < len(real) else None
        right = "-" if one is None else f"{one.corner} {one.kind} {one.seconds:.2f} s"
        lines.append(f"  {'=' if hit else ' '} {left:<44}{right}")
    return same, lines


def main() -> int:
    """Print, and fail where a recorded run's three are not the truth's."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=Path, help="a folder of recorded runs with their truths")
    parser.add_argument("--made", type=int, default=0, metavar="N", help="drives of the judgement's bench besides")
    options = parser.parse_args()
    bad = False
    if options.runs is not None:
        (reference,) = options.runs.glob("*ref.jsonl.gz")
        for path in sorted(options.runs.glob("*.truth.json")):
            truth = json.loads(path.read_text(encoding="utf-8"))
            stream = path.with_name(path.name.replace(".truth.json", ".jsonl.gz"))
            real = of_truth(truth)
            if stream == reference or not real:
                continue
            same, lines = agree(collected_file(stream, reference)[-1], real)
            bad |= same < min(MOST, len(real))
            print(f"{stream.name}: {same} of {min(MOST, len(real))}", *lines, sep="\n", flush=True)
    found = every = 0
    for job in [job for job in all_jobs(quick=False) if job.kind == "faults"][: options.made]:
        drive, against = kept(job, default_folder(), True), kept(job.reference(), default_folder(), True)
        truth = truth_of(job.name, job.scatter, drive, studied(against))
        real = dearest((f.kind, f"T{f.corner}", f.start, f.exit, f.lost) for f in truth.faults)
        same, lines = agree(collected_file(drive.stream, against.stream)[-1], real)
        found, every = found + same, every + min(MOST, len(real))
        print(f"{job.name}: {same} of {min(MOST, len(real))}", *lines, sep="\n", flush=True)
    if every:
        print(f"made drives: {found} of {every} ({100 * found / every:.0f} %)")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
