"""Real speech: the library that pip installs, driven as it will be."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from coach.vocabulary.errors import InputError, WorkError
from voice.bank import build
from voice.checks import CHECK, Expected
from voice.lengths import load
from voice.render import Rendered, Renderer
from voice.trim import EDGE, SAMPLE_RATE, SILENCE

PHRASES = (
    *("Brake later", "Brake sooner", "Throttle sooner", "Throttle sooner, turn four", "Downshift later"),
    *("Shift down later, turn seven", "Carry more speed", "Hold the throttle", "Use the exit road, turn twelve"),
    *("Closer to the apex", "Settle the rear first", "Stay on track, turn thirty-eight"),
)
LOUDER = 3.0
"""How many times as loud the library's speech is made at most, silence with it: it lies 3 to 7 dB under our level."""
MEASURED = {text: load().lengths[text] for text in PHRASES}
"""s at 175 words a minute, measured at another time by voice.measure_lengths."""


def never() -> bool:
    return False


def rendered(renderer: Renderer, phrases: tuple[str, ...] = PHRASES) -> dict[str, Rendered]:
    sounds: dict[str, Rendered] = {}
    facts = renderer.facts(None, never)
    assert (facts.voice, facts.engine.startswith("espeak-ng 1.")) == ("en-us", True)
    missing = renderer.render(phrases, facts, Expected(), sounds.update, lambda *_: None, never)
    assert missing == {}
    return sounds


def test_a_dozen_phrases_are_as_long_as_the_shipped_table_says(tmp_path: Path) -> None:
    for text, one in rendered(Renderer(175, tmp_path)).items():
        assert one.seconds == pytest.approx(MEASURED[text], abs=0.06)
        samples = np.frombuffer(one.samples, dtype="<i2")
        edge = round(EDGE * SAMPLE_RATE)
        assert abs(samples[:edge]).max() < LOUDER * SILENCE
        assert abs(samples[-edge:]).max() < LOUDER * SILENCE
        assert min(abs(int(samples[edge])), abs(int(samples[-edge - 1]))) >= SILENCE
        assert abs(samples).max() > 3000


def test_the_library_itself_says_the_same_where_pyttsx3_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.render.WAYS", ("espeak",))
    for text, one in rendered(Renderer(175, tmp_path)).items():
        assert one.seconds == pytest.approx(MEASURED[text], abs=0.06)


def test_a_quicker_rate_is_as_much_quicker(tmp_path: Path) -> None:
    """espeak-ng's rate is words a minute, so lengths go as its inverse (its manual page)."""
    bank = build(PHRASES, None, 225, tmp_path, pytest.fail, lambda *_: None, never)
    assert bank.missing == {}
    took, slower = sum(bank.seconds.values()), sum(MEASURED.values())
    assert took == pytest.approx(slower * 175 / 225, rel=0.05)


def test_a_voice_may_be_named_by_its_language(tmp_path: Path) -> None:
    """BCP 47's en-GB is what the library calls gmw/en."""
    facts = Renderer(175, tmp_path).facts("en-gb", never)
    assert facts.voice == "gmw/en"
    assert Renderer(175, tmp_path).facts("de", never).voice == "de"
    sounds: dict[str, Rendered] = {}
    Renderer(175, tmp_path).render(PHRASES[:2], facts, Expected(), sounds.update, lambda *_: None, never)
    usual = rendered(Renderer(175, tmp_path), PHRASES[:2])
    assert set(sounds) == set(usual)
    assert sounds[PHRASES[0]].samples != usual[PHRASES[0]].samples


@pytest.mark.parametrize(
    ("voice", "rate", "says"),
    [("no-such-voice", 175, "voice: espeak-ng has no 'no-such-voice'"), (None, 9, "rate: 9 words a minute")],
)
def test_a_voice_or_rate_that_there_is_not_is_named(voice: str | None, rate: int, says: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=says):
        Renderer(rate, tmp_path).facts(voice, never)


NO_LIBRARY = """
import ctypes
class CDLL(ctypes.CDLL):
    def __init__(self, name, *rest, **named):
        if "espeak" in str(name):
            raise OSError("there is none")
        super().__init__(name, *rest, **named)
ctypes.CDLL = CDLL
"""


def test_without_any_library_the_mend_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sitecustomize.py").write_text(NO_LIBRARY)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(WorkError, match=r"no library \(there is none\); .* pip install espeakng-loader"):
        Renderer(175, tmp_path).facts(None, never)


def test_a_child_that_nobody_waits_for_ends_itself(tmp_path: Path) -> None:
    job = {"phrases": [CHECK] * 5000, "voice": "en-us", "rate": 175, "seconds": 0.5, "way": "espeak", "source": "wheel"}
    (tmp_path / "job.json").write_text(json.dumps(job))
    done = subprocess.run(
        [sys.executable, "-m", "voice.child", str(tmp_path)], capture_output=True, timeout=30, check=False
    )
    assert done.returncode == 1
    assert (tmp_path / "progress").stat().st_size < 5000


def test_nothing_of_the_users_folder_takes_the_place_of_a_module(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("voice.py", "wave.py", "json.py", "pyttsx3.py"):
        (tmp_path / name).write_text("raise SystemExit('a stranger was imported')\n")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "work").mkdir()
    assert len(rendered(Renderer(175, tmp_path / "work"), PHRASES[:2])) == 2


def test_said_aloud_it_is_the_bank_that_is_in_the_stream(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = tmp_path / "stream.raw"
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(stream))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    done = subprocess.run(
        [sys.executable, "-m", "voice", "Throttle sooner"], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["what"] for line in lines] == ["open", "device", "bank", "cue"]
    assert lines[-1]["source"] == "bank"
    bank = build(["Throttle sooner"], None, 175, tmp_path / "cache/cornerword/voice", pytest.fail, _unheard, never)
    assert bank.rendered == 0
    sound = bank.sound("Throttle sooner")
    assert sound is not None
    assert stream.read_bytes().count(sound) == 1


def _unheard(done: int, total: int) -> None:
    return None
