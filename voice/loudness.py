"""One loudness for all that is played, as ITU-R BS.1770-5 measures it: K-weighted, in gated blocks of 0.4 s.

The standard is made for programmes. For phrases of 0.3 to 2 s two things are chosen here: the blocks are spread evenly,
so that the end of a phrase counts as its start does, and what is shorter than a block is one block.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from voice.trim import SAMPLE_RATE, Samples

TARGET = -16.0
"""LUFS of every phrase and tone at volume 1: as loud as peaks of `CEILING` allow without squeezing speech audibly
(choice: espeak-ng's peaks are 14 to 21 dB above its loudness, so 2 to 3 dB are taken off most of them)."""
CEILING = -1.0
"""dB of full scale that no sample goes over: a card's filter may overshoot by about as much (EBU R 128: -1 dB)."""
BLOCK, HOP = 0.4, 0.1
"""s of a gating block and between two (BS.1770: 75 % overlap)."""
SILENT, QUIET = -70.0, -10.0
"""LUFS under which a block counts for nothing; LU under the mean of the rest under which it does not either
(BS.1770)."""

_OFFSET = -0.691
"""dB between a mean square and its loudness, so that a full-scale sine of 997 Hz reads -3.01 LUFS (BS.1770)."""
_SOFT = 0.005
"""s in which the limiter comes and goes (choice: shorter distorts, longer dips what is around a peak)."""
_FINE = 11
"""Samples, 0.5 ms, that the limiter turns down alike, but for a ramp to the next."""
_PASSES, _NEAR = 10, 0.02
"""What is limited gets softer, so it is made louder again: so often, or until it is within so many dB."""
_RINGS = 0.25
"""s behind a sound in which the weighting's high pass of 38 Hz has died away."""
_LENGTHS = 4096
"""Spectra have multiples of so many samples, so that few responses have to be kept and each is quick to make."""

Signal = NDArray[np.float64]


def even(samples: Samples) -> Samples:
    """The same sound at `TARGET`, its peaks limited to `CEILING`; silence stays as it is."""
    sound = samples / 32768.0
    if not len(sound):
        return samples
    ceiling = 10 ** (CEILING / 20)
    peaks = _parts(np.abs(sound)).max(axis=1)
    power = _parts(_weighted(sound, SAMPLE_RATE) ** 2).mean(axis=1)
    lacks, louder, gain = math.inf, 0.0, np.ones(len(peaks))
    for _ in range(_PASSES):
        lacks = TARGET - _gated(power * gain**2, SAMPLE_RATE / _FINE)
        if not math.isfinite(lacks):
            return samples
        if abs(lacks) < _NEAR:
            break
        louder += lacks
        factor = 10 ** (louder / 20)
        gain = factor * _turned_down(peaks * factor, ceiling)
    middles = (np.arange(len(gain)) + 0.5) * _FINE
    out = np.clip(sound * np.interp(np.arange(len(sound)) + 0.5, middles, gain), -ceiling, ceiling)
    made: Samples = np.rint(out * 32768.0).astype(np.int16)
    return made


def loudness(sound: Signal, sample_rate: float = SAMPLE_RATE) -> float:
    """LUFS of one channel, full scale 1; -inf for silence."""
    return _gated(_weighted(sound, sample_rate) ** 2, sample_rate) if len(sound) else -math.inf


def _gated(power: Signal, rate: float) -> float:
    """LUFS of weighted power, `rate` values a second."""
    energy = np.concatenate([[0.0], np.cumsum(power)])
    block = min(round(BLOCK * rate), len(power))
    room = len(power) - block
    starts = np.rint(np.linspace(0, room, 1 + math.ceil(room / (HOP * rate)))).astype(int)
    blocks = (energy[starts + block] - energy[starts]) / block
    heard = blocks[blocks > 10 ** ((SILENT - _OFFSET) / 10)]
    if not len(heard):
        return -math.inf
    heard = heard[heard > np.mean(heard) * 10 ** (QUIET / 10)]
    return _OFFSET + 10 * math.log10(float(np.mean(heard)))


def weighting(sample_rate: float) -> tuple[tuple[Signal, Signal], tuple[Signal, Signal]]:
    """The K-weighting's two filters, each (b, a) with a[0] = 1.

    BS.1770 gives numbers for 48 kHz alone. These are the bilinear transforms of the filters that they come from: a high
    shelf of 4 dB above 1682 Hz for the head, and a high pass of 38 Hz; at 48 kHz they are the standard's own.
    """
    k = math.tan(math.pi * 1681.974450955533 / sample_rate)
    q, high = 0.7071752369554196, 10 ** (3.999843853973347 / 20)
    band = high**0.4996667741545416
    shelf = (
        np.array([high + band * k / q + k * k, 2 * (k * k - high), high - band * k / q + k * k]),
        np.array([1 + k / q + k * k, 2 * (k * k - 1), 1 - k / q + k * k]),
    )
    k = math.tan(math.pi * 38.13547087602444 / sample_rate)
    q = 0.5003270373238773
    tail = np.array([1 + k / q + k * k, 2 * (k * k - 1), 1 - k / q + k * k])
    return (shelf[0] / shelf[1][0], shelf[1] / shelf[1][0]), (np.array([1.0, -2.0, 1.0]), tail / tail[0])


def _weighted(sound: Signal, sample_rate: float) -> Signal:
    """The sound as the standard's filters leave it. By its spectrum, since numpy has no recursive filter."""
    count = -(-(len(sound) + round(_RINGS * sample_rate)) // _LENGTHS) * _LENGTHS
    return np.fft.irfft(np.fft.rfft(sound, count) * _response(count, sample_rate), count)[: len(sound)]


@lru_cache(maxsize=16)
def _response(count: int, sample_rate: float) -> NDArray[np.complex128]:
    """What the two filters do to each part of a spectrum of `count` samples."""
    turn = np.exp(-2j * np.pi * np.arange(count // 2 + 1) / count)
    response = np.ones(len(turn), dtype=complex)
    for above, below in weighting(sample_rate):
        response *= np.polyval(above[::-1], turn) / np.polyval(below[::-1], turn)
    return response


def _parts(values: Signal) -> Signal:
    """Rows of `_FINE` values, the last one filled up with nothing."""
    rows = -(-len(values) // _FINE)
    return np.pad(values, (0, rows * _FINE - len(values))).reshape(rows, _FINE)


def _turned_down(peaks: Signal, ceiling: float) -> Signal:
    """The gain of each part, so that no peak goes over: less around such a one too, without a step."""
    reach = round(_SOFT * SAMPLE_RATE / _FINE)
    gain = np.pad(ceiling / np.maximum(peaks, ceiling), 2 * reach + 1, mode="edge")
    # one part more to each side than is smoothed, for between two parts the gain is a ramp
    least = np.lib.stride_tricks.sliding_window_view(gain, 2 * reach + 3).min(axis=1)
    window = np.hanning(2 * reach + 3)[1:-1]
    return np.convolve(least, window / window.sum(), mode="valid")
