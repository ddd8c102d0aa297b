"""A drive, coached aloud: the words are in the sound that was written, at the logged time."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from coach.planner.phrases import Phrases
from coach.playbook.load import load
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS
from feeds.car.send import encode
from feeds.car.spec import PELLOW_R
from voice import lengths

TOP = Path(__file__).parents[2]
TEXT = "throttle sooner"
"""Is in what is said after the first corner, whether or not the corner is named in it."""
RENDER = """
from coach.planner.phrases import Phrases
from coach.playbook.load import load
from voice.open import open_voice
phrases = Phrases(load())
wanted = [*phrases.anywhere(), *phrases.at(range(1, 13)), *phrases.counted(range(1, 11))]
open_voice(wanted, tell=print).close()
"""
SAMPLE_RATE = 22050
TOLERANCE = 0.2
"""s between the log and the file: the disk driver writes late where the machine is busy."""


def written(path: Path, mistakes: list[str], first: float, last: float, rate: int = 30) -> Path:
    spec = DriveSpec(
        brack_mere(), PELLOW_R, PERSONS["steady"], laps=1, rate=rate, mistakes=[read_mistake(m) for m in mistakes]
    )

    def rows() -> Iterator[bytes]:
        for row in Drive(spec):
            if row["t"] > last:
                return
            if row["t"] >= first:
                yield encode(row) + b"\n"

    path.write_bytes(b"".join(rows()))
    return path


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what a replay of the first corner left: events.jsonl, sound.jsonl, stream.raw, cache/."""
    folder = tmp_path_factory.mktemp("spoken")
    reference = written(folder / "reference.jsonl", [], 0.0, 200.0)
    drive = written(folder / "drive.jsonl", ["late_throttle:1:1:0.7"], 4.0, 24.0)
    command = [sys.executable, "-m", "coach", "replay", str(drive), "--reference", str(reference), "--no-overlay"]
    command += ["--events", str(folder / "events.jsonl"), "--sound-log", str(folder / "sound.jsonl")]
    environment = {
        **os.environ,
        "SDL_AUDIODRIVER": "disk",
        "SDL_DISKAUDIOFILE": str(folder / "stream.raw"),
        "XDG_CACHE_HOME": str(folder / "cache"),
    }
    # Phrases first, as from the second start on: the disk driver falls behind while the machine renders.
    render = [sys.executable, "-c", RENDER]
    subprocess.run(render, cwd=TOP, env={**environment, "SDL_AUDIODRIVER": "dummy"}, check=True)
    done = subprocess.run(command, capture_output=True, text=True, cwd=TOP, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    return folder


def lines(path: Path, **wanted: object) -> list[dict]:
    read = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return [line for line in read if all(line.get(key) == value for key, value in wanted.items())]


def test_the_words_are_in_the_sound_at_the_logged_time(spoken: Path) -> None:
    (device,) = lines(spoken / "sound.jsonl", what="device")
    (cue,) = lines(spoken / "sound.jsonl", what="cue")
    assert TEXT in cue["text"].lower()
    assert cue["source"] == "bank"
    assert cue["latency_ms"] < 100
    stream = (spoken / "stream.raw").read_bytes()
    found = [(place, sound) for sound in sounds(spoken / "cache") if (place := stream.find(sound)) >= 0]
    assert len(found) == 1
    places = [place for place, _ in found]
    assert not any(stream[: places[0]])  # nothing leads in
    assert not any(stream[places[0] + len(found[0][1]) :])
    assert places[0] / 2 / SAMPLE_RATE == pytest.approx(cue["started"] - device["at"], abs=TOLERANCE)


def test_the_log_says_what_was_heard_and_for_how_long(spoken: Path) -> None:
    (said,) = lines(spoken / "events.jsonl", type="cue", spoken=True)
    (cue,) = lines(spoken / "sound.jsonl", what="cue")
    assert said["text"] == cue["text"]
    assert said["t"] == pytest.approx(cue["t"], abs=1e-3)
    assert said["ends"] - said["starts"] == pytest.approx(cue["length"], abs=0.05)


def test_a_stream_without_a_head_is_timed_by_the_shipped_table(spoken: Path) -> None:
    """So that a replay says the same whatever voice speaks it."""
    (run,) = lines(spoken / "events.jsonl", type="run")
    assert run["phrases"] == lengths.DEFAULT
    (bank,) = lines(spoken / "sound.jsonl", what="bank")
    assert bank["missing"] == 0


def test_at_the_first_start_a_phrase_is_rendered_under_way_and_said(spoken: Path, tmp_path: Path) -> None:
    """With nothing kept: only what names no corner is waited for, and the settings say how it sounds."""
    settings = tmp_path / "config" / "cornerword" / "settings.toml"
    settings.parent.mkdir(parents=True)
    settings.write_text("[voice]\nvolume = 0.5\nwords_a_minute = 180\n")
    command = [sys.executable, "-m", "coach", "replay", str(spoken / "drive.jsonl"), "--no-overlay"]
    command += ["--reference", str(spoken / "reference.jsonl"), "--sound-log", str(tmp_path / "sound.jsonl")]
    command += ["--volume", "0.25"]
    environment = {
        **os.environ,
        "SDL_AUDIODRIVER": "disk",
        "SDL_DISKAUDIOFILE": str(tmp_path / "stream.raw"),
        "XDG_CACHE_HOME": str(tmp_path / "cache"),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
    }
    done = subprocess.run(command, capture_output=True, text=True, cwd=TOP, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    (bank,) = lines(tmp_path / "sound.jsonl", what="bank")
    assert (bank["rate"], bank["missing"]) == (180, 0)
    assert bank["phrases"] == bank["rendered"] == len(Phrases(load()).anywhere())
    (cue,) = lines(tmp_path / "sound.jsonl", what="cue")
    assert TEXT in cue["text"].lower()
    assert cue["source"] == "bank"
    heard = np.frombuffer((tmp_path / "stream.raw").read_bytes(), dtype="<i2")
    kept = [np.frombuffer(sound, dtype="<i2") for sound in sounds(tmp_path / "cache")]
    assert abs(heard).max() == pytest.approx(max(abs(sound).max() for sound in kept) * 0.25, rel=0.02)
    assert len(kept) > bank["phrases"]  # those that name the corners came under way


def test_without_a_clock_the_same_is_said(spoken: Path) -> None:
    command = [sys.executable, "-m", "coach", "replay", "--fast", str(spoken / "drive.jsonl")]
    command += ["--reference", str(spoken / "reference.jsonl"), "--events", str(spoken / "fast.jsonl")]
    done = subprocess.run(command, capture_output=True, text=True, cwd=TOP, check=False)
    assert done.returncode == 0, done.stderr
    assert (spoken / "fast.jsonl").read_bytes() == (spoken / "events.jsonl").read_bytes()


def test_a_drive_with_voice_and_window_is_timed_by_its_own_voice_and_replays_to_the_byte(spoken: Path) -> None:
    """Ten times as fast as it was driven: the source's clock counts."""
    command = [sys.executable, "-m", "coach", "drive", "--port", "0", "--reference", str(spoken / "reference.jsonl")]
    command += ["--record", str(spoken / "drive.cwrec"), "--events", str(spoken / "drive.events.jsonl")]
    command += ["--sound-log", str(spoken / "drive.sound.jsonl")]
    environment = {
        **os.environ,
        "SDL_AUDIODRIVER": "dummy",
        "SDL_VIDEODRIVER": "dummy",
        "XDG_CACHE_HOME": str(spoken / "cache"),
    }
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=TOP, env=environment
    ) as drive:
        assert drive.stderr is not None
        greeting = drive.stderr.readline()
        assert greeting.startswith("listening on "), greeting
        _send(spoken / "drive.jsonl", int(greeting.split(" (")[0].rpartition(":")[2]), pace=10.0)
        drive.send_signal(signal.SIGINT)
        summary, told = drive.communicate(timeout=30)
    assert drive.returncode == 0, told
    assert TEXT in summary.lower()
    (bank,) = lines(spoken / "drive.sound.jsonl", what="bank")
    (cue,) = lines(spoken / "drive.sound.jsonl", what="cue")
    assert TEXT in cue["text"].lower()
    assert cue["source"] == "bank"
    (run,) = lines(spoken / "drive.events.jsonl", type="run")
    assert run["phrases"] == bank["table"] != lengths.DEFAULT

    replay = [sys.executable, "-m", "coach", "replay", "--fast", str(spoken / "drive.cwrec")]
    replay += ["--events", str(spoken / "replay.events.jsonl")]
    assert subprocess.run(replay, capture_output=True, cwd=TOP, check=False).returncode == 0
    assert (spoken / "replay.events.jsonl").read_bytes() == (spoken / "drive.events.jsonl").read_bytes()


def _send(path: Path, port: int, pace: float) -> None:
    rows = path.read_bytes().splitlines()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        first, began = json.loads(rows[0])["t"], time.perf_counter()
        for row in rows:
            due = began + (json.loads(row)["t"] - first) / pace
            time.sleep(max(0.0, due - time.perf_counter()))
            out.sendto(row, ("127.0.0.1", port))


def sounds(cache: Path) -> Iterator[bytes]:
    """The samples of every phrase that was rendered."""
    for path in cache.rglob("*.wav"):
        with wave.open(str(path)) as file:
            yield file.readframes(file.getnframes())
