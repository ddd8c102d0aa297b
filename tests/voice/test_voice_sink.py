"""The voice as a sink: whatever its thread and its device do, who gives it a cue goes on at once."""

from __future__ import annotations

import json
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Advice, Cue
from voice import lengths
from voice.bank import Bank
from voice.lengths import LengthTable
from voice.player import Answer, Failed, Gone, Player, Ready, Started
from voice.render import Facts, Rendered
from voice.shelf import Shelf
from voice.store import Identity
from voice.supply import Supply
from voice.voice import Voice

QUICK = 0.001
"""s that `take` may take in the median here, ten times what it does, for a machine may be busy."""


def cue(text: str = "Brake later", spoken: bool = True) -> Cue:
    return Cue(1.0, 2, "correction", "early_braking", (), 3, text, spoken, 1.0, 1.6, 3.0, None)


def said(text: str) -> Cue:
    """A status, with 0.6 s for it."""
    return replace(cue(text), kind="status", corner=None)


class FakePlayer:
    """Answers at once, unless it is told to hang in `play` until it is killed."""

    def __init__(self, hear: Callable[[Answer], None], hangs: bool = False, opens: bool = True) -> None:
        self.hear, self.hangs = hear, hangs
        self.played: list[bytes] = []
        self.ended = threading.Event()
        self.stops = 0
        hear(Ready(time.perf_counter(), {}) if opens else Failed("none"))

    def play(self, number: int, samples: bytes, volume: float) -> None:
        self.played.append(samples)
        if self.hangs:
            assert self.ended.wait(20)
        self.hear(Started(number, time.perf_counter(), False))

    def stop(self) -> None:
        self.stops += 1

    def close(self, timeout: float) -> None:
        self.ended.set()

    def kill(self) -> None:
        self.ended.set()


class Scene:
    """A voice with a fake device; `lines` of the diagnostics once it is closed."""

    def __init__(self, folder: Path, make: Callable[[Any], Any]) -> None:
        self.told: list[str] = []
        self.players: list[Any] = []
        self.log = folder / "diagnostics.jsonl"
        self._make = make
        self.voice = Voice(1.0, self.told.append, self.log, self._player)
        self._folder = folder

    def _player(self, hear: Callable[[Answer], None]) -> Any:
        self.players.append(self._make(hear))
        return self.players[-1]

    def use_bank(self, sounds: dict[str, bytes]) -> Bank:
        shelf = Shelf(self._folder / "cache", Identity("made", "made", 175), self.told.append)
        shelf.keep({text: Rendered(samples, 0.1) for text, samples in sounds.items()}, None)
        bank = Bank(Facts("made", "made", "made"), 175, dict.fromkeys(sounds, 0.1), {}, 0, 0.0, shelf)
        self.voice.use(bank)
        return bank

    def cues(self) -> list[tuple[str, str]]:
        lines = [json.loads(line) for line in self.log.read_text().splitlines()]
        return [(line["text"], line["source"]) for line in lines if line["what"] == "cue"]


Stage = Callable[..., Scene]


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    scenes: list[Scene] = []

    def make(make: Callable[[Any], Any] = FakePlayer) -> Scene:
        scenes.append(Scene(tmp_path, make))
        return scenes[-1]

    yield make
    for scene in scenes:
        scene.voice.close(0.0)


def wait_until(condition: Callable[[], object], timeout: float = 5.0) -> None:
    until = time.monotonic() + timeout
    while not condition():
        assert time.monotonic() < until, "it did not come"
        time.sleep(0.002)


def test_only_what_is_spoken_is_said(stage: Stage) -> None:
    scene = stage()
    scene.use_bank({"Brake later": b"\1\2" * 50})
    scene.voice.take(cue(spoken=False))
    scene.voice.take(Advice(1.0, 1, "fuel", "Brake later"))
    scene.voice.take(cue())
    wait_until(lambda: scene.players[0].played)
    scene.voice.close()
    assert scene.players[0].played == [b"\1\2" * 50]
    assert scene.cues() == [("Brake later", "bank")]


def test_take_is_quick_while_the_device_hangs_and_closing_ends_it(stage: Stage) -> None:
    scene = stage(lambda hear: FakePlayer(hear, hangs=True))
    scene.voice.take(cue())
    wait_until(lambda: scene.players[0].played)
    took = []
    for number in range(1000):
        began = time.perf_counter()
        scene.voice.take(cue(f"cue {number}"))
        took.append(time.perf_counter() - began)
    assert sorted(took)[500] < QUICK
    assert scene.voice._inbox.qsize() < 20
    began = time.perf_counter()
    scene.voice.close(0.1)
    assert time.perf_counter() - began < 6.0
    assert scene.players[0].ended.is_set()
    assert len(scene.cues()) < 20  # the queue is bounded


def test_what_comes_from_many_threads_is_taken(stage: Stage) -> None:
    scene = stage()
    threads = [threading.Thread(target=scene.voice.take, args=(cue(f"cue {n}"),)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    scene.voice.close(3.0)
    assert {text for text, _ in scene.cues()} == {f"cue {n}" for n in range(4)}


def test_a_voice_that_fails_inside_costs_only_the_voice(stage: Stage) -> None:
    class Broken(FakePlayer):
        def play(self, number: int, samples: bytes, volume: float) -> None:
            raise ZeroDivisionError("a bug")

    scene = stage(Broken)
    scene.voice.take(cue())
    wait_until(lambda: scene.told)
    assert scene.told == ["voice: it failed (ZeroDivisionError: a bug): cues are printed only"]
    assert scene.players[0].ended.wait(5.0)
    for _ in range(100):
        scene.voice.take(cue())
    scene.voice.close()
    assert len(scene.told) == 1


def test_without_a_device_it_is_silent_and_says_so_once(stage: Stage) -> None:
    scene = stage(lambda hear: FakePlayer(hear, opens=False))
    assert scene.voice.wait(5.0)
    assert scene.voice.is_silent
    scene.voice.take(cue())
    wait_until(lambda: scene.cues())
    assert scene.cues() == [("Brake later", "silent")]
    assert len(scene.told) == 1


def test_mute_cuts_off_and_can_be_taken_back(stage: Stage) -> None:
    scene = stage()
    scene.use_bank({"Brake later": bytes(44100)})
    scene.voice.take(cue())
    wait_until(lambda: scene.cues())
    scene.voice.mute(True)
    wait_until(lambda: scene.players[0].stops == 1)
    scene.voice.take(cue("muted"))
    wait_until(lambda: len(scene.cues()) == 2)
    scene.voice.mute(False)
    scene.voice.take(cue("again"))
    wait_until(lambda: len(scene.players[0].played) == 2)
    scene.voice.close(0.0)
    assert scene.cues() == [("Brake later", "bank"), ("muted", "muted"), ("again", "tone")]


def test_closing_lets_a_phrase_end_and_twice_is_no_harm(stage: Stage) -> None:
    scene = stage()
    scene.use_bank({"Brake later": bytes(2 * 8820)})  # 0.4 s
    began = time.perf_counter()
    scene.voice.take(cue())
    scene.voice.close(3.0)
    assert 0.4 <= time.perf_counter() - began < 2.0
    scene.voice.close()
    scene.voice.take(cue())
    assert scene.cues() == [("Brake later", "bank")]


def test_the_table_is_the_banks_or_the_shipped_one(stage: Stage) -> None:
    scene = stage()
    assert scene.voice.table == lengths.load()
    bank = scene.use_bank({"Brake later": bytes(100)})
    assert scene.voice.table == bank.table
    assert scene.voice.table.lengths == {"Brake later": 0.1}


class Supplied:
    """A voice whose bank is empty and whose supply is a fake synthesiser."""

    def __init__(self, scene: Scene, folder: Path, make: Any) -> None:
        self.scene = scene
        cache = folder / "supplied"
        shelf = Shelf(cache, Identity("made 1", "a-voice", 175), scene.told.append)
        self.bank = Bank(Facts("made 1", "a-voice", "system"), 175, {}, {}, 0, 0.0, shelf)
        table = LengthTable("fixed", "made", 175, {"Brake later": 0.6})
        supply = Supply(self.bank, cache, make, scene.voice.wake, scene.told.append)
        scene.voice.use(self.bank, supply, table)


def test_a_cue_that_is_not_rendered_yet_is_rendered_and_said(stage: Stage, tmp_path: Path, fake: Any) -> None:
    scene = stage()
    supplied = Supplied(scene, tmp_path, fake("good"))
    scene.voice.take(replace(cue("One"), ends=None))
    wait_until(lambda: scene.players[0].played or scene.cues())
    assert supplied.bank.sound("One") in scene.players[0].played
    scene.voice.close()
    assert scene.cues() == [("One", "bank")]
    assert scene.voice.table.lengths == {"Brake later": 0.6}  # the planner's lengths do not change under way


def test_one_that_takes_too_long_is_held_back_and_there_the_next_time(
    stage: Stage, tmp_path: Path, fake: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.speaker.STALE", 0.05)
    scene = stage()
    supplied = Supplied(scene, tmp_path, fake("slow"))
    scene.voice.take(said("Two"))
    wait_until(lambda: scene.cues())
    assert scene.cues() == [("Two", "not rendered yet")]
    wait_until(lambda: "Two" in supplied.bank.seconds)
    scene.voice.take(said("Two"))
    wait_until(lambda: len(scene.cues()) == 2)
    assert scene.cues()[1] == ("Two", "bank")


def test_one_that_cannot_be_rendered_is_a_tone_as_soon_as_that_is_known(
    stage: Stage, tmp_path: Path, fake: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.speaker.STALE", 20.0)
    scene = stage()
    Supplied(scene, tmp_path, fake("error"))
    scene.voice.take(said("Three"))
    wait_until(lambda: scene.cues(), timeout=15.0)
    assert scene.cues() == [("Three", "tone")]
    assert scene.told == ["voice: 1 phrase could not be rendered (no tongue): tones stand in for what cannot"]


def test_what_is_wanted_beforehand_is_there(stage: Stage, tmp_path: Path, fake: Any) -> None:
    scene = stage()
    supplied = Supplied(scene, tmp_path, fake("good"))
    began = time.perf_counter()
    scene.voice.want(f"phrase {n}" for n in range(50))
    assert time.perf_counter() - began < 0.1
    wait_until(lambda: len(supplied.bank.seconds) == 50, timeout=20.0)


def test_wanting_without_a_bank_is_nothing(stage: Stage) -> None:
    stage().voice.want(["Brake later"])


def test_without_a_device_nothing_is_rendered_beforehand(stage: Stage, tmp_path: Path, fake: Any) -> None:
    scene = stage(lambda hear: FakePlayer(hear, opens=False))
    supplied = Supplied(scene, tmp_path, fake("good"))
    assert scene.voice.wait(5.0)
    before = threading.active_count()
    scene.voice.want(["Brake later"])
    assert threading.active_count() == before
    assert supplied.bank.seconds == {}


def test_closing_ends_what_is_rendered(stage: Stage, tmp_path: Path, fake: Any) -> None:
    scene = stage()
    Supplied(scene, tmp_path, fake("hang"))
    scene.voice.want(["Four"])
    wait_until(lambda: fake.starts() == 1)
    began = time.perf_counter()
    scene.voice.close()
    assert time.perf_counter() - began < 2.0


def test_what_takes_longer_than_its_cue_has_is_not_said(stage: Stage) -> None:
    scene = stage()
    bank = scene.use_bank({"Brake later": bytes(100)})
    bank.seconds["Brake later"] = 0.66  # 0.6 s are planned
    scene.voice.take(cue())
    wait_until(lambda: scene.cues())
    assert scene.cues() == [("Brake later", "longer than planned")]
    assert len(scene.told) == 1


def test_diagnostics_begin_anew_when_they_are_large_and_end_when_they_are_full(
    stage: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voice.diagnostics.LARGEST", 400)
    (tmp_path / "diagnostics.jsonl").write_text('{"what":"open"}\n' * 40)
    scene = stage(lambda hear: FakePlayer(hear, opens=False))
    for number in range(20):
        scene.voice.take(cue())
        wait_until(lambda number=number: scene.log.stat().st_size > 300 or len(scene.cues()) > number)
    scene.voice.close()
    lines = [json.loads(line) for line in scene.log.read_text().splitlines()]
    assert lines[0]["what"] == "open"
    assert lines[-1] == {"what": "full"}
    assert scene.log.stat().st_size < 500


def test_diagnostics_that_cannot_be_written_cost_only_themselves(tmp_path: Path) -> None:
    told: list[str] = []
    voice = Voice(1.0, told.append, tmp_path, FakePlayer)  # a folder is no file
    voice.take(cue())
    voice.close()
    assert told == [f"voice: {tmp_path} cannot be written (Is a directory); going on without it"]


def test_a_file_that_is_no_sound_log_is_left_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voice.diagnostics.LARGEST", 400)
    for content in (b"notes", b"x" * 500, b"\x1f\x8b recording"):
        path = tmp_path / "dear.bin"
        path.write_bytes(content)
        with pytest.raises(InputError, match=r"dear\.bin is there already and is no sound log: name another file"):
            Voice(1.0, print, path, FakePlayer)
        assert path.read_bytes() == content


def test_a_sound_log_goes_on_where_it_ended(stage: Stage, tmp_path: Path) -> None:
    (tmp_path / "diagnostics.jsonl").touch()  # an empty file is nobody's
    for _ in range(2):
        scene = stage()
        scene.voice.take(cue())
        scene.voice.close()
    assert scene.cues() == [("Brake later", "tone")] * 2


def test_a_device_process_that_reads_nothing_holds_up_nobody() -> None:
    """More is sent than a pipe holds (64 kB on Linux, less elsewhere), to a process that sleeps."""
    answers: list[Answer] = []
    player = Player(answers.append, [sys.executable, "-S", "-c", "import time; time.sleep(60)"])
    began = time.perf_counter()
    for number in range(3):
        player.play(number, bytes(200_000), 1.0)
    player.stop()
    assert time.perf_counter() - began < 0.1
    player.close(0.2)
    assert time.perf_counter() - began < 2.0
    assert answers == [Gone()]


def test_a_device_process_that_hears_nothing_any_more_is_ended() -> None:
    answers: list[Answer] = []
    player = Player(answers.append, [sys.executable, "-S", "-c", "import os, time; os.close(0); time.sleep(60)"])
    until = time.monotonic() + 5.0
    while not answers:
        player.play(1, bytes(100), 1.0)
        assert time.monotonic() < until
        time.sleep(0.01)
    assert answers == [Gone()]
    player.close(0.0)


@pytest.mark.parametrize(
    "code",
    [
        "print('nonsense')",
        "print('{}')",
        "print('[1]')",
        'print(\'{"what": "ready", "at": "soon"}\')',
        "import sys; sys.stdout.buffer.write(bytes(200000))",
        "import sys\nwhile True: sys.stdout.buffer.write(bytes(65536))",
        "raise SystemExit(3)",
        "import os; os.kill(os.getpid(), 9)",
    ],
)
def test_a_device_process_that_talks_nonsense_or_ends_is_silence(code: str, stage: Stage) -> None:
    command = [sys.executable, "-S", "-c", code]
    scene = stage(lambda hear: Player(hear, command))
    assert scene.voice.wait(5.0)
    assert scene.voice.is_silent
    assert len(scene.told) == 1
    assert "\n" not in scene.told[0]


def test_a_device_process_that_is_not_there_is_silence(stage: Stage) -> None:
    scene = stage(lambda hear: Player(hear, ["/no/such/program"]))
    assert scene.voice.wait(5.0)
    assert scene.voice.is_silent
    assert "No such file" in scene.told[0]
