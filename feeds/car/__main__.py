"""Drive the built-in car and send its telemetry: `python -m feeds.car --to 127.0.0.1:26763`."""

from __future__ import annotations

import argparse
import gzip
import json
import math
import os
import sys
import threading
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NoReturn

from coach.vocabulary.errors import CornerwordError, InputError, WorkError
from feeds.car.circuit import CIRCUITS
from feeds.car.drive import RATES, RUN_OUT, Drive, DriveSpec, Row
from feeds.car.mistakes import KINDS, read_mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode, send
from feeds.car.spec import CARS


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, as every error of ours is said."""

    def error(self, message: str) -> NoReturn:
        self.exit(InputError.exit_code, f"feeds.car: {message}; see {self.prog} --help\n")


def parser() -> argparse.ArgumentParser:
    """The command line."""
    top = _Parser(prog="python -m feeds.car", description=(__doc__ or "").split("\n")[0], allow_abbrev=False)
    where = top.add_mutually_exclusive_group(required=True)
    where.add_argument("--to", metavar="HOST:PORT", help="send it there by UDP; prints how many datagrams went")
    where.add_argument("--out", metavar="FILE", type=Path, help="write it to a file, .jsonl or .jsonl.gz, at once")
    top.add_argument("--laps", metavar="N", type=int, default=4, help="whole laps, from a rolling start (4)")
    top.add_argument("--rate", metavar="HZ", type=int, default=60, help=f"datagrams a second, {RATES[0]} to {RATES[1]}")
    top.add_argument("--car", choices=CARS, default=next(iter(CARS)))
    top.add_argument("--circuit", choices=CIRCUITS, default=next(iter(CIRCUITS)))
    top.add_argument("--driver", choices=PERSONS, default=next(iter(PERSONS)))
    top.add_argument("--seed", metavar="N", type=int, default=1, help="another seed scatters otherwise (1)")
    kinds = f"a planted mistake, given as often as wanted; kinds: {', '.join(KINDS)}"
    top.add_argument("--mistake", metavar="KIND:LAP:CORNER:SIZE", action="append", default=[], help=kinds)
    top.add_argument("--pace", metavar="X", type=float, default=1.0, help="times real speed; 0 is as fast as it goes")
    top.add_argument("--run-out", metavar="S", type=float, default=RUN_OUT, help="s driven behind the line (12)")
    top.add_argument("--truth", metavar="FILE", type=Path, help="write the lap times and the mistakes, JSON")
    top.add_argument("--leash", action="store_true", help="end when standard input closes: with whoever started it")
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run it; returns the exit code: 0 done, 1 the work failed, 2 the command line was wrong."""
    options = parser().parse_args(arguments)
    try:
        _run(options)
    except CornerwordError as error:
        print(f"feeds.car: {error}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        return 1
    return 0


def _run(options: argparse.Namespace) -> None:
    address = None if options.to is None else _address(options.to)
    pace, run_out = _positive("--pace", options.pace), _positive("--run-out", options.run_out)
    mistakes = [read_mistake(text) for text in options.mistake]
    drive = Drive(
        DriveSpec(
            CIRCUITS[options.circuit](),
            CARS[options.car],
            PERSONS[options.driver],
            laps=options.laps,
            rate=options.rate,
            seed=options.seed,
            mistakes=mistakes,
            run_out=run_out,
        )
    )
    if address is None:
        _write(options.out, _packed(options.out, drive))
    else:
        stop = _leash() if options.leash else threading.Event()
        print(send(drive, address, pace or None, stop.is_set))
    if options.truth is not None:
        truth = {
            "laps": {str(lap): round(seconds, 4) for lap, seconds in drive.lap_times.items()},
            "mistakes": [{"fault": m.kind, "lap": m.lap, "corner": m.corner, "size": m.size} for m in mistakes],
        }
        _write(options.truth, json.dumps(truth, indent=1).encode() + b"\n")


def _packed(path: Path, rows: Iterable[Row]) -> bytes:
    lines = b"".join(encode(row) + b"\n" for row in rows)
    return gzip.compress(lines, mtime=0) if path.suffix == ".gz" else lines


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise WorkError(f"{path}: cannot be written ({error.strerror}); choose another place") from error


def _address(text: str) -> tuple[str, int]:
    host, _, port = text.rpartition(":")
    if not host or not port.isdecimal() or not 0 < int(port) < 65536:
        raise InputError(f"--to {text!r}: give HOST:PORT, for example 127.0.0.1:26763")
    return host.strip("[]"), int(port)


def _positive(option: str, value: float) -> float:
    if not 0.0 <= value < math.inf:
        raise InputError(f"{option} {value:g}: give 0 or more")
    return value


def _leash() -> threading.Event:
    """Set when standard input closes: whoever holds its other end is gone."""
    gone = threading.Event()

    def wait() -> None:
        while os.read(0, 1024):  # not sys.stdin: its lock would be held when the process ends
            pass
        gone.set()

    threading.Thread(target=wait, name="leash", daemon=True).start()
    return gone


if __name__ == "__main__":
    sys.exit(main())
