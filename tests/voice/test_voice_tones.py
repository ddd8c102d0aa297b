import numpy as np
import pytest

from voice.tones import tone
from voice.trim import SAMPLE_RATE

KINDS = ("correction", "praise", "summary")


def loudness(samples: np.ndarray) -> np.ndarray:
    """By 5 ms."""
    step = SAMPLE_RATE // 200
    return np.abs(samples[: len(samples) // step * step].reshape(-1, step)).max(axis=1)


def pitches(kind: str) -> list[float]:
    """Hz of the strongest part of each note; notes are what silence parts."""
    samples = np.frombuffer(tone(kind), dtype="<i2").astype(float)
    loud = loudness(samples) > 400
    bounds = np.flatnonzero(np.diff(np.concatenate([[0], loud.astype(int), [0]])))
    found = []
    for begin, end in zip(bounds[::2], bounds[1::2], strict=True):
        note = samples[begin * (SAMPLE_RATE // 200) : end * (SAMPLE_RATE // 200)]
        bands = np.abs(np.fft.rfft(note * np.hanning(len(note)), 2**16))
        found.append(float(np.argmax(bands)) * SAMPLE_RATE / 2**16)
    return found


def test_the_kinds_differ_in_number_and_direction() -> None:
    down, up, other = (pitches(kind) for kind in KINDS)
    assert (len(down), len(up), len(other)) == (2, 2, 1)
    assert down[0] > 1.3 * down[1]
    assert up[1] > 1.3 * up[0]
    assert tone("reminder") == tone("status") == tone("summary")


@pytest.mark.parametrize("kind", KINDS)
def test_a_tone_is_short_soft_and_where_the_ear_hears_it(kind: str) -> None:
    """500 to 3000 Hz carries best in noise (MIL-STD-1472E, 5.3.4.1)."""
    samples = np.frombuffer(tone(kind), dtype="<i2")
    assert 0.1 <= len(samples) / SAMPLE_RATE <= 0.3
    assert all(500 <= pitch <= 3000 for pitch in pitches(kind))
    assert (abs(samples[:3]).max(), abs(samples[-3:]).max()) < (20, 20)
    assert 6000 < abs(samples).max() < 16000
    begin = loudness(samples)[:4]
    assert list(begin) == sorted(begin)
    assert begin[0] < 0.3 * abs(samples).max()
