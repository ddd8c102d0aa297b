"""What the overlay costs: `python -m tests.bench.bench_overlay [--seconds S] [--pitch MM] [--desktop NAME]`.

A real window, on an Xvfb of its own with NAME beside it (see tests/overlay/xserver.py), on DISPLAY where it is set, or
on SDL's dummy driver (SDL_VIDEODRIVER=dummy, or where there is no Xvfb). A thread sends 60 moments and 10 deltas a
second, in three ways: `still`, where nothing is to be seen; `lap`, a lap whose delta comes and goes; `always`, where
the float moves in each frame, the worst case. Printed for the second half of each run, when the sprites are there: CPU
of the drawing thread as a share of one core, frames drawn a second and CPU a frame, and the time between two looks at
60 a second. Then how long a change takes from `take` to the screen, at rest and while all moves, what `take` costs the
engine's thread, and what one frame costs to draw.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from itertools import pairwise
from math import sin
from pathlib import Path

from coach.overlay.drawing import CAP_HEIGHT, Drawing, Frame
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import DISTANCE, Look
from coach.overlay.overlay import Overlay, open_overlay
from coach.overlay.placing import USUAL
from coach.overlay.sight import height_px
from coach.overlay.toolkit import pygame
from coach.overlay.window import OverlayWindow
from coach.vocabulary.events import Delta, Event, Reference, Stream
from tests.overlay.xserver import DESKTOPS, missing, x_server
from tests.planner.made_circuit import drive, lap_trace

RATE = 60
CHANGES = 150


def events(seconds: float, delta_at: Callable[[int], float] | None) -> list[list[Event]]:
    """What comes with each sample: laps of the made circuit, with this delta (s, by the sample's number) or none."""
    trace = lap_trace()
    out: list[list[Event]] = [[Reference(0.0, 1, trace.time[-1], "made", trace)]]
    for sample, moment in enumerate(drive(trace, laps=100, rate=RATE)):
        if sample > seconds * RATE:
            break
        batch: list[Event] = [moment]
        if delta_at is not None and sample % 6 == 0:
            batch.insert(0, Delta(moment.t, moment.lap, moment.distance or 0.0, delta_at(sample)))
        out.append(batch)
    return out


WAYS: dict[str, Callable[[int], float] | None] = {
    "still": None,
    "lap": lambda sample: 0.25 * sin(sample / 600),
    "always": lambda sample: 0.6 * sin(sample / 12),
}


class Stamped:
    """The overlay's window, which notes when each picture was shown."""

    def __init__(self, screen: OverlayWindow) -> None:
        self.shown: list[float] = []
        self._show = screen.show
        screen.show = self.show  # type: ignore[method-assign]

    def show(self, rects: Sequence[pygame.Rect] | None = None) -> None:
        self._show(rects)
        if rects is not None:
            self.shown.append(time.perf_counter())


def opened(pitch: float) -> tuple[Overlay, Stamped]:
    overlay = open_overlay(print, Look(pitch=pitch))
    return overlay, Stamped(overlay._screen)  # type: ignore[arg-type]


def run(seconds: float, way: str, pitch: float) -> str:
    """One line on the second half."""
    overlay, screen = opened(pitch)
    over = threading.Event()
    engine = threading.Thread(target=send, args=(overlay, events(seconds, WAYS[way]), over))
    stamps: list[tuple[float, float]] = []

    def until() -> bool:
        stamps.append((time.perf_counter(), time.thread_time()))
        return over.is_set()

    engine.start()
    overlay.run(until)
    engine.join()
    half = stamps[len(stamps) // 2 :]
    (began, spent), (ended, at_end) = half[0], half[-1]
    drawn = sum(began <= shown <= ended for shown in screen.shown)
    share, wall = (at_end - spent) / (ended - began), ended - began
    between = sorted(later[0] - sooner[0] for sooner, later in pairwise(half))
    p99 = between[int(0.99 * (len(between) - 1))]
    each = f", {(at_end - spent) / drawn * 1e3:.3f} ms CPU each" if drawn else ""
    return (
        f"{way}: {share:.2%} of a core; {drawn / wall:.1f} pictures a second{each}; {len(between) / wall:.0f} looks, "
        f"between two p99 {p99 * 1e3:.1f} ms, max {between[-1] * 1e3:.1f} ms"
    )


def send(overlay: Overlay, batches: list[list[Event]], over: threading.Event) -> None:
    began = time.perf_counter()
    for sample, batch in enumerate(batches):
        for event in batch:
            overlay.take(event)
        time.sleep(max(0.0, began + sample / RATE - time.perf_counter()))
    over.set()


def change(moving: bool, pitch: float) -> str:
    """From `take` to the screen, for a change that is seen at once: the stream is lost, and comes back."""
    overlay, screen = opened(pitch)
    waited: list[float] = []
    over = threading.Event()
    busy = events(3600.0, WAYS["always"]) if moving else []

    def engine() -> None:
        sent = 0
        for number in range(CHANGES):
            until = time.perf_counter() + 0.2 + 0.0037 * (number % 9)
            while time.perf_counter() < until:
                for event in busy[sent : sent + 1]:
                    for one in event:
                        overlay.take(one)
                sent += 1
                time.sleep(1.0 / RATE)
            began = time.perf_counter()
            overlay.take(Stream(0.0, 1, "lost" if number % 2 == 0 else "back", 0.0, None))
            while not (screen.shown and screen.shown[-1] > began) and time.perf_counter() < began + 1.0:
                time.sleep(0.0002)
            waited.append(next((shown for shown in screen.shown if shown > began), began + 1.0) - began)
        over.set()

    thread = threading.Thread(target=engine)
    thread.start()
    overlay.run(over.is_set)
    thread.join()
    waited.sort()
    p99 = waited[int(0.99 * (len(waited) - 1))]
    return f"p50 {waited[len(waited) // 2] * 1e3:.1f} ms, p99 {p99 * 1e3:.1f} ms of {len(waited)}"


def drawing_cost(pitch: float) -> float:
    """s to draw one frame that was drawn before, without a window."""
    drawing = Drawing(height_px(USUAL, DISTANCE, pitch) / CAP_HEIGHT)
    surface = pygame.Surface(drawing.size)
    frames = [Frame("driving", None, True, up % 40, 20, 20, 10, "+0.42", 20) for up in range(200)]
    best = float("inf")
    for _ in range(3):
        began = time.perf_counter()
        for frame in frames:
            drawing.draw(surface, frame)
        best = min(best, time.perf_counter() - began)
    return best / len(frames)


def main() -> None:
    parsed = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parsed.add_argument("--seconds", type=float, default=12.0)
    parsed.add_argument("--pitch", type=float, default=0.24, help="mm of a pixel; the finer, the larger the picture")
    parsed.add_argument("--desktop", choices=list(DESKTOPS), default="bare")
    asked = parsed.parse_args()
    with ExitStack() as opened_too:
        if os.environ.get("SDL_VIDEODRIVER") != "dummy" and not os.environ.get("DISPLAY"):
            if missing(asked.desktop):
                os.environ["SDL_VIDEODRIVER"] = "dummy"
            else:
                folder = Path(opened_too.enter_context(tempfile.TemporaryDirectory()))
                os.environ["DISPLAY"] = opened_too.enter_context(x_server(folder, asked.desktop)).display
        print(f"on {os.environ.get('SDL_VIDEODRIVER') or asked.desktop}")
        for way in WAYS:
            print(run(asked.seconds, way, asked.pitch))
        for moving in (False, True):
            print(f"a change is seen after {change(moving, asked.pitch)}, {'all moving' if moving else 'at rest'}")
    keeper, batches = ViewKeeper(), events(600.0, WAYS["always"])
    count = sum(len(batch) for batch in batches)
    began = time.perf_counter()
    for batch in batches:
        for event in batch:
            keeper.take(event)
    print(f"take: {(time.perf_counter() - began) / count * 1e6:.2f} us an event, {count} events")
    print(f"draw: {drawing_cost(asked.pitch) * 1e6:.0f} us a frame")


if __name__ == "__main__":
    main()
