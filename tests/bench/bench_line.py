"""What the line costs, in one run over the same datagrams: `python -m tests.bench.bench_line [FILE]`.

The floor is `recv_into` on a filled loopback socket and `json.loads` of what came. Beside it: decoding to a Sample,
the engine, the planner, and the whole replay as a multiple of real time. Without a file it runs the invented circuit,
at `--rate` Hz. The last lines are CPU time, so that other work on the machine does not count: the engine alone, and its
dearest samples, which are those at which a corner pass is judged and a lap is studied.
"""

from __future__ import annotations

import argparse
import json
import socket
import statistics
from pathlib import Path
from time import perf_counter, process_time_ns

from coach.app.source import Source
from coach.app.start import SessionStart, fresh
from coach.engine.engine import Engine
from coach.planner.planner import Planner
from feeds.base import Datagram
from feeds.generic import GenericFeed
from feeds.recording import open_recording
from tests.make_stream import Mistake, make_drive, test_loop

ROOM = 60
"""datagrams of a kilobyte that fit into any system's receive buffer"""


def datagrams(file: Path | None, rate: float) -> list[bytes]:
    if file is None:
        mistakes = [Mistake("late_throttle", 4, 1, 0.5), Mistake("early_downshift", 5, 4, 400.0)]
        return make_drive(test_loop(), laps=6, rate=rate, mistakes=mistakes, scatter=0.01).datagrams()
    return [item.data for item in open_recording(file) if isinstance(item, Datagram)]


def floor(sent: list[bytes]) -> float:
    """s a datagram: `recv_into` and `json.loads`, sending left out."""
    buffer, spent = bytearray(65_535), 0.0
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender,
    ):
        receiver.bind(("127.0.0.1", 0))
        sender.connect(receiver.getsockname())
        for start in range(0, len(sent), ROOM):
            batch = sent[start : start + ROOM]
            for data in batch:
                sender.send(data)
            began = perf_counter()
            for _ in batch:
                size = receiver.recv_into(buffer)
                json.loads(buffer[:size])
            spent += perf_counter() - began
    return spent / len(sent)


def main() -> None:
    parsed = argparse.ArgumentParser(description=__doc__)
    parsed.add_argument("file", type=Path, nargs="?")
    parsed.add_argument("--reference")
    parsed.add_argument("--rate", type=float, default=50.0, help="Hz, of the invented circuit")
    parsed.add_argument("--rounds", type=int, default=3)
    asked = parsed.parse_args()
    sent = datagrams(asked.file, asked.rate)
    start = fresh(Source(), asked.reference, ())
    rounds = [measured(sent, start) for _ in range(asked.rounds)]
    best = [min(column) for column in zip(*rounds, strict=True)]
    base, decode, engine, planner, whole, p99 = best
    t = [json.loads(data)["t"] for data in (sent[0], sent[-1])]
    print(f"{len(sent)} datagrams, {t[1] - t[0]:.0f} s of driving, best of {asked.rounds}")
    for name, cost in (
        ("recv_into + json.loads (the floor)", base),
        ("decode to a sample", decode),
        ("engine", engine),
        ("planner", planner),
        ("decode + engine + planner", whole),
    ):
        print(f"  {name:<36}{cost * 1e6:8.1f} us a sample   {cost / base:5.2f} x the floor")
    print(f"  {'engine + planner, 99th percentile':<36}{p99 * 1e6:8.1f} us")
    print(f"  replay: {(t[1] - t[0]) / (whole * len(sent)):.0f} times real time, without the log")
    each = sorted(engine_alone(sent, start))
    points = {"mean": sum(each) / len(each)}
    points |= {f"{100 * part:g} %": each[int(part * len(each))] for part in (0.5, 0.99, 0.999)}
    points["most"] = each[-1]
    print("  engine, CPU us a sample: " + ", ".join(f"{name} {1e6 * cost:.1f}" for name, cost in points.items()))


def engine_alone(sent: list[bytes], start: SessionStart) -> list[float]:
    """s of CPU time of each sample in the engine."""
    feed, engine, each = GenericFeed(), Engine(start.engine), []
    for data in sent:
        sample = feed.decode(data)
        began = process_time_ns()
        engine.push(sample)
        each.append((process_time_ns() - began) * 1e-9)
    return each


def measured(sent: list[bytes], start: SessionStart) -> tuple[float, ...]:
    """s a datagram of each part, and the 99th percentile of engine and planner together."""
    base = floor(sent)
    feed, engine, planner = GenericFeed(), Engine(start.engine), Planner(start.planner)
    decode_spent = engine_spent = planner_spent = 0.0
    each = []
    began = perf_counter()
    for data in sent:
        a = perf_counter()
        sample = feed.decode(data)
        b = perf_counter()
        events = engine.push(sample)
        c = perf_counter()
        for event in events:
            planner.push(event)
        d = perf_counter()
        decode_spent += b - a
        engine_spent += c - b
        planner_spent += d - c
        each.append(d - b)
    whole = perf_counter() - began
    count = len(sent)
    p99 = statistics.quantiles(each, n=100)[98]
    return base, decode_spent / count, engine_spent / count, planner_spent / count, whole / count, p99


if __name__ == "__main__":
    main()
