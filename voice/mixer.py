"""The process that holds the sound device: `python -m voice.mixer [--device NAME] [--buffer SAMPLES]`.

It plays what it is sent, and nothing else.

pygame keeps Python's lock while it opens a device, takes signals, and libraries under it print: a device that hangs
would stop the coach with it. Here it stops only this process, which can be ended and started again.

Standard input brings lines: `play NUMBER VOLUME BYTES`, with so many bytes of samples behind it, or `stop`; its end is
this process's end. Standard output gives one JSON object a line: `ready` or `failed` first, then `started` for each
sound. Times are of `time.perf_counter`, which is one clock for all processes of a machine on Linux, Windows and macOS.
"""

from __future__ import annotations

import argparse
import ctypes
import json
import os
import signal
import sys
import time
from typing import Any, BinaryIO

from voice.trim import SAMPLE_RATE

os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"
os.environ["SDL_NO_SIGNAL_HANDLERS"] = "1"  # else it takes SIGTERM, and nothing happens at one

_unloaded: ImportError | None = None
try:
    import pygame
    import pygame.mixer
except ImportError as error:
    _unloaded = error  # answered as a device that fails is

BUFFER = 512
"""samples, 23 ms: half would come out sooner, but a busy machine then drops out."""
FADE = 30
"""ms in which a sound that is cut off fades."""


class Mixer:
    """One channel of pygame's mixer, and the two pipes."""

    def __init__(self, commands: BinaryIO, answers: BinaryIO, device: str | None = None, buffer: int = BUFFER) -> None:
        """`device`: by its name or a part of it that only one has; None for the system's own."""
        self._commands, self._answers = commands, answers
        self._device, self._buffer = device, buffer

    def run(self) -> None:
        """Until the commands end."""
        if _unloaded is not None:
            self._say(what="failed", why=f"pygame cannot be loaded, install this package again: {_unloaded}")
            return
        try:
            name = self._open()
        except pygame.error as error:
            self._say(what="failed", why=str(error))
            return
        self._say(what="ready", at=time.perf_counter(), device=name, buffer=self._buffer, **_facts())
        channel = pygame.mixer.Channel(0)
        while line := self._commands.readline():
            command, *words = line.split()
            if command == b"play":
                self._play(channel, int(words[0]), float(words[1]), self._commands.read(int(words[2])))
            else:
                channel.fadeout(FADE)
        pygame.mixer.quit()

    def _open(self) -> str | None:
        """Open the device; returns its name, None for the system's own. Raises pygame.error, with the names there are
        where it is not one of them."""
        if self._device is None:
            self._init(None)
            return None
        try:
            self._init(self._device)
            return self._device
        except pygame.error as error:
            names = self._names()
            alike = [name for name in names if self._device.casefold() in name.casefold()]
            if self._device in names or not names:
                raise
            if len(alike) != 1:
                listed = ", ".join(repr(name) for name in names)
                raise pygame.error(f"{len(alike) or 'none'} called {self._device!r}; choose from {listed}") from error
        self._init(alike[0])
        return alike[0]

    def _init(self, device: str | None) -> None:
        pygame.mixer.init(SAMPLE_RATE, -16, 1, self._buffer, devicename=device, allowedchanges=0)

    def _names(self) -> list[str]:
        """The devices there are; the library tells only while one is open."""
        try:
            from pygame._sdl2.audio import get_audio_device_names

            self._init(None)
        except (ImportError, pygame.error):
            return []
        try:
            return list(get_audio_device_names(False))
        finally:
            pygame.mixer.quit()

    def _play(self, channel: pygame.mixer.Channel, number: int, volume: float, samples: bytes) -> None:
        sound = pygame.mixer.Sound(buffer=samples)
        sound.set_volume(volume)  # not the channel's, which can only be set once it plays
        late = channel.get_busy()
        channel.play(sound)
        self._say(what="started", number=number, at=time.perf_counter(), late=late)

    def _say(self, **plain: Any) -> None:
        self._answers.write(json.dumps(plain).encode() + b"\n")
        self._answers.flush()


def _facts() -> dict[str, Any]:
    frequency, size, channels = pygame.mixer.get_init()
    return {
        "driver": _driver(),
        "frequency": frequency,
        "size": size,
        "channels": channels,
        "pygame": pygame.version.ver + (" ce" if getattr(pygame, "IS_CE", False) else ""),
        "sdl": ".".join(map(str, pygame.get_sdl_version())),
        "sdl_mixer": ".".join(map(str, pygame.mixer.get_sdl_mixer_version())),
    }


def _driver() -> str:
    """The sound driver that SDL chose; pygame does not tell, but the library under it does."""
    try:
        ask = ctypes.CDLL(pygame.mixer.__file__).SDL_GetCurrentAudioDriver
    except (AttributeError, OSError):
        return os.environ.get("SDL_AUDIODRIVER", "unknown")
    ask.restype = ctypes.c_char_p
    return (ask() or b"unknown").decode(errors="replace")


def main() -> int:
    """Play until standard input ends; what libraries print on standard output goes nowhere."""
    parser = argparse.ArgumentParser(prog="python -m voice.mixer", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--device")
    parser.add_argument("--buffer", type=int, default=BUFFER)
    options = parser.parse_args()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    try:
        Mixer(sys.stdin.buffer, answers, options.device, options.buffer).run()
    except BrokenPipeError:
        return 1  # the coach has gone
    return 0


if __name__ == "__main__":
    sys.exit(main())
