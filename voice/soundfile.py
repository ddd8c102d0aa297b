"""Sound files: WAV and AIFF read by what they hold, not by how they are called; WAV written.

Some systems write AIFF whatever the name's suffix says. Only plain 16 bit samples are taken.
"""

from __future__ import annotations

import io
import struct
import wave

import numpy as np

from coach.vocabulary.errors import FormatError
from voice.trim import SAMPLE_RATE, Samples

_LITTLE, _BIG = "<i2", ">i2"
_AIFC_ORDER = {b"NONE": _BIG, b"twos": _BIG, b"sowt": _LITTLE}
"""Compression types of AIFF-C that are none, and their byte order (AIFF-C draft, 1991)."""

_TORN = (wave.Error, EOFError, struct.error, ValueError, OverflowError, RuntimeError)
"""What reading a torn file raises; a RuntimeError where a chunk's size in a WAV file is not true."""


def read(content: bytes) -> tuple[Samples, int]:
    """Samples, channels mixed to one, and the sample rate (Hz). Raises FormatError for anything else."""
    try:
        if content[:4] == b"RIFF":
            return _read_wav(content)
        if content[:4] == b"FORM" and content[8:12] in (b"AIFF", b"AIFC"):
            return _read_aiff(content)
    except _TORN as error:
        raise FormatError(f"sound: damaged ({error or 'it ends too soon'}); render it again") from error
    raise FormatError("sound: neither WAV nor AIFF; render it again, or with another voice")


def wav(samples: bytes) -> bytes:
    """A WAV file of 16 bit mono samples at `SAMPLE_RATE`, lowest byte first."""
    file = io.BytesIO()
    with wave.open(file, "wb") as writer:
        writer.setnchannels(1)
        writer.setsampwidth(2)
        writer.setframerate(SAMPLE_RATE)
        writer.writeframes(samples)
    return file.getvalue()


def wav_samples(content: bytes) -> bytes:
    """What `wav` was given. Raises FormatError for a file that it did not write."""
    try:
        with wave.open(io.BytesIO(content), "rb") as reader:
            if (reader.getnchannels(), reader.getsampwidth(), reader.getframerate()) != (1, 2, SAMPLE_RATE):
                raise FormatError(f"sound: not 16 bit mono at {SAMPLE_RATE} Hz; render it again")
            return reader.readframes(reader.getnframes())
    except _TORN as error:
        raise FormatError(f"sound: damaged ({error or 'it ends too soon'}); render it again") from error


def _read_wav(content: bytes) -> tuple[Samples, int]:
    with wave.open(io.BytesIO(content), "rb") as reader:
        width, channels, rate = reader.getsampwidth(), reader.getnchannels(), reader.getframerate()
        _check(width * 8, channels, rate)
        return _mixed(reader.readframes(reader.getnframes()), _LITTLE, channels), rate


def _read_aiff(content: bytes) -> tuple[Samples, int]:
    chunks = _chunks(content)
    if b"COMM" not in chunks or b"SSND" not in chunks:
        raise ValueError("it has no samples")
    common = chunks[b"COMM"]
    channels, _, bits, exponent, mantissa = struct.unpack_from(">hLhHQ", common)
    rate = round(mantissa * 2.0 ** (exponent - 16383 - 63))  # an 80 bit float, as AIFF has it
    _check(bits, channels, rate)
    compression = common[18:22] if content[8:12] == b"AIFC" else b"NONE"
    order = _AIFC_ORDER.get(compression)
    if order is None:
        raise FormatError(f"sound: AIFF-C compressed as {compression!r}; render it with another voice")
    (offset,) = struct.unpack_from(">L", chunks[b"SSND"])
    return _mixed(chunks[b"SSND"][8 + offset :], order, channels), rate


def _chunks(content: bytes) -> dict[bytes, bytes]:
    found, place = {}, 12
    while place + 8 <= len(content):
        name, size = struct.unpack_from(">4sL", content, place)
        found[name] = content[place + 8 : place + 8 + size]
        place += 8 + size + size % 2
    return found


def _check(bits: int, channels: int, rate: int) -> None:
    if bits != 16 or channels < 1 or not 8000 <= rate <= 192_000:
        raise FormatError(f"sound: {bits} bit, {channels} channels, {rate} Hz; 16 bit from 8000 Hz on is needed")


def _mixed(content: bytes, order: str, channels: int) -> Samples:
    whole = len(content) // (2 * channels) * (2 * channels)
    samples: Samples = np.frombuffer(content[:whole], dtype=order).astype(np.int16)
    if channels == 1:
        return samples
    mixed: Samples = np.rint(samples.reshape(-1, channels).mean(axis=1)).astype(np.int16)
    return mixed
