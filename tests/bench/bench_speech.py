"""How well a recogniser understands the voices: `python -m tests.bench.bench_speech [--voices A,B] [--rates N,N]`.

All English phrases that name no corner, each against all others, with white noise 20 dB softer and over engine noise
at the level of the tests' bed and at that of a programme. It says which default voice and rate is understood best by
pocketsphinx, whose model is American; that is no evidence of people. About two minutes.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from coach.planner.phrases import Phrases
from coach.playbook.load import load
from tests.voice.engine_noise import BED_LUFS, bed
from tests.voice.recogniser import MODEL_RATE, Recogniser
from voice.checks import Expected
from voice.render import Rendered, Renderer

LOUD = -23.0
"""LUFS of a programme (EBU R 128)."""
ENGINE_SPEED = 7000.0
"""rev/min."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Print a table, and what was taken for something else."""
    parser = argparse.ArgumentParser(prog="bench_speech", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--voices", default="en-us,en-gb")
    parser.add_argument("--rates", default="150,175,200", help="words a minute")
    options = parser.parse_args(arguments)
    phrases = Phrases(load()).anywhere()
    recogniser = Recogniser(phrases)
    beds = {lufs: bed(8.0, ENGINE_SPEED, MODEL_RATE, lufs) for lufs in (BED_LUFS, LOUD)}
    print(f"{len(phrases)} phrases; recognised, per cent")
    print(f"{'voice':10} {'rate':>5} {'20 dB':>8}" + "".join(f"{lufs:>7.0f} LUFS" for lufs in beds))
    confused = []
    for voice in options.voices.split(","):
        for rate in map(int, options.rates.split(",")):
            sounds = {text: one.samples for text, one in _rendered(phrases, voice, rate).items()}
            found = [recogniser.listen(sounds), *(recogniser.listen(sounds, noise) for noise in beds.values())]
            shares = f"{found[0].share:>8.1%}" + "".join(f"{one.share:>12.1%}" for one in found[1:])
            print(f"{voice:10} {rate:>5} {shares}", flush=True)
            confused += [(voice, rate, said, taken) for said, taken in found[0].confused.items()]
            confused += [(voice, rate, said, taken) for said, taken in found[1].confused.items()]
    print("\nnot recognised in the softer noises")
    for voice, rate, said, taken in dict.fromkeys(confused):
        print(f'{voice:10} {rate:>5}  "{said}" taken for "{taken}"')
    return 0


def _rendered(phrases: list[str], voice: str, rate: int) -> dict[str, Rendered]:
    with tempfile.TemporaryDirectory() as folder:
        renderer = Renderer(rate, Path(folder))
        sounds: dict[str, Rendered] = {}
        facts = renderer.facts(voice, lambda: False)
        renderer.render(phrases, facts, Expected(), sounds.update, lambda *_: None, lambda: False)
        return sounds


if __name__ == "__main__":
    sys.exit(main())
