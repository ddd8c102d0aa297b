"""How long phrases take, for the planner, those too that are not rendered yet: fixed before the first sample."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from voice import lengths
from voice.bank import Bank, expectations, table
from voice.lengths import LengthTable

KNOWN_DOUBT = 0.03
"""s that a phrase may take longer than the shipped table says: what was said before it changes it (measured)."""
SCALED_DOUBT = 0.025
"""Share by which it may take longer at another rate than the table's: a length does not go quite as 1/rate (measured:
0.05 s of 2.2 s at 150 words a minute, where `KNOWN_DOUBT` alone was too little for 18 of 120)."""
ENOUGH = 20
"""Measured phrases from which the others are estimated; with fewer the planner's own estimate is as good."""
DOUBT = 0.1
"""s that an estimate is raised by beside what the worst of the measured phrases lay above it: what names a corner is
longer than what was measured (choice: 0.07 were needed for 720 phrases of voices and rates without a table of their
own). One that takes longer still is held back when its time comes."""

_VOWELS = re.compile(r"[aeiouyäöü]+")


def planned(bank: Bank, later: Iterable[str] = ()) -> LengthTable:
    """The bank's own lengths, and of phrases that may come `later` what is known of this voice.

    That is the shipped table, where it is this voice's, scaled to the rate. Else the length goes with what another
    voice takes, where a shipped table has it, as it does in the phrases that were measured, and a bit more; else with
    letters, syllables, words and commas.
    """
    known = expectations(bank.facts, bank.rate, None).known
    lacking = [text for text in dict.fromkeys(later) if text not in bank.seconds]
    longer = 1.0 if bank.rate == lengths.RATE else 1.0 + SCALED_DOUBT
    out = {text: known[text] * longer + KNOWN_DOUBT for text in lacking if text in known}
    unknown = [text for text in lacking if text not in known]
    if unknown:
        like = _nearest(bank.seconds)
        measured = {text: seconds for text, seconds in bank.seconds.items() if text in like}
        out |= _estimated(unknown, bank.seconds, _parts)
        out |= _estimated([text for text in unknown if text in like], measured, lambda texts: _other(texts, like))
    return table(bank, {**out, **bank.seconds})


def _estimated(
    texts: list[str], measured: Mapping[str, float], parts: Callable[[Iterable[str]], NDArray[np.float64]]
) -> dict[str, float]:
    """s that these may take, by what `parts` say of the measured ones; nothing where too few were measured."""
    if not texts or len(measured) < ENOUGH:
        return {}
    rows, seconds = parts(measured), np.array(list(measured.values()))
    weights = np.linalg.lstsq(rows, seconds, rcond=None)[0]
    doubt = DOUBT + max(0.0, float((seconds - rows @ weights).max()))
    return dict(zip(texts, (parts(texts) @ weights + doubt).tolist(), strict=True))


def _nearest(phrases: Mapping[str, float]) -> dict[str, float]:
    """The shipped lengths of the voice that says most of these phrases: the one of their language."""
    shipped = [lengths.load(name).lengths for name in lengths.names()]
    return max(shipped, key=lambda one: len(one.keys() & phrases.keys()))


def _other(phrases: Iterable[str], like: Mapping[str, float]) -> NDArray[np.float64]:
    """A row for each phrase: one, and what the other voice takes."""
    return np.array([(1.0, like[text]) for text in phrases])


def _parts(phrases: Iterable[str]) -> NDArray[np.float64]:
    """A row for each phrase: one, and its letters, groups of vowels, words and commas."""
    return np.array(
        [(1, len(text), len(_VOWELS.findall(text.lower())), len(text.split()), text.count(",")) for text in phrases],
        dtype=float,
    )
