"""What the whole program costs, and how late it shows: `python -m tests.bench.bench_program [--seconds S] [--busy N]`.

`cornerword drive` as a driver has it, overlay and voice (SDL's dummy device) on an Xvfb of its own, fed 60 datagrams a
second by UDP, beside N processes that keep a core busy each. Printed:

- CPU of the program with all its processes, as a share of one core, by the second: median and 90th percentile, while
  the built-in circuit's laps make the float move; without the overlay too, so that its share is seen.
- from packet to pixel: a datagram that says that the car is in the pits, or is not any more, is stamped before it is
  sent, and the X server's picture is read until it shows that: p50 and p99. The overlay has the rate of its frames as
  its grain: half a frame is the mean that can be had.
"""

from __future__ import annotations

import argparse
import gzip
import json
import mmap
import os
import random
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import Process
from pathlib import Path
from statistics import median

from tests.make_stream import Mistake, make_drive, test_loop
from tests.overlay.xserver import WIDTH, XServer, x_server

TOP = Path(__file__).parents[2]
RATE = 60
TICKS = os.sysconf("SC_CLK_TCK")
LOOK = 0.0002
"""s between two looks at the picture."""
TOP_ROWS = 260 * 4 * WIDTH
"""bytes of the picture that are looked at: the overlay stands in the uppermost rows."""
PATIENCE = 1.0
"""s after which a change that was not seen is given up."""


@contextmanager
def busy(number: int) -> Iterator[None]:
    """That many processes that do nothing but keep a core busy."""
    running = [Process(target=spin, daemon=True) for _ in range(number)]
    for process in running:
        process.start()
    try:
        yield
    finally:
        for process in running:
            process.kill()


def spin() -> None:
    while True:
        pass


@contextmanager
def program(x: XServer, *arguments: str) -> Iterator[tuple[subprocess.Popen[str], socket.socket, int]]:
    """`cornerword drive` on that server: the process, a socket to send from, and the port to send to."""
    environment = {**x.environment(), "PYTHONPATH": str(TOP), "SDL_AUDIODRIVER": "dummy"}
    command = [sys.executable, "-m", "coach", "drive", "--port", "0", *arguments]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, env=environment
    ) as run:
        try:
            assert run.stderr is not None
            said = []
            for line in run.stderr:
                said.append(line)
                found = re.search(r"listening on 127\.0\.0\.1:(\d+)", line)
                if found:
                    break
            else:
                raise SystemExit("it did not start: " + "".join(said))
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
                yield run, out, int(found[1])
        finally:
            run.send_signal(signal.SIGINT)
            run.communicate(timeout=30)


def cpu(root: int) -> float:
    """CPU s that a process and its descendants have used so far."""
    parents, spent = {}, {}
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                fields = (folder / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue  # it ended meanwhile
            parents[int(folder.name)] = int(fields[1])
            spent[int(folder.name)] = (int(fields[11]) + int(fields[12])) / TICKS
    of = {root}
    while more := {process for process, parent in parents.items() if parent in of and process not in of}:
        of |= more
    return sum(spent.get(process, 0.0) for process in of)


def rows(laps: int, *mistakes: Mistake) -> list[bytes]:
    made = make_drive(test_loop(), laps, float(RATE), mistakes=mistakes, standing=False)
    return [json.dumps(row).encode() for row in made.rows]


def written(folder: Path) -> Path:
    """A reference: the best of two plain laps."""
    file = folder / "reference.jsonl.gz"
    with gzip.open(file, "wb") as out:
        out.write(b"\n".join(rows(2)) + b"\n")
    return file


def costs(x: XServer, reference: Path, seconds: float, *arguments: str) -> list[float]:
    """Shares of a core, by the second."""
    slow = [Mistake("late_throttle", lap, corner, 0.5) for lap in (1, 2, 3) for corner in (1, 6)]
    shares = []
    with program(x, "--reference", str(reference), *arguments) as (run, out, port):
        began = looked = time.perf_counter()
        spent = cpu(run.pid)
        for number, data in enumerate(rows(4, *slow)):
            out.sendto(data, ("127.0.0.1", port))
            time.sleep(max(0.0, began + (number + 1) / RATE - time.perf_counter()))
            now = time.perf_counter()
            if now - looked >= 1.0:
                before, spent = spent, cpu(run.pid)
                shares.append((spent - before) / (now - looked))
                looked = now
            if now - began > seconds:
                break
    return shares[3:]  # the first seconds are the start's


def delays(x: XServer, seconds: float) -> list[float]:
    """s from a datagram to the pixel that shows it."""
    chance, out_of = random.Random(1), []
    base = {"track": "loop", "car": "car", "lap": 1, "lap_distance": 40.0, "track_length": 2400.0, "speed": 0.0}
    with program(x) as (_, out, port), open(x._picture, "rb") as file:
        memory = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
        began, number, pit = time.perf_counter(), 0, False

        def send() -> None:
            nonlocal number
            data = json.dumps({**base, "t": number / RATE, "in_pit": pit}).encode()
            out.sendto(data, ("127.0.0.1", port))
            number += 1

        def settle(until: float) -> None:
            while time.perf_counter() < until:
                send()
                time.sleep(max(0.0, began + number / RATE - time.perf_counter()))

        settle(time.perf_counter() + 3.0)
        while time.perf_counter() - began < seconds:
            settle(time.perf_counter() + chance.uniform(0.25, 0.45))
            time.sleep(chance.uniform(0.0, 1.0 / RATE))
            before, pit = memory[:TOP_ROWS], not pit
            stamp = time.perf_counter()
            send()
            while (now := time.perf_counter()) - stamp < PATIENCE:
                if memory[:TOP_ROWS] != before:
                    out_of.append(now - stamp)
                    break
                if now >= began + number / RATE:
                    send()
                time.sleep(LOOK)
            else:
                raise SystemExit("a change was not shown within a second")
    return out_of


def shown(name: str, values: list[float], unit: str, factor: float) -> str:
    values = sorted(values)
    high = values[int(0.99 * (len(values) - 1))]
    return f"{name}: median {factor * median(values):.1f} {unit}, p99 {factor * high:.1f} {unit}, of {len(values)}"


def main() -> None:
    parsed = argparse.ArgumentParser(description=__doc__)
    parsed.add_argument("--seconds", type=float, default=40.0, help="for each of the measures")
    parsed.add_argument("--busy", type=int, default=1, help="processes that keep a core busy each")
    asked = parsed.parse_args()
    with tempfile.TemporaryDirectory() as name, x_server(Path(name)) as x, busy(asked.busy):
        reference = written(Path(name))
        print(shown("whole program", costs(x, reference, asked.seconds), "% of a core", 100.0))
        without = costs(x, reference, asked.seconds, "--no-overlay")
        print(shown("without overlay", without, "% of a core", 100.0))
        print(shown("packet to pixel", delays(x, asked.seconds), "ms", 1000.0))


if __name__ == "__main__":
    main()
