"""Rendered phrases kept on disk, so that a voice is rendered once: WAV files and a manifest that lists them.

A WAV file is named by what is in it, and both it and the manifest come into their place whole, so two programs at once
do each other no harm: at worst both render the same phrase. What is torn, or of others, is as if it were not there.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import stat
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coach.vocabulary.errors import FormatError
from voice import soundfile

FORMAT: Final = 2
"""Of the manifest and of how sounds are trimmed and made equally loud; another one is another folder."""
MANIFEST = "manifest.json"
LARGEST = 16_000_000
"""bytes of a file that is still read: a hundred times what a manifest of 1,500 phrases takes, minutes of sound."""
FORGOTTEN = 24 * 3600.0
"""s after which what nobody lists, or a killed program left, is swept out."""

_SUFFIX = ".wav"


@dataclass(frozen=True, slots=True)
class Identity:
    """All that decides how a phrase sounds, but the phrase."""

    engine: str
    voice: str
    rate: int

    @property
    def folder(self) -> str:
        """The name of its folder: readable, safe on every system, and another one for another identity."""
        text = "\n".join((str(FORMAT), self.engine, self.voice, str(self.rate)))
        return f"{slug(self.voice)}-{self.rate}-{_digest(text.encode())[:8]}"


class _Phrase(BaseModel):
    model_config = ConfigDict(strict=True)

    sound: Annotated[str, Field(pattern=r"^[0-9a-f]{20}$")]
    seconds: Annotated[float, Field(gt=0, lt=60)]


class _Manifest(BaseModel):
    model_config = ConfigDict(strict=True)

    format: Literal[2]
    engine: str
    voice: str
    rate: int
    check: Annotated[float, Field(gt=0, lt=60)] | None
    phrases: dict[str, _Phrase]


class Store:
    """The kept phrases of one identity under `cache`. `check`: s that the check phrase takes, where that is known.

    `damaged` counts what was found torn or foreign. OSError passes through where a folder cannot be read or written.
    """

    def __init__(self, cache: Path, identity: Identity) -> None:
        self.folder = cache / identity.folder
        self.damaged = 0
        self._identity = identity
        manifest = self._read_manifest()
        self.check = None if manifest is None else manifest.check
        self._phrases = {} if manifest is None else manifest.phrases

    def seconds(self, text: str) -> float | None:
        """s of speech of a phrase; None where it is not kept."""
        phrase = self._phrases.get(text)
        return None if phrase is None else phrase.seconds

    def samples(self, text: str) -> bytes | None:
        """Its samples, 16 bit mono, lowest byte first; None where it is not kept, or no longer whole."""
        phrase = self._phrases.get(text)
        if phrase is None:
            return None
        samples = self._whole(phrase.sound)
        if samples is None:
            self.damaged += 1
            self._phrases.pop(text, None)
        return samples

    def add(self, text: str, samples: bytes, seconds: float) -> None:
        """Keep a phrase; it is listed with the next `save`."""
        self.folder.mkdir(parents=True, exist_ok=True)
        name = _digest(samples)
        if self._whole(name) is None:
            _put(self.folder / (name + _SUFFIX), soundfile.wav(samples))
        self._phrases[text] = _Phrase(sound=name, seconds=seconds)

    def save(self) -> None:
        """Write the manifest, with what another program has listed meanwhile, and sweep out what nobody lists."""
        other = self._read_manifest()
        if other is not None:
            self._phrases = other.phrases | self._phrases
        phrases = dict(self._phrases)  # a copy, for another thread may just find one damaged
        manifest = _Manifest(
            format=FORMAT,
            engine=self._identity.engine,
            voice=self._identity.voice,
            rate=self._identity.rate,
            check=self.check,
            phrases=phrases,
        )
        self.folder.mkdir(parents=True, exist_ok=True)
        _put(self.folder / MANIFEST, manifest.model_dump_json(indent=0).encode())
        self._sweep()

    def _whole(self, name: str) -> bytes | None:
        """The samples in a sound file; None where it is not there, or does not hold what its name says."""
        try:
            samples = soundfile.wav_samples(_read(self.folder / (name + _SUFFIX)))
        except (OSError, FormatError):
            return None
        return samples if _digest(samples) == name else None

    def _read_manifest(self) -> _Manifest | None:
        path = self.folder / MANIFEST
        try:
            manifest = _Manifest.model_validate_json(_read(path))
        except (FileNotFoundError, NotADirectoryError):
            return None
        except (OSError, ValidationError):
            self.damaged += 1
            return None
        if Identity(manifest.engine, manifest.voice, manifest.rate) != self._identity:
            self.damaged += 1
            return None
        return manifest

    def _sweep(self) -> None:
        listed = {phrase.sound + _SUFFIX for phrase in self._phrases.values()} | {MANIFEST}
        old = time.time() - FORGOTTEN
        for path in self.folder.iterdir():
            if path.name not in listed:
                with contextlib.suppress(OSError):  # another program sweeps too, or is just putting it in place
                    if path.stat().st_mtime < old:
                        path.unlink()


def slug(text: str) -> str:
    """A name as part of a file's: letters, digits and hyphens, at most 24 of them."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:24].strip("-") or "voice"


def _digest(content: bytes) -> str:
    return hashlib.blake2b(content, digest_size=10).hexdigest()


def _read(path: Path) -> bytes:
    """A file of ours; what is too large, or no file, is a foreign one, and could keep us waiting."""
    kind = path.stat()
    if not stat.S_ISREG(kind.st_mode) or kind.st_size > LARGEST:
        raise OSError(f"{path} is not one of ours")
    return path.read_bytes()


def _put(path: Path, content: bytes) -> None:
    """Write a file so that others see all of it or nothing."""
    handle, part = tempfile.mkstemp(prefix="part-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.replace(part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise
