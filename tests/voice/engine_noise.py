"""What a driver hears beside the voice: a bed of engine noise, made here from what is known of such noise.

An engine's sound is the harmonics of its firing frequency, cylinders / 2 x rev/s in a four-stroke engine, with half
orders between them, falling off with frequency; road and wind add broad noise that falls about 6 dB an octave from
some hundred hertz on (common practice; levels and slopes are a choice).
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
from numpy.typing import NDArray

CYLINDERS = 4
BED_LUFS = -35.0
"""Loudness of the bed: 19 LU under the voice. A programme is at -23 (EBU R 128), so a game as loud as that has to be
turned down to a quarter for a voice at full volume (choice: the level at which the voice has what MIL-STD-1472E asks
for; the recogniser still understands it 12 LU higher)."""
ENGINE_SPEEDS = (2000.0, 4500.0, 7000.0, 9000.0)
"""rev/min."""
BROAD = 0.5
"""Share of the power that is broad noise (choice)."""

Signal = NDArray[np.float64]


def bed(seconds: float, engine_speed: float, sample_rate: int, lufs: float = BED_LUFS, seed: int = 1) -> Signal:
    """Engine noise at `engine_speed` (rev/min), of `lufs`, full scale 1."""
    chance = np.random.default_rng(seed)
    count = round(seconds * sample_rate)
    time = np.arange(count) / sample_rate
    firing = CYLINDERS / 2 * engine_speed / 60
    engine = np.zeros(count)
    for half_order in range(1, int(2 * 0.45 * sample_rate / firing)):
        order = half_order / 2
        level = 1.0 if order.is_integer() else 0.3
        wobble = 1 + 0.002 * np.sin(2 * np.pi * 1.7 * time)  # no engine turns quite evenly
        engine += level / order * np.sin(2 * np.pi * order * firing * time * wobble + chance.uniform(0, 2 * np.pi))
    frequency = np.fft.rfftfreq(count, 1 / sample_rate)
    slope = 1 / np.sqrt(1 + (frequency / 200.0) ** 2)
    broad = np.fft.irfft(np.fft.rfft(chance.standard_normal(count)) * slope, count)
    noise = np.sqrt(1 - BROAD) * engine / engine.std() + np.sqrt(BROAD) * broad / broad.std()
    meter = pyloudnorm.Meter(sample_rate, filter_class="DeMan", block_size=min(0.4, seconds))
    return np.asarray(noise * 10 ** ((lufs - meter.integrated_loudness(noise)) / 20))


def band_levels(sound: Signal, sample_rate: int) -> dict[float, float]:
    """dB of full scale (mean square) in the octave bands of 125 to 4000 Hz (IEC 61260: edges a factor 10^0.15 off)."""
    power = np.abs(np.fft.rfft(sound)) ** 2 / len(sound) ** 2 * 2
    frequency = np.fft.rfftfreq(len(sound), 1 / sample_rate)
    middles = [1000.0 * 10 ** (0.3 * n) for n in range(-3, 3)]
    return {
        round(middle, 0): 10 * np.log10(power[(frequency >= middle / 10**0.15) & (frequency < middle * 10**0.15)].sum())
        for middle in middles
    }
