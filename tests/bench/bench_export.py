"""What an export costs: `python -m tests.bench.bench_export [--minutes 10] [--rate 360] [.csv .npz .mf4 .parquet]`.

The made car goes round and round for so many minutes; the recording of it is exported by the real command, each kind
in a process of its own. Printed: rows, time, size, and the most memory that the process had, beside that of a process
that exports ten seconds: what it needs for its libraries alone.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from coach.app.source import Source
from coach.app.start import fresh
from feeds.recording import RecordingWriter
from tests.make_stream import make_drive, test_loop

TOP = Path(__file__).parents[2]
CHILD = """
import resource, sys
from coach.app.cli import main
code = main(["export", sys.argv[1], sys.argv[2]])
print("peak", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
sys.exit(code)
"""


def recording(path: Path, minutes: float, rate: float) -> int:
    """Write the drive; returns the datagrams."""
    drive = make_drive(test_loop(), laps=1, rate=rate, standing=False)
    lap = drive.laps[0]
    rows = [row for row in drive.rows if row["lap"] == 1]
    count = round(minutes * 60 * rate)
    with RecordingWriter(path, fresh(Source(), None, ()).head()) as writer:
        for number in range(count):
            again, index = divmod(number, len(rows))
            t = rows[index]["t"] + again * lap.time
            row = rows[index] | {"t": round(t, 5), "lap": 1 + again, "fuel": 60.0 - t / 100}
            writer.datagram(1_750_000_000.0 + number / rate, json.dumps(row, separators=(",", ":")).encode())
    return count


def exported(source: Path, to: Path) -> tuple[float, float]:
    """Time in s and the most memory in MB of one export."""
    begun = time.perf_counter()
    command = [sys.executable, "-c", CHILD, str(source), str(to)]
    done = subprocess.run(command, cwd=TOP, capture_output=True, text=True, check=True)
    peak = int(done.stdout.rpartition("peak ")[2])
    return time.perf_counter() - begun, peak / (1e6 if sys.platform == "darwin" else 1e3) * 1.024


def main() -> None:
    """Print one line for each kind."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("kinds", nargs="*", default=[".csv", ".npz"])
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--rate", type=float, default=360.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        short, long = folder / "short.cwrec", folder / "long.cwrec"
        recording(short, 1 / 6, asked.rate)
        count = recording(long, asked.minutes, asked.rate)
        print(f"{count:,} datagrams in {long.stat().st_size / 1e6:.1f} MB")
        for kind in asked.kinds:
            _, least = exported(short, folder / f"short{kind}")
            seconds, most = exported(long, folder / f"long{kind}")
            size = (folder / f"long{kind}").stat().st_size / 1e6
            print(
                f"{kind:9} {seconds:6.1f} s   {size:7.1f} MB   most memory {most:.0f} MB, of ten seconds {least:.0f} MB"
            )


if __name__ == "__main__":
    main()
