"""How long phrases take, for the planner, those too that are not rendered yet: fixed before the first sample."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from voice.bank import Bank, expectations, table
from voice.lengths import LengthTable

KNOWN_DOUBT = 0.03
"""s that a phrase may take longer than the shipped table says: what was said before it changes it (measured)."""
ENOUGH = 20
"""Measured phrases from which the others are estimated; with fewer the planner's own estimate is as good."""
DOUBT = 0.1
"""s that an estimate is raised by beside what the worst of the measured phrases lay above it: what names a corner is
longer than what was measured (choice). One that takes longer still is held back when its time comes."""

_VOWELS = re.compile(r"[aeiouyäöü]+")


def planned(bank: Bank, later: Iterable[str] = ()) -> LengthTable:
    """The bank's own lengths, and of phrases that may come `later` what is known of this voice.

    That is the shipped table, where it is this voice's, scaled to the rate. Else the length goes with letters,
    syllables, words and commas as it does in the phrases that were measured, and a bit more.
    """
    known = expectations(bank.facts, bank.rate, None).known
    lacking = [text for text in dict.fromkeys(later) if text not in bank.seconds]
    out = {text: known[text] + KNOWN_DOUBT for text in lacking if text in known}
    unknown = [text for text in lacking if text not in known]
    if unknown and len(bank.seconds) >= ENOUGH:
        parts, seconds = _parts(bank.seconds), np.array(list(bank.seconds.values()))
        weights = np.linalg.lstsq(parts, seconds, rcond=None)[0]
        doubt = DOUBT + max(0.0, float((seconds - parts @ weights).max()))
        out |= zip(unknown, (_parts(unknown) @ weights + doubt).tolist(), strict=True)
    return table(bank, {**out, **bank.seconds})


def _parts(phrases: Iterable[str]) -> NDArray[np.float64]:
    """A row for each phrase: one, and its letters, groups of vowels, words and commas."""
    return np.array(
        [(1, len(text), len(_VOWELS.findall(text.lower())), len(text.split()), text.count(",")) for text in phrases],
        dtype=float,
    )
