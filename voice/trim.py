"""Sound made ready for the mixer: one sample rate, silence at both ends cut off, soft edges, and its length."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE = 22050
"""Hz. All that is kept and played is 16 bit mono at this rate, which is espeak-ng's own."""
SILENCE = 32768 * 10 ** (-50 / 20)
"""Samples under -50 dB of full scale (16 bit) are silence before the first sound and after the last."""
EDGE = 0.010
"""s left before the first sound and after the last, faded: a sound that is cut where it begins clicks (choice)."""

Samples = NDArray[np.int16]


def speech_seconds(samples: Sequence[int] | Samples, sample_rate: float) -> float:
    """s from the first sample that is not silence to the last, both counted; 0 for silence alone."""
    first, end = _loud(np.asarray(samples, dtype=np.int64))
    return (end - first) / sample_rate


def resampled(samples: Samples, sample_rate: int) -> Samples:
    """The same sound at `SAMPLE_RATE`, what lies above its band left out."""
    if sample_rate == SAMPLE_RATE or not len(samples):
        return samples
    count = max(1, round(len(samples) * SAMPLE_RATE / sample_rate))
    bands = np.fft.rfft(samples.astype(np.float64))
    # irfft cuts the bands, or fills them up with nothing, to those of a signal of `count` samples
    return _rounded(np.fft.irfft(bands, count) * (count / len(samples)))


def trimmed(samples: Samples) -> Samples:
    """Speech with exactly `EDGE` seconds before and after it, faded in and out; empty where all is silence."""
    first, end = _loud(samples.astype(np.int64))
    if first == end:
        return samples[:0]
    edge = round(EDGE * SAMPLE_RATE)
    around = np.pad(samples, edge)[first : end + 2 * edge].astype(np.float64)
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(edge) / edge)
    around[:edge] *= rise
    around[-edge:] *= rise[::-1]
    return _rounded(around)


def _loud(samples: NDArray[np.int64]) -> tuple[int, int]:
    """The first sample that is not silence and one past the last; twice the same where there is none."""
    places = np.flatnonzero(np.abs(samples) >= SILENCE)
    return (int(places[0]), int(places[-1]) + 1) if len(places) else (0, 0)


def _rounded(samples: NDArray[np.float64]) -> Samples:
    return np.clip(np.rint(samples), -32768, 32767).astype(np.int16)
