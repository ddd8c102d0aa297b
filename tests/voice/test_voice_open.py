"""The one way in, with all that may be missing."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from coach.vocabulary.errors import InputError
from voice import lengths
from voice.open import cache_folder, open_voice
from voice.player import Answer, Failed, Ready
from voice.voice import Voice

PHRASES = [f"phrase number {word}" for word in ("one", "two", "three")]


class FakePlayer:
    def __init__(self, answer: Answer, hear: Callable[[Answer], None]) -> None:
        hear(answer)

    def close(self, timeout: float) -> None:
        """Nothing runs."""


def device(hear: Callable[[Answer], None]) -> Any:
    return FakePlayer(Ready(time.perf_counter(), {}), hear)


def no_device(hear: Callable[[Answer], None]) -> Any:
    return FakePlayer(Failed("none is there"), hear)


class Opening:
    def __init__(self, folder: Path, fake: Any) -> None:
        self.fake, self.cache = fake, folder / "cache"
        self.told: list[str] = []
        self.progress: list[tuple[int, int]] = []
        self.opened: list[Voice] = []

    def __call__(self, modes: str, **options: Any) -> Voice:
        given: dict[str, Any] = {
            "tell": self.told.append,
            "cache": self.cache,
            "progress": lambda *done: self.progress.append(done),
            "player": device,
            "renderer": self.fake(modes),
        }
        self.opened.append(open_voice(PHRASES, **(given | options)))
        return self.opened[-1]


@pytest.fixture
def opening(tmp_path: Path, fake: Any) -> Iterator[Opening]:
    made = Opening(tmp_path, fake)
    yield made
    for voice in made.opened:
        voice.close(0.0)


def test_a_voice_comes_with_its_phrases_and_their_lengths(opening: Opening) -> None:
    voice = opening("good")
    assert list(voice.table.lengths) == PHRASES
    assert opening.told == []
    assert opening.progress[-1] == (3, 3)
    assert opening("good").table == voice.table
    assert opening.fake.starts() == 3


def test_lengths_come_of_what_may_be_said_later_too(opening: Opening, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voice.planned.ENOUGH", 3)
    voice = opening("good", later=["phrase number four"])
    assert set(voice.table.lengths) == {*PHRASES, "phrase number four"}


def test_without_a_sound_device_nothing_is_kept_waiting_and_the_shipped_lengths_hold(opening: Opening) -> None:
    began = time.monotonic()
    voice = opening("slow", player=no_device)
    assert time.monotonic() - began < 3.0
    assert voice.is_silent
    assert voice.table == lengths.load()
    assert len(opening.told) == 1
    assert "no sound device (none is there)" in opening.told[0]


def test_the_lengths_are_the_same_without_a_device_whether_phrases_are_kept_or_not(opening: Opening) -> None:
    opening("good")
    assert opening("good", player=no_device).table == lengths.load()


def test_without_speech_tones_stand_in(opening: Opening) -> None:
    voice = opening("error")
    assert opening.told == ["voice: no speech (no tongue): short tones stand in for words"]
    assert voice.table == lengths.load()


def test_phrases_that_stay_away_are_told_with_the_reason(opening: Opening) -> None:
    voice = opening("good,error")
    assert opening.told == ["voice: 3 of 3 phrases could not be rendered (no tongue): tones stand in for them"]
    assert voice.table == lengths.load()


@pytest.mark.parametrize(
    ("modes", "options", "says"),
    [
        ("wrong", {}, "there is no such voice"),
        ("good", {"volume": 1.5}, "volume: 1.5; choose from 0 to 1"),
        ("good", {"volume": float("nan")}, "volume: nan; choose from 0 to 1"),
    ],
)
def test_what_is_asked_for_wrongly_is_an_error_in_one_line(
    modes: str, options: dict[str, Any], says: str, opening: Opening
) -> None:
    with pytest.raises(InputError) as caught:
        opening(modes, **options)
    assert str(caught.value) == says


def test_waiting_can_be_stopped(opening: Opening) -> None:
    with pytest.raises(KeyboardInterrupt):
        opening("good,slow", stopped=lambda: opening.fake.starts() > 1)
    assert list(opening.cache.rglob("work-*")) == []


SCRIPT = """
import sys
from pathlib import Path
sys.path[:0] = {path!r}
from conftest import FakeSynthesiser
from voice.open import open_voice
folder = Path({folder!r})
make = FakeSynthesiser(folder)("good,slow")
open_voice([f"phrase number {{n}}" for n in range(100)], tell=print, cache=folder / "cache", renderer=make,
    progress=lambda done, total: print(done, flush=True))
"""


def test_ctrl_c_while_it_waits_ends_all_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    script = SCRIPT.format(path=[str(Path(__file__).parent), str(Path(__file__).parents[2])], folder=str(tmp_path))
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as program:
        assert program.stdout is not None and program.stderr is not None
        while program.stdout.readline() not in ("2\n", ""):
            pass
        program.send_signal(signal.SIGINT)
        assert "KeyboardInterrupt" in program.stderr.read()
    assert program.returncode == -signal.SIGINT
    assert list((tmp_path / "cache").rglob("work-*")) == []
    assert _of_this_test(tmp_path) == []


def test_the_cache_is_in_the_users_own_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder().name == "voice"
    assert sys.platform != "linux" or cache_folder() == tmp_path / "cornerword" / "voice"


def _of_this_test(folder: Path) -> list[str]:
    """Processes whose command line names the folder."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            command = entry.read_bytes()
        except OSError:
            continue  # it has ended meanwhile
        if str(folder).encode() in command:
            found.append(command.decode(errors="replace"))
    return found
