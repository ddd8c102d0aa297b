"""Whether what a synthesiser wrote can be right: known lengths at the start and the end, the sum, and each phrase.

A synthesiser's start-up race gives an empty file or another rate than was asked for, once in some hundred starts, and
its own `rate` property reads right all the same. Only the sound tells.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from dataclasses import dataclass, field

CHECK = "Brake later, turn eleven"
"""Rendered as the first and the last phrase of each process."""
TOLERANCE = 0.10
"""Share by which lengths that should be equal may differ: what was said before changes a phrase by some hundredths of
a second, another rate by far more (choice)."""
KNOWN_SHARE, KNOWN_BASE = 0.25, 0.1
"""A phrase of known length may differ by this share of it and these seconds (choice: twice what was measured)."""
SLOWEST, QUICKEST = 2.5, 0.4
"""A phrase of unknown length takes this many times the usual time for its letters at most, and at least (choice)."""
_LETTER, _BASE = 0.058, 0.065
"""s a letter, s: the usual time at 175 words a minute, fitted to 60 phrases of one voice; here only ratios count."""
_FEW = 3
"""Fewer known phrases than this have no sum worth a look."""


@dataclass(slots=True)
class Expected:
    """`known`: s that phrases are known to take at this voice and rate; `CHECK` among them if it is known."""

    known: dict[str, float] = field(default_factory=dict)

    def fault(self, first: float, last: float, lengths: Mapping[str, float]) -> str | None:
        """What is wrong with all that a process wrote, or None. `first` and `last`: s that `CHECK` took."""
        if not first or not last:
            return "it fell silent"
        if not _near(first, last):
            return f"it changed its rate: a phrase took {first:.2f} s at the start and {last:.2f} s at the end"
        usual = self.known.get(CHECK)
        if usual is not None and not _near(last, usual):
            return f"it speaks at another rate: a phrase of {usual:.2f} s took {last:.2f} s"
        known = [text for text in lengths if text in self.known and lengths[text]]
        took, should = sum(lengths[text] for text in known), sum(self.known[text] for text in known)
        if len(known) >= _FEW and not _near(took, should):
            return f"{len(known)} phrases took {took:.1f} s, not {should:.1f} s"
        return None

    def wrong(self, lengths: Mapping[str, float]) -> set[str]:
        """The phrases that are cut, repeated or not said at all."""
        ratios = {text: seconds / (_LETTER * len(text) + _BASE) for text, seconds in lengths.items()}
        usual = statistics.median(ratios.values()) if ratios else 0.0
        return {text for text in lengths if not self._is_right(text, lengths[text], ratios[text], usual)}

    def _is_right(self, text: str, seconds: float, ratio: float, usual: float) -> bool:
        known = self.known.get(text)
        if known is not None:
            return abs(seconds - known) <= KNOWN_SHARE * known + KNOWN_BASE
        return seconds > 0 and QUICKEST * usual <= ratio <= SLOWEST * usual


def _near(one: float, other: float) -> bool:
    return abs(one - other) <= TOLERANCE * max(one, other)
