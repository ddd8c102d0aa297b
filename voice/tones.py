"""Short tones that stand in for words where there is a sound device but no speech: which kind of thing was said.

Two notes down: a correction. Two notes up: praise. One note: anything else. Within 500 to 3000 Hz, which carries best
in noise (MIL-STD-1472, 5.3.4.1), under 0.3 s, as loud as the words, and soft at both ends, so that nothing clicks or
startles.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from voice.loudness import even
from voice.trim import SAMPLE_RATE

_LOW, _HIGH = 660.0, 990.0  # Hz, a fifth apart
_NOTE = 0.11  # s
_PAUSE = 0.03  # s
_SOFT = 0.015  # s of rise and of fall
_LEVEL = 0.3  # of full scale, before it is made as loud as the speech
_OVERTONE = 0.25  # share of the octave above: a pure tone is hard to place and tires


@cache
def tone(kind: str) -> bytes:
    """The tone for a cue of this kind: 16 bit mono samples at `trim.SAMPLE_RATE`, lowest byte first."""
    if kind == "correction":
        return _melody((_HIGH, _LOW))
    if kind == "praise":
        return _melody((_LOW, _HIGH))
    return _melody((_HIGH,))


def _melody(notes: Sequence[float]) -> bytes:
    pause = np.zeros(round(_PAUSE * SAMPLE_RATE))
    parts = [part for note in notes for part in (pause, _note(note))][1:]
    return even(np.rint(np.concatenate(parts) * _LEVEL * 32767).astype(np.int16)).astype("<i2").tobytes()


def _note(frequency: float) -> NDArray[np.float64]:
    time = np.arange(round(_NOTE * SAMPLE_RATE)) / SAMPLE_RATE
    wave = np.sin(2 * np.pi * frequency * time) + _OVERTONE * np.sin(4 * np.pi * frequency * time)
    rise = np.clip(np.minimum(time, time[::-1]) / _SOFT, 0, 1)
    return np.asarray(wave / (1 + _OVERTONE) * (0.5 - 0.5 * np.cos(np.pi * rise)))
