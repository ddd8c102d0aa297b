"""The espeak-ng library by ctypes: a phrase in, its samples out. No sound card is touched."""

from __future__ import annotations

import ctypes
from typing import Any

from coach.vocabulary.errors import InputError, WorkError
from voice import library

_SYNCHRONOUS = 2  # AUDIO_OUTPUT_SYNCHRONOUS: samples come by callback before espeak_Synth returns
_STAY = 0x8000  # espeakINITIALIZE_DONT_EXIT: without it, missing voice data ends the whole process
_CHARACTERS = 1  # POS_CHARACTER
_UTF8 = 1  # espeakCHARS_UTF8
_RATE = 1  # espeakRATE, words a minute
RATES = range(80, 451)
"""words a minute that espeak-ng takes (its manual page)."""


class _Voice(ctypes.Structure):
    """The start of espeak_VOICE (speak_lib.h). `languages`: a byte of priority before each, a 0 behind the last."""

    _fields_ = (("name", ctypes.c_char_p), ("languages", ctypes.c_void_p), ("identifier", ctypes.c_char_p))


_CALLBACK = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)


class Espeak:
    """One voice at one rate (words a minute). `voice` by a name that the library takes, `sample_rate` Hz, `version` the
    library's own, `source` its origin.

    The library holds one voice a process: make no two. Raises WorkError where there is no library, InputError for a
    voice or rate that it does not have.
    """

    def __init__(self, voice: str, rate: int, source: str | None = None) -> None:
        if rate not in RATES:
            raise InputError(f"rate: {rate} words a minute; choose from {RATES.start} to {RATES.stop - 1}")
        self._library, self.source, self.sample_rate = _started(source)
        info = self._library.espeak_Info
        info.restype = ctypes.c_char_p
        self.version: str = (info(None) or b"").decode(errors="replace").split(" ")[0]
        self.voice = self._chosen(voice)
        self._rate = rate
        self._heard: list[int] = []
        self._callback = _CALLBACK(self._hear)  # kept here, or it would be collected while the library calls it
        self._library.espeak_SetSynthCallback(self._callback)

    def say(self, phrase: str) -> list[int]:
        """The phrase's samples, 16 bit mono, silence at both ends included."""
        self._heard = []
        self._library.espeak_SetParameter(_RATE, self._rate, 0)
        text = phrase.encode()
        failed = self._library.espeak_Synth(text, len(text) + 1, 0, _CHARACTERS, 0, _UTF8, None, None)
        if failed or self._library.espeak_Synchronize():
            raise WorkError(f"espeak-ng: it could not say {phrase!r}")
        return self._heard

    def _chosen(self, voice: str) -> str:
        """Set the voice of this name, or the library's first for a language of this name."""
        if self._library.espeak_SetVoiceByName(voice.encode()) == 0:
            return voice
        voices = _voices(self._library)
        for name, languages in voices:
            if voice.lower() in languages and self._library.espeak_SetVoiceByName(name.encode()) == 0:
                return name
        known = sorted({language for _, languages in voices for language in languages if "-" not in language})
        raise InputError(f"voice: espeak-ng has no {voice!r}; try en-us, or a language: {', '.join(known)}")

    def _hear(self, samples: Any, count: int, _events: object) -> int:
        if samples and count > 0:
            self._heard += samples[:count]
        return 0


def _started(source: str | None) -> tuple[Any, str, int]:
    """The first library that starts, where it comes from, and its sample rate; `source` allows only one origin."""
    failure: WorkError | None = None
    for origin in library.SOURCES if source is None else (source,):
        try:
            found = library.load(origin)
        except WorkError as error:
            failure = error
            continue
        handle = _declared(found.handle)
        sample_rate: int = handle.espeak_Initialize(_SYNCHRONOUS, 0, found.data, _STAY)
        if sample_rate > 0:
            return handle, origin, sample_rate
        failure = WorkError("espeak-ng: its voice data cannot be read; install espeak-ng or espeakng-loader anew")
    raise WorkError("espeak-ng: no library was asked for") if failure is None else failure


def _voices(handle: Any) -> list[tuple[str, list[str]]]:
    """Each voice that there is: a name that sets it, and its languages, the best first."""
    listed = handle.espeak_ListVoices(None)
    found = []
    while listed and listed.contents:
        voice = listed.contents.contents
        found.append(((voice.identifier or b"").decode(errors="replace"), _languages(voice.languages)))
        listed = ctypes.cast(ctypes.addressof(listed.contents) + ctypes.sizeof(ctypes.c_void_p), type(listed))
    return found


def _languages(place: int | None) -> list[str]:
    found = []
    while place and ctypes.string_at(place, 1) != b"\0":
        text = ctypes.string_at(place + 1)
        found.append(text.decode(errors="replace"))
        place += len(text) + 2
    return found


def _declared(handle: Any) -> Any:
    handle.espeak_Initialize.argtypes = (ctypes.c_int, ctypes.c_int, ctypes.c_char_p, ctypes.c_int)
    handle.espeak_SetVoiceByName.argtypes = (ctypes.c_char_p,)
    handle.espeak_SetParameter.argtypes = (ctypes.c_int, ctypes.c_int, ctypes.c_int)
    handle.espeak_SetSynthCallback.argtypes = (_CALLBACK,)
    handle.espeak_Synth.argtypes = (
        *(ctypes.c_char_p, ctypes.c_size_t, ctypes.c_uint, ctypes.c_int, ctypes.c_uint, ctypes.c_uint),
        *(ctypes.POINTER(ctypes.c_uint), ctypes.c_void_p),
    )
    handle.espeak_ListVoices.argtypes = (ctypes.c_void_p,)
    handle.espeak_ListVoices.restype = ctypes.POINTER(ctypes.POINTER(_Voice))
    return handle
