"""What a kill -9 costs a recording: `python -m tests.bench.bench_kill [--times 100] [--seed 1]`.

The real command, `record` and `drive --record` in turn, under a stream of 60 to 360 datagrams a second by UDP, is
killed with SIGKILL at a random moment between 0.3 and 3 s after the first datagram. Then its file is opened and
replayed. Printed: how many files opened, replayed and kept their head, and how many s of what was sent are missing at
their end (worst, median), and of datagrams in the middle (there must be none but those that the system dropped).
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import random
import signal
import socket
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from coach.app.cli import main as command
from feeds.base import Datagram
from feeds.recording import open_recording
from tests.make_stream import make_drive, test_loop
from tests.real.command import running

RATES = (60, 100, 250, 360)
ALLOWED = 1.0
"""s that may be missing at the end (the issue)."""


@dataclass(slots=True)
class Killed:
    """One kill. `missing` s at the end; `holes`: datagrams missing before the last one kept."""

    verb: str
    rate: int
    sent: int
    kept: int
    missing: float
    holes: int
    replayed: bool
    told: str


def payloads(count: int) -> list[bytes]:
    """What a simulator sends, each datagram with its number in a channel that is not ours."""
    rows = make_drive(test_loop(), laps=1, rate=60.0).rows
    made = []
    for number in range(count):
        row = rows[number % len(rows)] | {"t": number / 360, "number": number}
        made.append(json.dumps(row, separators=(",", ":")).encode())
    return made


def kill(verb: str, rate: int, after: float, datagrams: list[bytes], folder: Path) -> Killed:
    """Run the command, kill it `after` s behind the first datagram, and look at its file."""
    file = folder / "killed.cwrec"
    file.unlink(missing_ok=True)
    arguments = ("record", file) if verb == "record" else ("drive", "--record", file)
    times: list[float] = []
    with running(*arguments) as process, socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as source:
        source.connect(("127.0.0.1", process.port))
        begun = time.perf_counter()
        for number, data in enumerate(datagrams):
            due = begun + number / rate
            while (now := time.perf_counter()) < due:
                time.sleep(min(due - now, 0.002))
            if now - begun >= after:
                break
            source.send(data)
            times.append(now)
        killed_at = time.perf_counter()
        process.end(signal.SIGKILL)
    numbers = []
    told = ""
    recording = None
    with contextlib.suppress(Exception):
        recording = open_recording(file)
        numbers = [json.loads(item.data)["number"] for item in recording if isinstance(item, Datagram)]
    if recording is None:
        told = "the file does not open"
    elif recording.head is None:
        told = "the head is lost"
    elif numbers != sorted(set(numbers)):
        told = "out of order"
    last = numbers[-1] if numbers else -1
    missing = killed_at - (times[last + 1] if last + 1 < len(times) else killed_at)
    with contextlib.redirect_stderr(io.StringIO()) as said, contextlib.redirect_stdout(io.StringIO()):
        code = command(["replay", "--fast", str(file)])
    if code and not numbers and recording is not None and recording.head is not None:
        code = 0  # killed within its first second: there is nothing but the head yet, and the replay says so
    if code:
        told = told or said.getvalue().strip()
    return Killed(verb, rate, len(times), len(numbers), missing, last + 1 - len(numbers), code == 0, told)


def main() -> int:
    """Kill as often as asked, and print what it came to."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--times", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    datagrams = payloads(3 * 360 + 360)
    found: list[Killed] = []
    with tempfile.TemporaryDirectory() as folder:
        for number in range(asked.times):
            verb = ("record", "drive")[number % 2]
            one = kill(verb, chance.choice(RATES), chance.uniform(0.3, 3.0), datagrams, Path(folder))
            found.append(one)
            if one.told or one.missing > ALLOWED:
                print(f"{number}: {one}", file=sys.stderr)
    return told(found)


def told(found: list[Killed]) -> int:
    """Print the figures; 1 where a file did not replay or more than a second is missing."""
    for verb in ("record", "drive"):
        of = [one for one in found if one.verb == verb]
        if not of:
            continue
        missing = [one.missing for one in of]
        print(
            f"{verb:6}  {len(of)} killed, {sum(one.replayed for one in of)} replayed, "
            f"{sum(not one.told for one in of)} without a fault; missing at the end: "
            f"median {median(missing):.3f} s, worst {max(missing):.3f} s; "
            f"in the middle {sum(one.holes for one in of)} of {sum(one.sent for one in of)} datagrams"
        )
    return int(any(one.told or not one.replayed or one.missing > ALLOWED for one in found))


if __name__ == "__main__":
    sys.exit(main())
