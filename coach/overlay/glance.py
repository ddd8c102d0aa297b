"""How long a text on the overlay takes the eyes off the road: a stated model, so that what takes longer is never shown.

The eyes go over, rest on one group of characters after the other, and come back. The model is on the slow side: each
word has a fixation of its own, though readers skip short words they know.
"""

from __future__ import annotations

from math import ceil

TRANSITION = 0.1
"""s for the eyes to go over, and the same back: a movement of 20 degrees takes about 0.07 s (from memory: 2.2 ms a
degree and 21 ms); a glance begins with it (ISO 15007-1:2014, clause 3)."""
FIXATION = 0.35
"""s that the eyes rest on one group. Fixations last from 0.1 to 2.0 s (ISO 15007-1:2014, clause 3), 0.20 to 0.25 s on
average in reading and 0.26 to 0.33 s on pictures (from memory); more than either, to be on the slow side (choice)."""
GROUP = 8
"""letters of a word that one fixation takes in: readers move on by 7 to 9 (from memory)."""
DIGITS = 4
"""characters of a number that one fixation takes in: each digit counts, none is guessed (choice)."""
BUDGET = 1.5
"""s that a text may take: a look through an occlusion test's shutter (ISO 16673:2017, from memory). It is below 1.7 s,
from which glances mark what comes before a crash (Liang, Lee and Yekhshatyan; as a limit a choice), and the 2.0 s that
the NHTSA Visual-Manual Guidelines allow (78 FR 24817)."""


def reading_time(text: str) -> float:
    """s that the eyes are off the road for `text`, there and back."""
    fixations = sum(_fixations(word) for word in text.split())
    return 2.0 * TRANSITION + FIXATION * fixations


def fits(text: str) -> bool:
    """Whether `text` can be read in one look that is short enough."""
    return reading_time(text) <= BUDGET


def _fixations(word: str) -> int:
    """Groups that a word, or a number, is read in."""
    return ceil(len(word) / (DIGITS if any(letter.isdigit() for letter in word) else GROUP))
