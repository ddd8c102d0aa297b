"""The phrase bank: each phrase ready to play, and how long it takes. What is not kept on disk is rendered first."""

from __future__ import annotations

import hashlib
import math
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
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


@dataclass(slots=True)
class Bank:
    """The phrases of one voice. `seconds`: of speech, by phrase. `missing`: what could not be rendered, each with why.

    `rendered` phrases were made anew, in `took` seconds; the others were kept from before. It grows while it is in use:
    a phrase is in `seconds` once it is there to be played.
    """

    facts: Facts
    rate: int
    seconds: dict[str, float]
    missing: dict[str, str]
    rendered: int
    took: float
    shelf: Shelf
    _keeping: threading.Lock = field(default_factory=threading.Lock, repr=False, compare=False)

    def sound(self, text: str) -> bytes | None:
        """A phrase's samples, 16 bit mono at `trim.SAMPLE_RATE`; None where it is not in the bank, or no longer."""
        if text not in self.seconds:
            return None
        samples = self.shelf.sound(text)
        if samples is None:
            self.seconds.pop(text, None)
        return samples

    def fill(self, phrases: Iterable[str], renderer: Renderer, progress: Progress, stopped: Stopped) -> None:
        """Render those phrases that are neither here nor kept. From any thread, several at a time too.

        `progress` hears (done, total) of what is rendered. Raises WorkError where no process can be started,
        Interrupted where `stopped`; what was done until then stays.
        """
        began = time.monotonic()
        wanted = [text for text in dict.fromkeys(phrases) if text not in self.seconds]
        with self._keeping:
            self.seconds |= self.shelf.lengths(wanted)
            expected = expectations(self.facts, self.rate, self.shelf.check)
        lacking = [text for text in wanted if text not in self.seconds]
        if not lacking:
            return

        def keep(good: Mapping[str, Rendered]) -> None:
            with self._keeping:  # two writers of one manifest: the slower one would take the other's phrases out
                self.shelf.keep(good, expected.known.get(CHECK))
                self.seconds |= {text: one.seconds for text, one in good.items()}
                self.rendered += len(good)

        self.missing |= renderer.render(lacking, self.facts, expected, keep, progress, stopped)
        self.took += time.monotonic() - began

    @property
    def table(self) -> LengthTable:
        """The lengths, rounded up to 10 ms. Its name tells this bank from every other."""
        return table(self, self.seconds)


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

    Takes about two seconds for 150 phrases that are not kept, and well under one for those that are.
    `progress` hears (done, total) of what is rendered. Raises InputError for a voice or rate that there is not,
    WorkError where nothing speaks, Interrupted where `stopped`.
    """
    wanted = tuple(dict.fromkeys(phrases))
    began = time.monotonic()
    with workshop(cache) as folder:
        renderer = make(rate, folder)
        facts = renderer.facts(voice, stopped)
        bank = Bank(facts, rate, {}, {}, 0, 0.0, Shelf(cache, Identity(facts.engine, facts.voice, rate), tell))
        bank.fill(wanted, renderer, progress, stopped)
    bank.seconds = {text: bank.seconds[text] for text in wanted if text in bank.seconds}
    bank.took = time.monotonic() - began
    return bank


def table(bank: Bank, seconds: Mapping[str, float]) -> LengthTable:
    """A table of these lengths, rounded up to 10 ms; its name tells it from every other."""
    rounded = {text: math.ceil(round(length * 100, 6)) / 100 for text, length in seconds.items()}
    content = hashlib.blake2b(repr(sorted(rounded.items())).encode(), digest_size=4).hexdigest()
    name = f"{store.slug(bank.facts.voice)}-{bank.rate}-{content}"
    return LengthTable(name, f"{bank.facts.engine} {bank.facts.voice}", bank.rate, rounded)


def expectations(facts: Facts, rate: int, check: float | None) -> Expected:
    """What is known beforehand: of a voice that a shipped table was measured from, all; of others what was kept."""
    shipped = lengths.for_voice(facts.voice)
    known = {}
    if facts.engine.startswith("espeak-ng") and rate in _SCALED:
        known = {text: seconds * shipped.rate / rate for text, seconds in shipped.lengths.items()}
    if check is not None:
        known.setdefault(CHECK, check)
    return Expected(known)
