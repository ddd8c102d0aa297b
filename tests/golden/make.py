"""Drive every fixture's recording anew: `PYTHONPATH=.:tests python -m golden.make [NAME...]`.

Recordings are kept in the repository: they must replay next year as they do today, whatever becomes of the car. Make
them anew only for a reason, then write what is said (`golden.write`) and look at it.
"""

from __future__ import annotations

import gzip
import random
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from golden.case import FIXTURES, Line

from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import PELLOW_R, PELLOW_S, CarSpec

RATE = 20
LEFT_OUT = ("tyre_temp", "tyre_pressure", "damage", "fuel", "z", "az")
"""Channels that nothing is said of yet: without them a recording is half as large."""
FEW = ("t", "track", "car", "lap", "lap_distance", "track_length", "speed", "throttle", "brake", "gear", "engine_speed")
PLACED = (
    "t",
    "track",
    "car",
    "x",
    "y",
    "yaw",
    "speed",
    "throttle",
    "brake",
    "gear",
    "engine_speed",
    "engine_speed_max",
)


def drive(
    mistakes: str = "", laps: int = 2, seed: int = 1, car: CarSpec = PELLOW_R, run_out: float = 12.0
) -> list[Line]:
    planted = [read_mistake(text) for text in mistakes.split()]
    spec = DriveSpec(brack_mere(), car, PERSONS["steady"], laps, RATE, seed, mistakes=planted, run_out=run_out)
    return [{key: value for key, value in row.items() if key not in LEFT_OUT} for row in Drive(spec)]


def only(rows: Iterable[Line], keys: Iterable[str]) -> Iterator[Line]:
    for row in rows:
        yield {key: row[key] for key in keys}


def rough(rows: list[Line]) -> Iterator[bytes]:
    """What a bad day brings: one in twenty is lost, some come twice or late, three seconds are missing, a pause, a
    reset to the pits in lap 3, and things that are no datagrams."""
    dice = random.Random(4)
    held: bytes | None = None
    for row in rows:
        t = row["t"]
        if 130.0 <= t < 133.0:
            continue  # the cable
        if 250.0 <= t < 256.0:
            row = {**row, "in_pit": True, "speed": 0.0, "lap_distance": 12.0, "x": 10.0, "y": -30.0}
        if 40.0 <= t < 41.0:
            row = {**row, "paused": True}
        data, chance = encode(row), dice.random()
        if chance < 0.05:
            continue
        if 0.07 <= chance < 0.09:
            held = data
            continue
        yield data
        if chance < 0.07:
            yield data
        if held is not None:
            yield held
            held = None
        if chance > 0.998:
            yield b'{"t": "noon"}'


def recorded(file: Path) -> None:
    """Through the real thing: `drive --record`, fed by UDP."""
    reference = FIXTURES / "steady" / "drive.jsonl.gz"
    command = [sys.executable, "-m", "coach", "drive", "--no-voice", "--no-overlay", "--port", "0"]
    command += ["--record", str(file), "--reference", str(reference)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True) as process:
        assert process.stderr is not None
        port = int(process.stderr.readline().split(":")[1].split()[0])
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            for row in drive(MISTAKES["recorded"], laps=1, seed=18):
                out.sendto(encode(row), ("127.0.0.1", port))
        while "lap 1" not in process.stderr.readline():
            pass
        process.send_signal(signal.SIGINT)


def lines(rows: Iterable[Line]) -> bytes:
    return b"".join(encode(row) + b"\n" for row in rows)


MISTAKES = {
    "late-throttle": "late_throttle:1:1:0.5 late_throttle:1:6:0.8 late_throttle:2:4:0.6 late_throttle:2:12:0.4",
    "early-downshift": (
        "early_downshift:1:4:300 early_downshift:1:12:500 early_downshift:2:1:600 early_downshift:2:8:400"
    ),
    "front-driven": "late_throttle:2:1:0.6 early_downshift:2:4:500 late_throttle:2:10:0.7",
    "few-channels": "late_throttle:1:4:0.7 early_downshift:1:8:600 late_throttle:1:12:0.6",
    "position-only": "late_throttle:2:1:0.6 early_downshift:2:4:500 late_throttle:2:10:0.7",
    "rough-stream": "late_throttle:2:4:0.7",
    "recorded": "late_throttle:1:4:0.6 early_downshift:1:12:400",
}
MAKERS: dict[str, Callable[[], bytes]] = {
    "steady": lambda: lines(drive(seed=100, run_out=1.0)),
    "late-throttle": lambda: lines(drive(MISTAKES["late-throttle"], seed=11)),
    "early-downshift": lambda: lines(drive(MISTAKES["early-downshift"], seed=12)),
    "front-driven": lambda: lines(drive(MISTAKES["front-driven"], seed=14, car=PELLOW_S)),
    "few-channels": lambda: lines(only(drive(MISTAKES["few-channels"], laps=1, seed=15), FEW)),
    "position-only": lambda: lines(only(drive(MISTAKES["position-only"], seed=16), PLACED)),
    "rough-stream": lambda: b"".join(data + b"\n" for data in rough(drive(MISTAKES["rough-stream"], laps=3, seed=17))),
}


def main(names: list[str]) -> None:
    for name, make in MAKERS.items():
        if not names or name in names:
            (FIXTURES / name).mkdir(parents=True, exist_ok=True)
            (FIXTURES / name / "drive.jsonl.gz").write_bytes(gzip.compress(make(), 9, mtime=0))
    if not names or "recorded" in names:
        file = FIXTURES / "recorded" / "drive.cwrec"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.unlink(missing_ok=True)
        recorded(file)


if __name__ == "__main__":
    main(sys.argv[1:])
