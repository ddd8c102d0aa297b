"""Drive every fixture's recording anew: `PYTHONPATH=.:tests python -m golden.make [NAME...]`.

Recordings are kept in the repository: they must replay next year as they do today, whatever becomes of the car. Make
them anew only for a reason, then write what is said (`golden.write`) and look at it.
"""

from __future__ import annotations

import gzip
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from golden.case import FIXTURES, Line
from golden.streams import FEW, PLACED, Plan, drive, lines, only, rough

from feeds.car.send import encode
from feeds.car.spec import PELLOW_S

PLANS = {
    "steady": Plan(seed=100, run_out=1.0),
    "brakes": Plan(
        "early_braking:1:1:18 soft_braking:1:6:4 lock_up:1:8:0.6 early_braking:1:12:15 "
        "late_braking:2:4:20 soft_braking:2:8:3.5 lock_up:2:12:0.7",
        seed=31,
    ),
    "throttle": Plan(
        "late_throttle:1:1:0.6 throttle_lift:1:4:0.5 late_throttle:1:6:0.8 throttle_lift:1:12:0.6 "
        "over_slowed:2:1:3 coasting:2:6:1.4 late_throttle:2:12:0.5",
        seed=32,
    ),
    "line": Plan(
        "narrow_exit:1:1:2.8 narrow_entry:1:4:2.8 missed_apex:1:7:3 missed_apex:1:12:2.8 "
        "narrow_entry:2:6:2.8 off_track:2:8:1.2 narrow_exit:2:12:2.8",
        seed=33,
    ),
    "gears": Plan(
        "early_downshift:1:4:600 early_downshift:1:8:500 late_upshift:1:12:900 "
        "early_downshift:2:6:600 early_upshift:2:12:1100",
        seed=34,
    ),
    "turn-in": Plan(
        "early_turn_in:1:1:10 late_turn_in:1:4:9 early_turn_in:1:8:9 early_turn_in:1:12:9",
        laps=1,
        seed=36,
    ),
    "slides": Plan(
        "wheelspin:1:12:0.35 lock_up:1:6:0.6",
        laps=2,
        seed=43,
        until=162.0,
        oil=((37.6, 38.0, 0.3), (153.4, 155.4, 0.1)),
    ),
    "front-driven": Plan(
        "late_throttle:2:1:0.8 early_downshift:2:4:500 early_braking:2:6:18 late_throttle:2:10:0.7 lock_up:2:12:0.6",
        seed=14,
        car=PELLOW_S,
    ),
    "beginner": Plan(seed=21, person="beginner"),
    "few-channels": Plan("late_throttle:1:4:0.9 early_downshift:1:8:600 late_throttle:1:12:0.6", laps=1, seed=15),
    "position-only": Plan("late_throttle:2:1:0.6 early_downshift:2:4:500 late_throttle:2:10:0.7", seed=16),
    "rough-stream": Plan("late_throttle:2:10:0.7 narrow_exit:2:12:2.8", laps=3, seed=17, until=215.0),
    "topic": Plan("late_throttle:1:1:0.8 late_throttle:2:1:0.8 late_throttle:3:1:0.8", laps=6, seed=19),
    "recorded": Plan("early_braking:1:1:16 late_throttle:1:6:0.7 early_downshift:1:12:400", laps=1, seed=18),
}
SPOILT: dict[str, Callable[[list[Line]], bytes]] = {
    "few-channels": lambda rows: lines(only(rows, FEW)),
    "topic": lambda rows: lines(only(rows, FEW)),
    "position-only": lambda rows: lines(only(rows, PLACED)),
    "rough-stream": rough,
}


def recorded(rows: list[Line], file: Path) -> None:
    """Through the real thing: `drive --record`, fed by UDP."""
    reference = FIXTURES / "steady" / "drive.jsonl.gz"
    command = [sys.executable, "-m", "coach", "drive", "--no-voice", "--no-overlay", "--port", "0"]
    command += ["--record", str(file), "--reference", str(reference)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True) as process:
        assert process.stderr is not None
        port = int(process.stderr.readline().split(":")[1].split()[0])
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            for row in rows:
                out.sendto(encode(row), ("127.0.0.1", port))
        while "lap 1" not in process.stderr.readline():
            pass
        process.send_signal(signal.SIGINT)


def make(name: str) -> None:
    """Drive one fixture's recording."""
    folder = FIXTURES / name
    folder.mkdir(parents=True, exist_ok=True)
    rows = drive(PLANS[name])
    if name == "recorded":
        (folder / "drive.cwrec").unlink(missing_ok=True)
        recorded(rows, folder / "drive.cwrec")
    else:
        data = SPOILT.get(name, lines)(rows)
        (folder / "drive.jsonl.gz").write_bytes(gzip.compress(data, 9, mtime=0))


def main(names: list[str]) -> None:
    """All of them, or those named."""
    for name in names or PLANS:
        make(name)
        print(name, file=sys.stderr)


if __name__ == "__main__":
    main(sys.argv[1:])
