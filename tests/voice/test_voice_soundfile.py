import struct
import wave
from io import BytesIO

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.vocabulary.errors import FormatError
from voice import soundfile

SAMPLES = np.array([0, 1, -1, 300, -32768, 32767], dtype=np.int16)
RATE_22050 = b"\x40\x0d\xac\x44\x00\x00\x00\x00\x00\x00"
"""22,050 as an 80 bit float: 1.345... * 2**14, as the AIFF specification (1.3, 1989) lays it out."""


def aiff(samples: bytes, channels: int = 1, bits: int = 16, compression: bytes | None = None) -> bytes:
    frames = len(samples) // (2 * channels)
    common = struct.pack(">hLh", channels, frames, bits) + RATE_22050
    if compression is not None:
        common += compression + b"\x00\x00"
    sound = struct.pack(">LL", 0, 0) + samples
    chunks = [(b"COMM", common), (b"odd ", b"abc"), (b"SSND", sound)]
    body = b"".join(struct.pack(">4sL", name, len(data)) + data + b"\0" * (len(data) % 2) for name, data in chunks)
    kind = b"AIFF" if compression is None else b"AIFC"
    return struct.pack(">4sL", b"FORM", len(body) + 4) + kind + body


def wav(samples: bytes, channels: int = 1, width: int = 2, rate: int = 22050) -> bytes:
    file = BytesIO()
    with wave.open(file, "wb") as writer:
        writer.setparams((channels, width, rate, 0, "NONE", ""))
        writer.writeframes(samples)
    return file.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        wav(SAMPLES.astype("<i2").tobytes()),
        aiff(SAMPLES.astype(">i2").tobytes()),
        aiff(SAMPLES.astype(">i2").tobytes(), compression=b"NONE"),
        aiff(SAMPLES.astype("<i2").tobytes(), compression=b"sowt"),
    ],
    ids=["wav", "aiff", "aifc", "aifc, lowest byte first"],
)
def test_what_a_file_holds_decides_not_its_name(content: bytes) -> None:
    samples, rate = soundfile.read(content)
    assert rate == 22050
    assert samples.tolist() == SAMPLES.tolist()


def test_two_channels_become_one() -> None:
    both = np.array([100, 300, -32768, -32768], dtype=np.int16)
    assert soundfile.read(wav(both.astype("<i2").tobytes(), channels=2))[0].tolist() == [200, -32768]
    assert soundfile.read(aiff(both.astype(">i2").tobytes(), channels=2))[0].tolist() == [200, -32768]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "neither WAV nor AIFF"),
        (b"ID3\x04" + bytes(100), "neither WAV nor AIFF"),
        (wav(bytes(8), width=1), "8 bit"),
        (wav(bytes(8), rate=4000), "4000 Hz"),
        (wav(bytes(8))[:20], "damaged"),
        (aiff(bytes(8), bits=24), "24 bit"),
        (aiff(bytes(8), compression=b"ulaw"), "compressed as b'ulaw'"),
        (aiff(bytes(8))[:40], "damaged"),
        (b"FORM" + bytes(4) + b"AIFF", "damaged"),
        (aiff(bytes(8)).replace(RATE_22050, b"\x7f\xff" + b"\xff" * 8), "damaged"),
    ],
)
def test_what_is_no_plain_sound_is_refused_in_one_line(content: bytes, says: str) -> None:
    with pytest.raises(FormatError) as caught:
        soundfile.read(content)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.binary(max_size=200), st.sampled_from([b"", b"RIFF\0\0\0\0WAVE", aiff(bytes(8)), wav(bytes(8))]), st.data())
def test_any_bytes_are_samples_or_one_error(tail: bytes, head: bytes, data: st.DataObject) -> None:
    content = bytearray(head + tail)
    if content:
        content[data.draw(st.integers(0, len(content) - 1))] ^= data.draw(st.integers(0, 255))
    for read in (soundfile.read, soundfile.wav_samples):
        try:
            read(bytes(content))
        except FormatError as error:
            assert "\n" not in str(error)


def test_what_is_written_is_read_again() -> None:
    samples = SAMPLES.astype("<i2").tobytes()
    assert soundfile.wav_samples(soundfile.wav(samples)) == samples
    with pytest.raises(FormatError, match="not 16 bit mono"):
        soundfile.wav_samples(wav(samples, rate=44100))
