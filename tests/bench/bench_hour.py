"""Whether anything is lost at the socket: `python -m tests.bench.bench_hour [--hz 360] [--packets N] [--pace P]`.

`cornerword drive` as a driver has it, overlay and voice (SDL's dummy device) on an Xvfb of its own, recording too,
beside a process that keeps core 0 busy. A process of its own sends it the built-in car's drive, one lap again and
again, `--hz` times a second, `--pace` times as fast as it was driven: an hour's worth at 360 Hz, 1,296,000, takes 15
minutes at `--pace 4`, at 1,440 a second. Each datagram carries the time at which it was sent, which the coach does not
read and the recording keeps. Printed:

- how many were sent, how many the recording holds, how many the system dropped (its own count, from /proc/net/udp, and
  the program's line), and by how much the sender was late: it has to share the cores as well
- CPU of the program with all its processes, as a share of one core
- from sending to the program's taking the datagram from the socket: p50, p99, longest
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from pathlib import Path

import orjson

from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec, Row
from feeds.car.person import PERSONS
from feeds.car.spec import PELLOW_R
from feeds.recording import open_recording
from tests.bench.bench_program import TOP, cpu, spin
from tests.overlay.xserver import XServer, x_server

HOUR = 1_296_000
"""datagrams: 360 a second for an hour."""
SETTLE = 1.5
"""s between the last datagram and the end."""
BEHIND = 0.001
"""s that the sender may be behind its time before it counts as late."""


@contextmanager
def busy_core() -> Iterator[None]:
    """A process that keeps core 0 busy."""
    process = multiprocessing.Process(target=_spin_on_one, daemon=True)
    process.start()
    try:
        yield
    finally:
        process.kill()
        process.join()


def _spin_on_one() -> None:
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    spin()


def one_lap(hz: int) -> tuple[list[Row], float]:
    """The rows of one flying lap from line to line, and the s that it takes."""
    rows = list(Drive(DriveSpec(brack_mere(), PELLOW_R, PERSONS["steady"], laps=2, rate=hz)))
    second = [row for row in rows if row["lap"] == 2]
    return second, len(second) / hz


def sent(rows: list[Row], lap_time: float, hz: int, pace: float, number: int, port: int, tell: Connection) -> None:
    """Sends that many datagrams; tells how many went out, and how many were late."""
    gone = late = 0
    began = time.perf_counter()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        out.connect(("127.0.0.1", port))
        for k in range(number):
            lap, place = divmod(k, len(rows))
            row = {**rows[place], "t": round(k / hz, 6), "lap": lap + 1, "last_lap_time": lap_time if lap else None}
            left = began + k / (hz * pace) - time.perf_counter()
            if left > 0.0:
                time.sleep(left)
            else:
                late += left < -BEHIND
            gone += out.send(orjson.dumps({**row, "sent": time.time()})) > 0
    tell.send((gone, late, time.perf_counter() - began))


@contextmanager
def program(x: XServer, *arguments: str) -> Iterator[tuple[subprocess.Popen[str], int, list[str]]]:
    """`cornerword drive`: the process, its port, and the lines that it says."""
    environment = {**x.environment(), "PYTHONPATH": str(TOP), "SDL_AUDIODRIVER": "dummy"}
    command = [sys.executable, "-m", "coach", "drive", "--port", "0", *arguments]
    said: list[str] = []
    ready = threading.Event()
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, env=environment
    ) as run:

        def listen() -> None:
            assert run.stderr is not None
            for line in run.stderr:
                said.append(line.rstrip("\n"))
                if line.startswith("listening on"):
                    ready.set()
            ready.set()

        reading = threading.Thread(target=listen)
        reading.start()
        try:
            ready.wait(60.0)
            found = re.search(r"listening on 127\.0\.0\.1:(\d+)", "\n".join(said))
            if found is None:
                raise SystemExit("it did not start: " + "\n".join(said))
            yield run, int(found[1]), said
        finally:
            run.send_signal(signal.SIGINT)
            try:
                run.wait(timeout=120)
            except subprocess.TimeoutExpired:
                run.kill()
            reading.join()


def system_drops(port: int) -> int:
    """What the system says it dropped at the port (proc_net_udp: the last column)."""
    for line in Path("/proc/net/udp").read_text().splitlines()[1:]:
        fields = line.split()
        if int(fields[1].rpartition(":")[2], 16) == port:
            return int(fields[-1])
    raise SystemExit(f"nobody listens on port {port}")


def kept(file: Path) -> list[float]:
    """s from sending to taking, of each datagram in the recording."""
    return [item.received - orjson.loads(item.data)["sent"] for item in open_recording(file) if hasattr(item, "data")]


def main() -> None:
    parsed = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parsed.add_argument("--hz", type=int, default=360, help="datagrams for each second of driving, 20 to 360")
    parsed.add_argument("--packets", type=int, default=HOUR)
    parsed.add_argument("--pace", type=float, default=4.0, help="how much faster than driven")
    parsed.add_argument("--no-voice", action="store_true")
    asked = parsed.parse_args()
    rows, lap_time = one_lap(asked.hz)
    size = len(orjson.dumps({**rows[0], "sent": time.time()}))
    quiet = ["--no-voice"] if asked.no_voice else []
    with tempfile.TemporaryDirectory() as name, x_server(Path(name)) as x, busy_core():
        file = Path(name) / "hour.cwrec"
        ours, theirs = multiprocessing.Pipe()
        with program(x, "--record", str(file), *quiet) as (run, port, said):
            arguments = (rows, lap_time, asked.hz, asked.pace, asked.packets, port, theirs)
            sender = multiprocessing.Process(target=sent, args=arguments, daemon=True)
            began, spent = time.perf_counter(), cpu(run.pid)
            sender.start()
            theirs.close()
            gone, late, seconds = ours.recv()
            share = (cpu(run.pid) - spent) / (time.perf_counter() - began)
            sender.join()
            time.sleep(SETTLE)
            drops = system_drops(port)
        delays = sorted(kept(file))
        megabytes = file.stat().st_size / 1e6
    voice = "without voice" if asked.no_voice else "with voice"
    print(f"{gone} datagrams of {size} bytes sent in {seconds:.0f} s ({gone / seconds:.0f} a second), overlay, {voice}")
    print(f"{late} of them over {1000 * BEHIND:.0f} ms late")
    print(f"{len(delays)} recorded ({megabytes:.0f} MB), {drops} dropped by the system, {gone - len(delays)} lost")
    print(f"program: {100.0 * share:.0f} % of a core")
    p50, p99 = (delays[int(share * (len(delays) - 1))] for share in (0.5, 0.99))
    print(f"from sending to taking: p50 {1e3 * p50:.2f} ms, p99 {1e3 * p99:.2f} ms, longest {1e3 * delays[-1]:.1f} ms")
    print("it said:")
    for line in said:
        if not re.match(r"(lap |listening |telemetry from )", line):
            print(f"  {line}")
    if drops or gone != len(delays):
        raise SystemExit("something was lost")


if __name__ == "__main__":
    main()
