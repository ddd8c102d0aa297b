"""From a decision to its sound: `python -m tests.bench.bench_voice [--cues N] [--busy N] [--engine] [--render]`.

Cues are taken by a voice whose device is a file (SDL's disk driver), so that the sample in the stream at which each
sound begins is known exactly: it is when the mixer hands its buffer with that sample to the device. What a card, its
driver and a radio link add comes on top. `--buffer` is the mixer's, in samples of 1/22050 s; `--render` renders real
phrases beside it, as on the first lap of a circuit. `--busy` runs so many other processes that do nothing but count,
`--engine` keeps this process's own interpreter as busy as a fast stream does.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from coach.planner.phrases import Phrases
from coach.playbook.load import load
from coach.vocabulary.events import Cue
from voice import process
from voice.bank import Bank
from voice.mixer import BUFFER
from voice.open import RATE
from voice.player import Player
from voice.render import Facts, Rendered, Renderer
from voice.shelf import Shelf
from voice.store import Identity
from voice.supply import Supply
from voice.trim import SAMPLE_RATE
from voice.voice import Voice

SECONDS = 0.06
"""s of each sound: noise, which is found again in the stream without doubt."""
NEAR = 15
"""Cues to each side among which one is taken to have come just before the mixer's next look."""
BUSY = "while True: pass"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the percentiles in ms."""
    parser = argparse.ArgumentParser(prog="bench_voice", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--cues", type=int, default=200)
    parser.add_argument("--busy", type=int, default=0)
    parser.add_argument("--engine", action="store_true")
    parser.add_argument("--render", action="store_true")
    parser.add_argument("--buffer", type=int, default=BUFFER)
    options = parser.parse_args(arguments)
    others = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(options.busy)]
    try:
        with tempfile.TemporaryDirectory() as folder:
            _bench(Path(folder), options)
    finally:
        for other in others:
            other.kill()
            other.wait()
    return 0


def _bench(folder: Path, options: argparse.Namespace) -> None:
    cues = options.cues
    stream, log = folder / "stream.raw", folder / "log.jsonl"
    os.environ |= {"SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(stream)}
    bank = _bank(folder, cues)
    command = [*process.module("voice.mixer"), f"--buffer={options.buffer}"]
    voice = Voice(1.0, print, log, lambda hear: Player(hear, command))
    voice.wait(5.0)
    voice.use(bank)
    over = threading.Event()
    burning = threading.Thread(target=_burn, args=(over,)) if options.engine else None
    supply = _supply(folder) if options.render else None
    if burning is not None:
        burning.start()
    taking = [_take(voice, text) for text in bank.seconds]
    over.set()
    if burning is not None:
        burning.join()
    if supply is not None:
        supply.close()
    voice.close()
    lines = [json.loads(line) for line in log.read_text().splitlines()]
    played = [line for line in lines if line["what"] == "cue" and line["source"] == "bank"]
    print(f"{len(played)} of {cues} cues played, device {lines[1]['driver']}, buffer {lines[1]['buffer']}")
    _print("take() itself", [took * 1000 for took in taking])
    _print("decision to the mixer", [line["latency_ms"] for line in played])
    raw = stream.read_bytes()
    places = [_place(raw, bank.sound(line["text"]) or b"") for line in played]
    # the file's pace is off by some parts in a thousand, as its driver sleeps whole milliseconds: fitted here
    pace, start = np.polyfit(places, [line["started"] for line in played], 1)
    heard = [start + pace * place - line["decided"] for place, line in zip(places, played, strict=True)]
    early = [min(heard[max(n - NEAR, 0) : n + NEAR]) for n in range(len(heard))]
    _print(
        "decision to the sample in the stream", [(one - least) * 1000 for one, least in zip(heard, early, strict=True)]
    )
    print(f"  (from the earliest of {2 * NEAR} cues around; the file took {1 / pace:.0f} samples a second)")


def _take(voice: Voice, text: str) -> float:
    began = time.perf_counter()
    voice.take(Cue(0.0, 1, "correction", None, (), None, text, True, None, None, None, None))
    took = time.perf_counter() - began
    time.sleep(SECONDS + 0.12 + random.random() * 0.03)
    return took


def _supply(folder: Path) -> Supply:
    """Real phrases, more than can be rendered meanwhile."""
    facts = Renderer(RATE, folder).facts(None, lambda: False)
    identity = Identity(facts.engine, facts.voice, RATE)
    bank = Bank(facts, RATE, {}, {}, 0, 0.0, Shelf(folder / "supplied", identity, print))
    supply = Supply(bank, folder / "supplied", Renderer, lambda: None, print)
    supply.want(Phrases(load()).all())
    return supply


def _burn(over: threading.Event) -> None:
    """About 2 ms of plain Python in every 2.8 ms, as 360 samples a second would take where each is dear."""
    while not over.wait(0.0008):
        until = time.perf_counter() + 0.002
        while time.perf_counter() < until:
            sum(range(50))


def _bank(folder: Path, cues: int) -> Bank:
    chance = np.random.default_rng(7)
    made = {
        f"cue {n}": Rendered(
            chance.integers(-9000, 9000, round(SECONDS * SAMPLE_RATE), dtype=np.int16).tobytes(), SECONDS
        )
        for n in range(cues)
    }
    shelf = Shelf(folder / "cache", Identity("made", "made", 175), print)
    shelf.keep(made, None)
    return Bank(Facts("made", "made", "made"), 175, dict.fromkeys(made, SECONDS), {}, 0, 0.0, shelf)


def _place(raw: bytes, samples: bytes) -> int:
    place = raw.find(samples)
    if place < 0 or not samples:
        raise SystemExit("a sound is not in the stream")
    return place // 2


def _print(what: str, values: list[float]) -> None:
    p50, p90, p99 = np.percentile(values, [50, 90, 99])
    print(f"{what:40}  p50 {p50:8.3f}  p90 {p90:8.3f}  p99 {p99:8.3f}  max {max(values):8.3f} ms")


if __name__ == "__main__":
    sys.exit(main())
