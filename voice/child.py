"""The process that renders phrases: `python -m voice.child FOLDER`. Short-lived, and never the coach's own.

A speech library may print, hang or die, and holds one voice a process. So it runs here, driven as a synthesiser only.
FOLDER holds `job.json` (a `render.Job`). It gets `facts.json` where no phrase is asked for, else one sound file a
phrase, `progress`, which is a byte long for each phrase done, and `error.json` where something is wrong. Where not even
that can be written, the exit code says so.
"""

from __future__ import annotations

import faulthandler
import json
import os
import platform
import sys
import wave
from array import array
from collections.abc import Callable
from importlib import metadata
from pathlib import Path
from typing import Any

from coach.vocabulary.errors import InputError, WorkError
from voice import library
from voice.espeak import Espeak

WARM_UP = ("one two three", "four five six")
"""Said first and thrown away: a start-up race of the library may cut the first phrase, or say it at another rate."""
PLATFORM = "platform"
"""The source of a voice that is the system's own, in place of those of `library`."""
NO_ROOM = 73
"""Exit code where FOLDER cannot be written (EX_CANTCREAT of sysexits.h)."""
GENTLE = 10
"""How much nicer than others a process is that renders beside a drive (nice(2): 19 is the most)."""
_DEFAULT = "en-us"

Save = Callable[[str, Path], None]


def main(arguments: list[str]) -> int:
    """Do the job of a folder."""
    folder = Path(arguments[0])
    try:
        job = json.loads((folder / "job.json").read_text(encoding="utf-8"))
        faulthandler.dump_traceback_later(job["seconds"], exit=True)  # nobody may be left to end this process
        if job.get("gentle"):
            _give_way()
        if job["phrases"]:
            _render(job, folder)
        else:
            _write(folder / "facts.json", _facts(job["voice"], job["rate"]))
    except Exception as error:
        # whatever a speech library does wrong is told to the coach, which decides what to do about it
        text = str(error) or type(error).__name__
        try:
            _write(folder / "error.json", {"error": text, "wrong_input": isinstance(error, InputError)})
        except OSError:
            return NO_ROOM
        return 1
    return 0


def _give_way() -> None:
    """Take what others leave of the processor."""
    if sys.platform != "win32":
        os.nice(GENTLE)


def _render(job: dict[str, Any], folder: Path) -> None:
    make = {"pyttsx3": _by_pyttsx3, "espeak": _by_espeak}[job["way"]]
    save = make(job["voice"], job["rate"], job["source"])
    for number, phrase in enumerate(WARM_UP):
        save(phrase, folder / f"warm-up-{number}.wav")
    with (folder / "progress").open("wb", buffering=0) as progress:
        for number, phrase in enumerate(job["phrases"]):
            save(phrase, folder / f"{number:05}.wav")
            progress.write(b".")


def _by_pyttsx3(voice: str, rate: int, source: str) -> Save:
    if source != PLATFORM:
        library.load(source)  # pyttsx3 then finds this one, by its name
    import pyttsx3

    engine = pyttsx3.init(None if source == PLATFORM else "espeak")
    wrong: list[Exception] = []
    engine.connect("error", lambda name, exception: wrong.append(exception))

    def save(phrase: str, path: Path) -> None:
        engine.setProperty("voice", voice)
        engine.setProperty("rate", rate)
        engine.save_to_file(phrase, str(path))
        engine.runAndWait()
        if wrong:
            raise WorkError(f"pyttsx3: {wrong[0]}") from wrong[0]

    return save


def _by_espeak(voice: str, rate: int, source: str) -> Save:
    espeak = Espeak(voice, rate, source)

    def save(phrase: str, path: Path) -> None:
        samples = array("h", espeak.say(phrase))
        if sys.byteorder == "big":
            samples.byteswap()
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(espeak.sample_rate)
            file.writeframes(samples.tobytes())

    return save


def _facts(voice: str | None, rate: int) -> dict[str, str]:
    """What would speak here: the engine with its version, the voice's own name, and where it comes from."""
    if not sys.platform.startswith("linux"):
        try:
            return _platform_facts(voice)
        except InputError:
            raise
        except Exception as error:
            # not only ImportError: pyttsx3 lets through whatever the system's speech does
            why = error
    else:
        why = None
    name = _DEFAULT if voice is None else voice
    try:
        espeak = Espeak(name, rate)
    except WorkError as error:
        raise (error if why is None else WorkError(f"no speech: {why}; {error}")) from why
    return {"engine": f"espeak-ng {espeak.version}", "voice": espeak.voice, "source": espeak.source}


def _platform_facts(voice: str | None) -> dict[str, str]:
    import pyttsx3

    engine = pyttsx3.init()
    voices = engine.getProperty("voices")
    engine_name = f"pyttsx3 {metadata.version('pyttsx3')} {engine.driver_name} {platform.version()}"
    return {"engine": engine_name, "voice": _choose(voices, voice, engine.getProperty("voice")), "source": PLATFORM}


def _choose(voices: list[Any], wanted: str | None, default: str) -> str:
    """The id of the voice wanted, by id, name or language, as a playbook names it for all systems; without a wish an
    English one. The default goes before others of the language, and is taken where there is no English one."""
    if wanted is None:
        alike = _speaking(voices, "en")
        return default if default in alike or not alike else alike[0]
    for voice in voices:
        if wanted.casefold() in (str(voice.id).casefold(), str(voice.name).casefold()):
            return str(voice.id)
    alike = _speaking(voices, wanted) or _speaking(voices, wanted.partition("-")[0])
    if not alike:
        raise InputError(f"voice: there is no {wanted!r}; choose from {', '.join(str(v.name) for v in voices[:12])}")
    return default if default in alike else alike[0]


def _speaking(voices: list[Any], language: str) -> list[str]:
    """The ids of those of a language, "de", or of a country's, "de-at"."""
    wanted = language.lower()
    return [
        str(voice.id)
        for voice in voices
        if any(f"{one}-".startswith(f"{wanted}-") for one in _languages(voice))
        or (wanted == "en" and "english" in str(voice.name).lower())
    ]


def _languages(voice: Any) -> list[str]:
    """As "en-us", whatever the system writes: "en_US", "en-US", or bytes with a priority before."""
    texts = [item.decode(errors="replace") if isinstance(item, bytes) else str(item) for item in voice.languages or []]
    return [text.strip("\x05").lower().replace("_", "-") for text in texts]


def _write(path: Path, plain: dict[str, Any]) -> None:
    part = path.with_suffix(".part")
    part.write_text(json.dumps(plain), encoding="utf-8")
    os.replace(part, path)


if __name__ == "__main__":
    code = main(sys.argv[1:])
    sys.stdout.flush()
    os._exit(code)  # the library's own threads may complain, or hang, in a normal end
