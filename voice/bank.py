"""The phrase bank: each phrase ready to play, and how long it takes. What is not kept on disk is rendered first."""

from __future__ import annotations

import hashlib
import math
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from voice import lengths, store
from voice.checks import CHECK, Expected
from voice.lengths import LengthTable
from voice.render import Facts, Progress, Rendered, Renderer, Stopped
from voice.shelf import Shelf, Tell
from voice.store import Identity
from voice.workshop import workshop

_SCALED = range(120, 261)
"""words a minute between which a length goes as 1/rate, within 2 % (measured at 150, 175, 200, 225 and 250)."""


@dataclass(frozen=True, slots=True)
class Bank:
    """The phrases of one voice. `seconds`: of speech, by phrase. `missing`: what could not be rendered, each with why.

    `rendered` phrases were made anew, in `took` seconds; the others were kept from before.
    """

    facts: Facts
    rate: int
    seconds: dict[str, float]
    missing: dict[str, str]
    rendered: int
    took: float
    shelf: Shelf

    def sound(self, text: str) -> bytes | None:
        """A phrase's samples, 16 bit mono at `trim.SAMPLE_RATE`; None where it is not in the bank."""
        return self.shelf.sound(text) if text in self.seconds else None

    @property
    def table(self) -> LengthTable:
        """The lengths, rounded up to 10 ms. Its name tells this bank from every other."""
        rounded = {text: math.ceil(round(seconds * 100, 6)) / 100 for text, seconds in self.seconds.items()}
        content = hashlib.blake2b(repr(sorted(rounded.items())).encode(), digest_size=4).hexdigest()
        name = f"{store.slug(self.facts.voice)}-{self.rate}-{content}"
        return LengthTable(name, f"{self.facts.engine} {self.facts.voice}", self.rate, rounded)


def build(
    phrases: Iterable[str],
    voice: str | None,
    rate: int,
    cache: Path,
    tell: Tell,
    progress: Progress,
    stopped: Stopped,
    make: Callable[[int, Path], Renderer] = Renderer,
) -> Bank:
    """The bank of these phrases; `cache` is the folder where they are kept.

    Takes about a second for 60 phrases that are not kept, ten for 1,500, and well under one for those that are.
    `progress` hears (done, total) of what is rendered. Raises InputError for a voice or rate that there is not,
    WorkError where nothing speaks, Interrupted where `stopped`.
    """
    began = time.monotonic()
    wanted = tuple(dict.fromkeys(phrases))
    with workshop(cache) as folder:
        renderer = make(rate, folder)
        facts = renderer.facts(voice, stopped)
        shelf = Shelf(cache, Identity(facts.engine, facts.voice, rate), tell)
        seconds = shelf.lengths(wanted)
        lacking = [text for text in wanted if text not in seconds]
        missing: dict[str, str] = {}
        if lacking:
            expected = _expected(facts, rate, shelf.check)

            def keep(good: Mapping[str, Rendered]) -> None:
                shelf.keep(good, expected.known.get(CHECK))
                seconds.update((text, one.seconds) for text, one in good.items())

            missing = renderer.render(lacking, facts, expected, keep, progress, stopped)
    return Bank(
        facts=facts,
        rate=rate,
        seconds={text: seconds[text] for text in wanted if text in seconds},
        missing=missing,
        rendered=len(lacking) - len(missing),
        took=time.monotonic() - began,
        shelf=shelf,
    )


def _expected(facts: Facts, rate: int, check: float | None) -> Expected:
    """What is known beforehand: of the voice that the shipped table was measured from, all; of others what was kept."""
    table = lengths.load()
    known = {}
    if facts.engine.startswith("espeak-ng") and table.voice.endswith(f" {facts.voice}") and rate in _SCALED:
        known = {text: seconds * table.rate / rate for text, seconds in table.lengths.items()}
    elif check is not None:
        known = {CHECK: check}
    return Expected(known)
