"""The process that holds the sound device: `python -m voice.mixer`. It plays what it is sent, and nothing else.

pygame keeps Python's lock while it opens a device, takes signals, and libraries under it print: a device that hangs
would stop the coach with it. Here it stops only this process, which can be ended and started again.

Standard input brings lines: `play NUMBER VOLUME BYTES`, with so many bytes of samples behind it, or `stop`; its end is
this process's end. Standard output gives one JSON object a line: `ready` or `failed` first, then `started` for each
sound. Times are of `time.perf_counter`, which is one clock for all processes of a machine on Linux, Windows and macOS.
"""

from __future__ import annotations

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

    def __init__(self, commands: BinaryIO, answers: BinaryIO) -> None:
        self._commands, self._answers = commands, answers

    def run(self) -> None:
        """Until the commands end."""
        if _unloaded is not None:
            self._say(what="failed", why=f"pygame cannot be loaded, install this package again: {_unloaded}")
            return
        try:
            pygame.mixer.init(SAMPLE_RATE, -16, 1, BUFFER, allowedchanges=0)
        except pygame.error as error:
            self._say(what="failed", why=str(error))
            return
        self._say(what="ready", at=time.perf_counter(), **_facts())
        channel = pygame.mixer.Channel(0)
        while line := self._commands.readline():
            command, *words = line.split()
            if command == b"play":
                self._play(channel, int(words[0]), float(words[1]), self._commands.read(int(words[2])))
            else:
                channel.fadeout(FADE)
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
        "buffer": BUFFER,
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
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    try:
        Mixer(sys.stdin.buffer, answers).run()
    except BrokenPipeError:
        return 1  # the coach has gone
    return 0


if __name__ == "__main__":
    sys.exit(main())
