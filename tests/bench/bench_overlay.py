"""What the overlay costs: `python -m tests.bench.bench_overlay [--seconds S] [--scale X]`.

A real window, on DISPLAY, on an Xvfb of its own, or on SDL's dummy driver; a thread sends 60 moments and 10 deltas a
second, and the float moves all the time, which is the worst case. Printed: CPU of the drawing thread a frame and as a
share of one core, at 30 and 60 frames a second, when the sprites have been drawn once (the second half of the run), the
time between two frames, and what `take` costs the engine's thread.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import threading
import time
from contextlib import ExitStack
from itertools import pairwise
from math import sin
from pathlib import Path

from coach.overlay.drawing import Drawing, Frame
from coach.overlay.keeper import ViewKeeper
from coach.overlay.overlay import Overlay, open_overlay
from coach.overlay.toolkit import pygame
from coach.vocabulary.events import Delta, Event, Reference
from tests.overlay.xserver import there, x_server
from tests.planner.made_circuit import drive, lap_trace

RATE = 60


def events(seconds: float) -> list[list[Event]]:
    """What comes with each sample: a lap of the made circuit, with a delta that goes to and fro."""
    trace = lap_trace()
    out: list[list[Event]] = [[Reference(0.0, 1, trace.time[-1], "made", trace)]]
    for sample, moment in enumerate(drive(trace, laps=100, rate=RATE)):
        if sample > seconds * RATE:
            break
        delta = 0.6 * sin(sample / 40)
        tenth = sample % 6 == 0
        out.append([Delta(moment.t, moment.lap, moment.distance or 0.0, delta)] if tenth else [])
        out[-1].append(moment)
    return out


def run(seconds: float, fps: float, scale: float) -> tuple[float, float, list[float]]:
    """In the second half: CPU s of the drawing thread, wall s, and the wall s between its frames."""
    overlay = open_overlay(print, scale=scale)
    over = threading.Event()
    engine = threading.Thread(target=send, args=(overlay, events(seconds), over))
    stamps: list[tuple[float, float]] = []

    def until() -> bool:
        stamps.append((time.perf_counter(), time.thread_time()))
        return over.is_set()

    engine.start()
    overlay.run(until, fps)
    engine.join()
    half = stamps[len(stamps) // 2 :]
    (began, spent), (ended, at_end) = half[0], half[-1]
    return at_end - spent, ended - began, [later[0] - sooner[0] for sooner, later in pairwise(half)]


def send(overlay: Overlay, batches: list[list[Event]], over: threading.Event) -> None:
    began = time.perf_counter()
    for sample, batch in enumerate(batches):
        for event in batch:
            overlay.take(event)
        time.sleep(max(0.0, began + sample / RATE - time.perf_counter()))
    over.set()


def drawing_cost(scale: float) -> float:
    """s to draw one frame that was drawn before, without a window."""
    drawing = Drawing(scale)
    surface = pygame.Surface(drawing.size)
    frames = [Frame("driving", up % 40, 20, 20, 10, "+0.42", 20) for up in range(200)]
    best = float("inf")
    for _ in range(3):
        began = time.perf_counter()
        for frame in frames:
            drawing.draw(surface, frame)
        best = min(best, time.perf_counter() - began)
    return best / len(frames)


def main() -> None:
    parsed = argparse.ArgumentParser(description=__doc__)
    parsed.add_argument("--seconds", type=float, default=12.0)
    parsed.add_argument("--scale", type=float, default=1.0)
    asked = parsed.parse_args()
    with ExitStack() as opened:
        if not os.environ.get("DISPLAY"):
            if there():
                folder = Path(opened.enter_context(tempfile.TemporaryDirectory()))
                os.environ["DISPLAY"] = opened.enter_context(x_server(folder)).display
            else:
                os.environ["SDL_VIDEODRIVER"] = "dummy"
        for fps in (30.0, 60.0):
            spent, wall, between = run(asked.seconds, fps, asked.scale)
            between.sort()
            p99 = between[int(0.99 * (len(between) - 1))]
            print(
                f"{fps:.0f} frames a second: {spent / len(between) * 1e3:.3f} ms CPU a frame, "
                f"{spent / wall:.2%} of a core; between frames p99 {p99 * 1e3:.1f} ms, "
                f"max {between[-1] * 1e3:.1f} ms"
            )
    keeper, batches = ViewKeeper(), events(600.0)
    count = sum(len(batch) for batch in batches)
    began = time.perf_counter()
    for batch in batches:
        for event in batch:
            keeper.take(event)
    print(f"take: {(time.perf_counter() - began) / count * 1e6:.2f} us an event, {count} events")
    print(f"draw: {drawing_cost(asked.scale) * 1e6:.0f} us a frame")


if __name__ == "__main__":
    main()
