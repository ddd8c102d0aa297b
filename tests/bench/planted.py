"""Planted mistakes against what the coach found and said: `python -m tests.bench.planted [--car NAME] [--seed N]`.

Every fault that the engine finds, at three sizes and at each corner that can have it, with a reference of the same
driver's; one mistake a corner, neighbours on different laps. Prints planted and measured size, and whether it was said.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

from coach.app.cli import main as cornerword
from coach.engine.faults import FAMILIES
from coach.vocabulary.errors import InputError
from coach.vocabulary.faults import FAULTS
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import Mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import CARS

SIZES = {"early_downshift": (150.0, 400.0, 900.0), "late_throttle": (0.3, 0.6, 1.0)}
APART = 3
"""laps over which the corners are shared, so that no mistake disturbs the next corner's."""

Line = dict[str, Any]


def plan(car: str, kind: str, seed: int) -> list[Mistake]:
    """The mistakes of one drive: those that can happen in this car."""
    circuit, mistakes, lap = brack_mere(), [], 0
    for size in SIZES[kind]:
        for first in range(APART):
            lap += 1
            for corner in circuit.corners[first::APART]:
                mistake = Mistake(kind, lap, corner.number, size)
                try:
                    spec(car, [mistake], lap, seed)
                except InputError:
                    continue
                mistakes.append(mistake)
    return mistakes


def spec(car: str, mistakes: list[Mistake], laps: int, seed: int) -> Drive:
    return Drive(DriveSpec(brack_mere(), CARS[car], PERSONS["steady"], laps, 30, seed, mistakes=mistakes, run_out=40.0))


def drive(path: Path, car: str, mistakes: list[Mistake], laps: int, seed: int) -> Path:
    path.write_bytes(b"".join(encode(row) + b"\n" for row in spec(car, mistakes, laps, seed)))
    return path


def events(folder: Path, drive: Path, reference: Path) -> list[Line]:
    log = folder / "events.jsonl"
    with redirect_stdout(StringIO()):
        assert cornerword(["replay", "--fast", str(drive), "--reference", str(reference), "--events", str(log)]) == 0
    return [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]


def report(kind: str, mistakes: list[Mistake], log: list[Line]) -> None:
    faults = [event for event in log if event["type"] == "fault"]
    cues = [event for event in log if event["type"] == "cue"]
    print(f"\n{kind}, {FAULTS[kind].unit}\n  lap  turn  planted  measured     net  told")
    found = told = 0
    planted = set()
    for mistake in mistakes:
        here = (mistake.kind, mistake.lap, mistake.corner)
        planted.add(here)
        hit = next((f for f in faults if (f["fault"], f["lap"], f["corner"]) == here), None)
        spoken = [c for c in cues for of in c["of"] if (of["fault"], of["lap"], of["corner"]) == here]
        words = "; ".join(f'"{c["text"]}"' if c["spoken"] else str(c["why_not"]) for c in spoken)
        found += hit is not None
        told += any(c["spoken"] for c in spoken)
        size, net = ("-", "-") if hit is None else (f"{hit['size']:.2f}", f"{hit['net']:+.3f}")
        print(f"{mistake.lap:5}{mistake.corner:6}{mistake.size:9.2f}{size:>10}{net:>8}  {words}")
    others = [f for f in faults if (f["fault"], f["lap"], f["corner"]) not in planted]
    print(f"  {found} of {len(mistakes)} found, {told} told; others found: {len(others)}")
    for f in others:
        print(f"    {f['fault']} lap {f['lap']} turn {f['corner']} size {f['size']:.2f} net {f['net']:+.3f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--car", choices=CARS, default="Pellow R")
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        reference = drive(folder / "reference.jsonl", options.car, [], 3, 100)
        for kind in [fault for family in FAMILIES for fault in family.faults]:
            mistakes = plan(options.car, kind, options.seed)
            laps = max(mistake.lap for mistake in mistakes)
            rows = drive(folder / f"{kind}.jsonl", options.car, mistakes, laps, options.seed)
            report(kind, mistakes, events(folder, rows, reference))


if __name__ == "__main__":
    main()
