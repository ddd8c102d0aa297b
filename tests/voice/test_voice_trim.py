import numpy as np
import pytest

from voice.trim import EDGE, SAMPLE_RATE, SILENCE, Samples, resampled, speech_seconds, trimmed

EDGE_SAMPLES = 220
"""10 ms at 22,050 Hz, whole samples."""


def made(*parts: tuple[int, int]) -> Samples:
    """`(count, level)` parts, one after the other."""
    return np.concatenate([np.full(count, level, dtype=np.int16) for count, level in parts])


def test_speech_keeps_exactly_its_edges_and_its_samples() -> None:
    sound = made((5000, 0), (1000, 8000), (500, 40), (1000, -8000), (9000, -90))
    cut = trimmed(sound)
    assert round(EDGE * SAMPLE_RATE) == EDGE_SAMPLES
    assert len(cut) == 2500 + 2 * EDGE_SAMPLES
    assert np.array_equal(cut[EDGE_SAMPLES:-EDGE_SAMPLES], sound[5000:7500])


def test_edges_are_there_even_where_the_sound_had_none() -> None:
    cut = trimmed(made((700, 20000)))
    assert len(cut) == 700 + 2 * EDGE_SAMPLES
    assert not cut[:EDGE_SAMPLES].any()
    assert not cut[-EDGE_SAMPLES:].any()


def test_an_edge_rises_and_falls_without_a_step() -> None:
    level = 100  # as loud as silence may be
    cut = trimmed(made((3000, level), (10, 30000), (3000, level)))
    rise, fall = cut[:EDGE_SAMPLES].astype(int), cut[-EDGE_SAMPLES:].astype(int)
    assert (rise[0], fall[-1]) == (0, 0)
    assert (rise[-1], fall[0]) == (level, level)
    assert abs(np.diff(rise)).max() <= 1
    assert abs(np.diff(fall)).max() <= 1


@pytest.mark.parametrize("sound", [made((0, 0)), made((900, 0)), made((900, 103)), made((900, -103))])
def test_silence_alone_is_nothing(sound: Samples) -> None:
    assert 103 < SILENCE < 104  # -50 dB of 32768
    assert len(trimmed(sound)) == 0
    assert speech_seconds(sound, SAMPLE_RATE) == 0.0


def test_the_loudest_sample_there_is_does_not_overflow() -> None:
    cut = trimmed(made((50, 0), (100, -32768), (50, 0)))
    assert cut.min() == -32768
    assert speech_seconds(cut, SAMPLE_RATE) == pytest.approx(100 / SAMPLE_RATE)


@pytest.mark.parametrize("rate", [8000, 16000, 24000, 44100, 48000])
def test_another_sample_rate_keeps_length_pitch_and_level(rate: int) -> None:
    time = np.arange(rate) / rate
    sound = np.rint(10000 * np.sin(2 * np.pi * 500 * time)).astype(np.int16)
    again = resampled(sound, rate)
    assert len(again) == SAMPLE_RATE
    should = 10000 * np.sin(2 * np.pi * 500 * np.arange(SAMPLE_RATE) / SAMPLE_RATE)
    assert abs(again - should).max() <= 2


def test_what_is_above_the_band_does_not_come_back_below_it() -> None:
    sound = np.rint(10000 * np.sin(2 * np.pi * 15000 * np.arange(44100) / 44100)).astype(np.int16)
    assert abs(resampled(sound, 44100)).max() <= 1


def test_the_own_rate_changes_nothing() -> None:
    sound = made((100, 0), (100, 5000))
    assert resampled(sound, SAMPLE_RATE) is sound
    assert len(resampled(made((0, 0)), 8000)) == 0
