"""The real mixer, without a sound card: what SDL's disk driver wrote is what was to be heard."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from coach.vocabulary.events import Cue
from voice import speaker
from voice.bank import Bank
from voice.player import Answer, Failed, Gone, Player, Ready
from voice.render import Facts, Rendered
from voice.shelf import Shelf
from voice.store import Identity
from voice.trim import SAMPLE_RATE
from voice.voice import Voice

TOLERANCE = 0.2
"""s between the log and the file: two buffers are 0.05, and the driver writes late where the machine is busy."""
DRIFT = 0.1
"""Share of the time by which the file may lag in all: what the driver is late by is never made good."""


def cue(text: str) -> Cue:
    return Cue(1.0, 2, "correction", None, (), 3, text, True, 1.0, 1.6, 3.0, None)


def noise(name: str, seconds: float) -> bytes:
    """Another one for each name, so that it is found in a stream without doubt."""
    chance = np.random.default_rng(list(name.encode()))
    return chance.integers(-9000, 9000, round(seconds * SAMPLE_RATE), dtype=np.int16).tobytes()


class Studio:
    """A voice with the real mixer in a process of its own."""

    def __init__(self, folder: Path, sounds: dict[str, bytes], volume: float = 1.0) -> None:
        self.told: list[str] = []
        self.players: list[Player] = []
        self._log = folder / "diagnostics.jsonl"
        self.voice = Voice(volume, self.told.append, self._log, self._player)
        shelf = Shelf(folder / "cache", Identity("made", "made", 175), self.told.append)
        shelf.keep({text: Rendered(samples, 0.1) for text, samples in sounds.items()}, None)
        self.voice.use(Bank(Facts("made", "made", "made"), 175, dict.fromkeys(sounds, 0.1), {}, 0, 0.0, shelf))

    def _player(self, hear: Callable[[Answer], None]) -> Player:
        self.players.append(Player(hear))
        return self.players[-1]

    def lines(self, what: str) -> list[dict[str, Any]]:
        lines = [json.loads(line) for line in self._log.read_text().splitlines()]
        return [line for line in lines if line["what"] == what]

    def say(self, text: str) -> None:
        """Say it and wait until its fate is known."""
        before = len(self.lines("cue"))
        self.voice.take(cue(text))
        wait_until(lambda: len(self.lines("cue")) > before)


def wait_until(condition: Callable[[], object], timeout: float = 10.0) -> None:
    until = time.monotonic() + timeout
    while not condition():
        assert time.monotonic() < until, "it did not come"
        time.sleep(0.005)


@pytest.fixture
def open_studio(tmp_path: Path) -> Iterator[Callable[..., Studio]]:
    """Makes studios and closes them; `wait=False` for a device that does not open."""
    studios = []

    def make(sounds: dict[str, bytes], wait: bool = True, volume: float = 1.0) -> Studio:
        studios.append(Studio(tmp_path, sounds, volume))
        assert not wait or studios[-1].voice.wait(10.0)
        return studios[-1]

    yield make
    for studio in studios:
        studio.voice.close(0.0)


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A sound device that is a file."""
    path = tmp_path / "stream.raw"
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(path))
    return path


def test_what_is_said_is_in_the_stream_to_the_bit_and_at_the_logged_time(disk: Path, open_studio: Any) -> None:
    sounds = {name: noise(name, 0.25) for name in ("one", "two", "three", "four")}
    studio = open_studio(sounds)
    for name in (*sounds, "never rendered"):
        studio.say(name)
        time.sleep(0.45)
    studio.voice.close()
    stream = disk.read_bytes()
    (device,) = studio.lines("device")
    assert (device["driver"], device["frequency"], device["buffer"]) == ("disk", 22050, 512)
    played = studio.lines("cue")
    assert [(line["text"], line["source"]) for line in played] == [
        *((name, "bank") for name in sounds),
        ("never rendered", "tone"),
    ]
    for line in played[:-1]:
        place = stream.find(sounds[line["text"]])
        assert place >= 0
        assert stream.count(sounds[line["text"]]) == 1
        heard = place / 2 / SAMPLE_RATE
        assert heard == pytest.approx(line["started"] - device["at"], abs=TOLERANCE, rel=DRIFT)
        assert 0 < line["latency_ms"] < 500
    assert studio.told == []


def test_the_volume_is_that_of_the_first_sample_too(disk: Path, open_studio: Any) -> None:
    loud = np.full(4000, 20000, dtype=np.int16)
    studio = open_studio({"loud": loud.tobytes()}, volume=0.5)
    studio.say("loud")
    studio.voice.close()
    stream = np.frombuffer(disk.read_bytes(), dtype=np.int16)
    assert np.count_nonzero(stream) == 4000
    assert set(stream[stream != 0].tolist()) == {10000}


def test_mute_fades_what_sounds(disk: Path, open_studio: Any) -> None:
    studio = open_studio({"long": noise("long", 5.0)})
    studio.say("long")
    time.sleep(0.2)
    studio.voice.mute(True)
    time.sleep(0.3)
    studio.voice.close()
    heard = np.count_nonzero(np.frombuffer(disk.read_bytes(), dtype=np.int16)) / SAMPLE_RATE
    assert 0.1 < heard < 1.5


def test_closing_plays_to_the_end(disk: Path, open_studio: Any) -> None:
    sound = noise("to the end", 0.6)
    studio = open_studio({"to the end": sound})
    studio.say("to the end")
    studio.voice.close(5.0)
    assert sound in disk.read_bytes()


def test_nothing_sounds_before_the_phrase(disk: Path, open_studio: Any) -> None:
    """No lead-in: a tone before words lengthens the response to them (Simpson & Williams 1980, HF 22:319-330)."""
    sounds = {name: noise(name, 0.3) for name in ("one", "two")}
    studio = open_studio(sounds)
    for name in sounds:
        studio.say(name)
        time.sleep(0.5)
    studio.voice.close()
    stream = disk.read_bytes()
    place = 0
    for samples in sounds.values():
        first = stream.find(samples, place)
        assert first >= 0
        assert not any(stream[place:first])  # silence alone, from the end of the one before to the first sample
        place = first + len(samples)
    assert not any(stream[place:])


def test_the_device_is_the_one_that_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SDL's disk driver takes a device's name for that of its file."""
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(tmp_path / "other.raw"))
    answers: list[Answer] = []
    player = Player(answers.append, device=str(tmp_path / "named.raw"))
    wait_until(lambda: answers)
    sound = noise("one", 0.1)
    player.play(1, sound, 1.0)
    wait_until(lambda: len(answers) == 2)
    time.sleep(0.4)
    player.close(2.0)
    assert isinstance(answers[0], Ready)
    assert answers[0].facts["device"] == str(tmp_path / "named.raw")
    assert sound in (tmp_path / "named.raw").read_bytes()
    assert not (tmp_path / "other.raw").exists()


DEVICES = """
import runpy, pygame, pygame.mixer, pygame._sdl2.audio as audio
names = {names!r}
opened = []
def init(*_, devicename=None, **__):
    if devicename is not None and devicename not in names:
        raise pygame.error("No such device")
    opened.append(devicename)
pygame.mixer.init = init
pygame.mixer.quit = lambda: None
pygame.mixer.get_init = lambda: (22050, -16, 1)
pygame.mixer.Channel = lambda number: None
audio.get_audio_device_names = lambda capture: names
runpy.run_module("voice.mixer", run_name="__main__")
"""
"""A mixer on a machine with devices of these names."""


def answer_of(device: str, names: list[str]) -> Answer:
    answers: list[Answer] = []
    player = Player(answers.append, [sys.executable, "-c", DEVICES.format(names=names)], device=device)
    wait_until(lambda: answers)
    player.close(2.0)
    return answers[0]


def test_a_part_of_a_name_will_do_if_only_one_device_has_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    names = ["Monitor, HDMI", "Head Phones", "Speakers, HDMI"]
    for asked, name in (("Head Phones", "Head Phones"), ("phones", "Head Phones"), ("HDMI", None), ("Tape", None)):
        answer = answer_of(asked, names)
        if name is not None:
            assert isinstance(answer, Ready)
            assert answer.facts["device"] == name
        else:
            assert isinstance(answer, Failed)
            many = "2" if asked == "HDMI" else "none"
            listed = "'Monitor, HDMI', 'Head Phones', 'Speakers, HDMI'"
            assert answer.why == f"{many} called {asked!r}; choose from {listed}"


def test_a_device_that_there_is_not_is_one_line_with_those_that_there_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    told: list[str] = []
    voice = Voice(1.0, told.append, None, lambda hear: Player(hear, device="no such"))
    assert voice.wait(10.0)
    voice.close()
    assert len(told) == 1
    assert told[0].startswith("voice: no sound device (none called 'no such'; choose from '")
    assert "\n" not in told[0]


@pytest.mark.parametrize("driver", ["bogus", "alsa"])
def test_no_device_is_silence_told_in_one_line(
    driver: str, open_studio: Any, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", driver)
    monkeypatch.setenv("AUDIODEV", "no-such-card")
    studio = open_studio({})
    assert studio.voice.is_silent
    studio.say("anything")
    studio.voice.close()
    assert studio.lines("cue")[0]["source"] == "silent"
    assert len(studio.told) == 1
    assert "no sound device" in studio.told[0]
    assert "\n" not in studio.told[0]
    assert capfd.readouterr() == ("", "")  # the drivers print; a person is told once, by us


def test_a_driver_that_hangs_as_it_opens_stops_nobody(
    disk: Path, open_studio: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pipe without a reader cannot be opened for writing: the driver stands still, with Python's lock held."""
    monkeypatch.setattr(speaker, "OPENING", 2.0)
    os.mkfifo(disk)
    studio = open_studio({"one": noise("one", 0.1)}, wait=False)
    assert not studio.voice.wait(0.3)
    assert _ticks_in(0.3) > 5  # none where the lock is held
    began = time.perf_counter()
    studio.voice.take(cue("one"))
    assert time.perf_counter() - began < 0.1
    assert studio.voice.wait(5.0)
    assert studio.voice.is_silent
    assert studio.lines("cue")[0]["source"] == "stale"
    assert "does not open" in studio.told[0]
    studio.voice.close()


def test_closing_while_the_driver_hangs_is_quick(disk: Path, open_studio: Any) -> None:
    os.mkfifo(disk)
    studio = open_studio({}, wait=False)
    assert not studio.voice.wait(0.2)
    began = time.perf_counter()
    studio.voice.close()
    assert time.perf_counter() - began < 2.0


def test_a_driver_that_stands_still_later_is_opened_again(disk: Path, open_studio: Any) -> None:
    """The pipe's reader goes on for a while, then no longer: as a card that was pulled out takes no sound."""
    os.mkfifo(disk)
    reader = _Reader(disk)
    try:
        studio = open_studio({"one": noise("one", 0.1), "two": noise("two", 0.1)})
        studio.say("one")
        wait_until(lambda: noise("one", 0.1) in reader.content)
        reader.pause()
        time.sleep(0.5)  # until the pipe is full
        studio.say("two")
        time.sleep(0.8)
        studio.voice.take(cue("two"))
        wait_until(lambda: len(studio.lines("device")) == 2)
        reader.go_on()
        studio.say("two")
        wait_until(lambda: noise("two", 0.1) in reader.content)
        studio.voice.close()
        assert len(studio.told) == 1
        assert "it takes no sound" in studio.told[0]
    finally:
        reader.end()


def test_a_mixer_that_stands_still_is_followed_by_another(
    disk: Path, open_studio: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a phrase that is more than a pipe holds, so that its sender would wait for ever."""
    monkeypatch.setattr(speaker, "ANSWERS", 0.3)
    studio = open_studio({"long": noise("long", 3.0), "two": noise("two", 0.1)})
    os.kill(studio.players[0].process_id, signal.SIGSTOP)
    studio.say("long")
    assert studio.lines("cue")[0]["source"] == "unanswered"
    assert studio.lines("cue")[0]["waited_ms"] < 2000
    wait_until(lambda: len(studio.lines("device")) == 2)
    studio.say("two")
    studio.voice.close()
    assert noise("two", 0.1) in disk.read_bytes()
    assert len(studio.told) == 1
    assert "it stands still" in studio.told[0]


def test_what_libraries_print_is_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    monkeypatch.setenv("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    code = "import os, runpy, pygame.mixer\nopen_it = pygame.mixer.init\n"
    code += "pygame.mixer.init = lambda *a, **k: (os.write(1, b'welcome\\n'), open_it(*a, **k))\n"
    code += "runpy.run_module('voice.mixer', run_name='__main__')"
    answers: list[Answer] = []
    player = Player(answers.append, [sys.executable, "-c", code])
    wait_until(lambda: answers)
    player.close(2.0)
    assert isinstance(answers[0], Ready)


def test_without_pygame_the_mixer_says_what_is_missing() -> None:
    code = "import runpy, sys; sys.modules['pygame'] = None; runpy.run_module('voice.mixer', run_name='__main__')"
    answers: list[Answer] = []
    player = Player(answers.append, [sys.executable, "-c", code])
    wait_until(lambda: Gone() in answers)
    player.close(0.0)
    assert isinstance(answers[0], Failed)
    assert answers[0].why.startswith("pygame cannot be loaded, install this package again: ")


def test_a_killed_mixer_is_followed_by_another(disk: Path, open_studio: Any) -> None:
    studio = open_studio({"one": noise("one", 0.1), "two": noise("two", 0.1)})
    studio.say("one")
    studio.players[0].kill()
    wait_until(lambda: len(studio.lines("device")) == 2)
    studio.say("two")
    studio.voice.close()
    assert noise("two", 0.1) in disk.read_bytes()
    assert len(studio.told) == 1


SCRIPT = """
import sys, time
from voice.player import Player
from voice.voice import Voice
made = []
def player(hear):
    made.append(Player(hear))
    return made[-1]
voice = Voice(1.0, print, None, player)
voice.wait(10)
print(made[0].process_id, flush=True)
time.sleep(60)
"""


def test_the_mixer_ends_with_a_coach_that_is_killed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    with subprocess.Popen([sys.executable, "-c", SCRIPT], stdout=subprocess.PIPE, text=True) as coach:
        assert coach.stdout is not None
        mixer = int(coach.stdout.readline())
        os.kill(mixer, 0)
        coach.send_signal(signal.SIGKILL)
    wait_until(lambda: not _runs(mixer))


def test_ctrl_c_at_the_terminal_does_not_reach_the_mixer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    answers: list[Answer] = []
    player = Player(answers.append)
    wait_until(lambda: answers)
    assert os.getpgid(player.process_id) != os.getpgid(0)
    os.kill(player.process_id, signal.SIGINT)
    player.play(1, bytes(100), 1.0)
    wait_until(lambda: len(answers) == 2)
    player.close(2.0)
    assert len(answers) == 3


class _Reader:
    """Reads a pipe all the time, from a thread of its own, unless it pauses."""

    def __init__(self, path: Path) -> None:
        self.content = b""
        self._handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        self._reads, self._over = threading.Event(), threading.Event()
        self._reads.set()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        while not self._over.is_set():
            self._reads.wait()
            with contextlib.suppress(BlockingIOError):  # nothing has come yet
                self.content += os.read(self._handle, 65536)
            time.sleep(0.005)

    def pause(self) -> None:
        fcntl.fcntl(self._handle, fcntl.F_SETPIPE_SZ, 4096)
        self._reads.clear()

    def go_on(self) -> None:
        self._reads.set()

    def end(self) -> None:
        self._over.set()
        self._reads.set()
        self._thread.join()
        os.close(self._handle)


def _ticks_in(seconds: float) -> int:
    """How often this thread gets to run."""
    until, ticks = time.perf_counter() + seconds, 0
    while time.perf_counter() < until:
        time.sleep(0.002)
        ticks += 1
    return ticks


def _runs(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
