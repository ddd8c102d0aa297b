"""A synthesiser that misbehaves as it is told: `fake_child.py MODES COUNTER FOLDER`, in place of `voice.child`.

MODES has one mode a start, with commas; the last goes on. COUNTER is a file that counts the starts, a byte each.
Speech is a tone, so long as a voice would take at 175 words a minute. Imports nothing of the project.
"""

from __future__ import annotations

import array
import json
import math
import os
import signal
import subprocess
import sys
import time
import wave
import zlib
from pathlib import Path

RATE = 22050


def say(phrase: str, path: Path, seconds: float, level: int = 12000, rate: int = RATE) -> None:
    """A tone of the phrase's own, with 0.02 s of silence before it and 0.2 s behind."""
    pitch = 0.1 + 0.2 * zlib.crc32(phrase.encode()) / 2**32
    tone = [round(level * math.sin(n * pitch + 1)) for n in range(round(seconds * rate))]
    samples = array.array("h", [0] * round(0.02 * rate) + tone + [0] * round(0.2 * rate))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, rate, 0, "NONE", ""))
        file.writeframes(samples.tobytes())


def length(phrase: str) -> float:
    return 0.058 * len(phrase) + 0.065


def main(modes: str, counter: Path, folder: Path) -> int:
    with counter.open("ab") as file:
        file.write(b".")
        start = file.tell() - 1
    mode = (modes.split(",")[start:] or [modes.split(",")[-1]])[0]
    job = json.loads((folder / "job.json").read_text())
    if mode == "noise":
        for stream in (sys.stdout, sys.stderr):
            stream.write("Audio saved to /somewhere\n" * 10_000)
    if mode == "hang":
        time.sleep(60)
    if mode == "family":
        child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
        (counter.parent / "grandchild").write_text(str(child.pid))
        time.sleep(60)
    if mode == "error":
        (folder / "error.json").write_text(json.dumps({"error": "no tongue", "wrong_input": False}))
        return 1
    if mode == "no-room":
        return 73
    if mode == "wrong" or (mode == "tongue-tied" and job["way"] == "pyttsx3"):
        (folder / "error.json").write_text(json.dumps({"error": "there is no such voice", "wrong_input": True}))
        return 1
    if mode == "dies" and not job["phrases"]:
        os.kill(os.getpid(), signal.SIGKILL)
    if mode == "rubbish":
        for name in ("facts.json", "error.json"):
            (folder / name).write_bytes(b"\xff\x00[")
    elif not job["phrases"]:
        facts = {"engine": "made 1" if mode != "newer" else "made 2", "voice": "a-voice", "source": "system"}
        (folder / "facts.json").write_text(json.dumps(facts))
    render(mode, job["phrases"], folder)
    if mode == "dies":
        os.kill(os.getpid(), signal.SIGKILL)
    return 0


def render(mode: str, phrases: list[str], folder: Path) -> None:
    for number, phrase in enumerate(phrases):
        path, seconds = folder / f"{number:05}.wav", length(phrase)
        if mode == "dies" and number > len(phrases) // 2:
            return
        if mode == "other-rate":
            seconds *= 175 / 200
        if mode == "changes-rate" and number == 0:
            seconds *= 200 / 175
        if mode == "empty-first" and number == 0:
            path.write_bytes(b"")
        elif mode == "rubbish":
            path.write_bytes(os.urandom(4000))
        elif mode == "huge":
            with path.open("wb") as file:
                file.truncate(2**33)
        elif mode == "half" and number % 2 and number < len(phrases) - 1:
            pass
        elif mode == "cuts-one" and number == 3:
            say(phrase, path, seconds * 0.3)
        elif mode == "other-format":
            say(phrase, path, seconds, rate=44100)
        elif mode == "faint":
            say(phrase, path, seconds, level=50)
        else:
            say(phrase, path, seconds)
        with (folder / "progress").open("ab") as progress:
            progress.write(b".")
        if mode == "stops-half-way" and number > len(phrases) // 2:
            time.sleep(60)
        if mode == "slow":
            time.sleep(0.1)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])))
