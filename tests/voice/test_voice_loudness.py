"""One loudness for all that is played, measured by a library of others, and above a bed of engine noise."""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import lfilter

from coach.planner.phrases import Phrases
from coach.playbook.load import load
from tests.voice.engine_noise import BED_LUFS, ENGINE_SPEEDS, band_levels, bed
from voice.loudness import BLOCK, CEILING, TARGET, even, loudness, weighting
from voice.render import Rendered
from voice.tones import tone
from voice.trim import SAMPLE_RATE

NEAR = 1.0
"""LU by which a phrase may be off, by the library's measure. Ours is within 0.1; the library takes its blocks otherwise
at a phrase's end (0.6 were measured over 529 phrases of three voices)."""
PEAK = 10 ** (CEILING / 20)
KINDS = ("correction", "praise", "summary")

Signal = np.ndarray


def measured(sound: Signal) -> float:
    """LUFS by pyloudnorm, a block being the whole where that is shorter."""
    block = min(BLOCK, len(sound) / SAMPLE_RATE)
    return float(pyloudnorm.Meter(SAMPLE_RATE, filter_class="DeMan", block_size=block).integrated_loudness(sound))


def sound_of(samples: bytes) -> Signal:
    return np.frombuffer(samples, dtype="<i2") / 32768


def noise(seconds: float, level: float = 0.05, seed: int = 3) -> Signal:
    return level * np.random.default_rng(seed).standard_normal(round(seconds * SAMPLE_RATE))


def as_samples(sound: Signal) -> Signal:
    return np.rint(np.clip(sound, -1, 1) * 32767).astype(np.int16)


def test_the_weighting_is_the_standards_own_at_48_khz() -> None:
    """ITU-R BS.1770-5, annex 1, tables 1 and 2."""
    shelf, high_pass = weighting(48_000)
    assert shelf[0] == pytest.approx([1.53512485958697, -2.69169618940638, 1.19839281085285], abs=1e-9)
    assert shelf[1] == pytest.approx([1.0, -1.69065929318241, 0.73248077421585], abs=1e-9)
    assert high_pass[0] == pytest.approx([1.0, -2.0, 1.0])
    assert high_pass[1] == pytest.approx([1.0, -1.99004745483398, 0.99007225036621], abs=1e-9)


def test_a_sine_reads_what_the_standard_says() -> None:
    """BS.1770-5: a full-scale sine of 997 Hz in one channel reads -3.01."""
    for rate, near in ((48_000, 0.01), (SAMPLE_RATE, 0.05)):
        sine = np.sin(2 * np.pi * 997 * np.arange(5 * rate) / rate)
        assert loudness(sine, rate) == pytest.approx(-3.01, abs=near)


@pytest.mark.parametrize("seconds", [0.3, 0.4, 0.7, 1.0, 1.63, 2.0])
def test_even_noise_reads_as_the_filters_say_whatever_its_length(seconds: float) -> None:
    """The recursive filters by scipy, the mean over the whole: no gate takes anything from even noise."""
    sound = noise(seconds)
    weighted = sound
    for above, below in weighting(SAMPLE_RATE):
        weighted = lfilter(above, below, weighted)
    assert loudness(sound) == pytest.approx(-0.691 + 10 * np.log10(np.mean(weighted**2)), abs=0.15)
    assert loudness(sound) == pytest.approx(measured(sound), abs=0.2)


def test_quiet_parts_do_not_count() -> None:
    """BS.1770-5: blocks 10 LU under the others are left out. Three seconds of quiet change nothing."""
    loud = noise(2.0)
    assert loudness(np.concatenate([loud, noise(3.0, 0.005)])) == pytest.approx(loudness(loud), abs=0.5)


def test_silence_has_no_loudness_and_stays_as_it_is() -> None:
    assert loudness(np.zeros(0)) == loudness(np.zeros(30_000)) == -np.inf
    for samples in (np.zeros(0, dtype=np.int16), np.zeros(9000, dtype=np.int16)):
        assert np.array_equal(even(samples), samples)


@pytest.mark.parametrize("seconds", [0.05, 0.3, 1.0, 2.5])
@pytest.mark.parametrize("level", [0.001, 0.05, 0.25])
def test_soft_and_loud_come_out_alike(seconds: float, level: float) -> None:
    made = even(as_samples(noise(seconds, level))) / 32768
    assert len(made) == round(seconds * SAMPLE_RATE)
    assert measured(made) == pytest.approx(TARGET, abs=0.3)
    assert abs(made).max() <= PEAK + 1e-4


def test_a_peak_is_turned_down_without_a_step() -> None:
    sound = np.full(SAMPLE_RATE, 0.05)
    sound[::2] = -0.05
    sound[SAMPLE_RATE // 2] = 0.9
    made = even(as_samples(sound)) / 32768
    assert abs(made).max() <= PEAK + 1e-4
    gain = made / (as_samples(sound) / 32768)
    usual = np.median(gain)
    around = gain[SAMPLE_RATE // 2 - 50 : SAMPLE_RATE // 2 + 50]
    assert around.min() < 0.7 * usual  # else there was nothing to limit
    assert abs(np.diff(gain)).max() < 0.03 * usual
    far = np.r_[gain[: SAMPLE_RATE // 2 - 400], gain[SAMPLE_RATE // 2 + 400 :]]
    assert far == pytest.approx(usual, rel=0.01)


def test_what_needs_no_limit_is_only_made_louder() -> None:
    time = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    samples = as_samples(0.01 * np.sin(2 * np.pi * 440 * time))
    made = even(samples)
    assert made / made.std() == pytest.approx(samples / samples.std(), abs=0.02)


@pytest.mark.parametrize("kind", KINDS)
def test_a_tone_is_as_loud_as_a_phrase(kind: str) -> None:
    assert measured(sound_of(tone(kind))) == pytest.approx(TARGET, abs=NEAR)


def test_every_phrase_of_the_bank_is_equally_loud(english: dict[str, Rendered]) -> None:
    phrases = Phrases(load())
    assert set(english) == {*phrases.anywhere(), *phrases.counted([1, 2]), *phrases.at([3])}
    levels = {text: measured(sound_of(one.samples)) for text, one in english.items()}
    assert {text: level for text, level in levels.items() if abs(level - TARGET) > NEAR} == {}
    assert max(abs(sound_of(one.samples)).max() for one in english.values()) <= PEAK + 1e-4


@pytest.mark.parametrize("engine_speed", ENGINE_SPEEDS)
def test_every_phrase_stands_out_of_a_bed_of_engine_noise(engine_speed: float, english: dict[str, Rendered]) -> None:
    """20 dB in one octave band between 500 and 3000 Hz at least (MIL-STD-1472E, 5.3.4.1), at the default volume."""
    beside = bed(3.0, engine_speed, SAMPLE_RATE)
    assert pyloudnorm.Meter(SAMPLE_RATE).integrated_loudness(beside) == pytest.approx(BED_LUFS, abs=0.5)
    under = band_levels(beside, SAMPLE_RATE)
    weak = {}
    for text, one in english.items():
        over = band_levels(sound_of(one.samples), SAMPLE_RATE)
        best = max(over[band] - under[band] for band in over if 500 <= band <= 3000)
        if best < 20:
            weak[text] = best
    assert weak == {}
