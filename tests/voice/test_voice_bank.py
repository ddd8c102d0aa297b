"""The bank: rendered once, kept, and honest about what it lacks."""

from __future__ import annotations

import itertools
import math
import os
import shutil
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from voice import render
from voice.bank import Bank, build, expectations
from voice.render import Facts, Interrupted
from voice.store import MANIFEST
from voice.workshop import LEFT_BEHIND, ROOM, workshop

PHRASES = tuple(f"phrase number {word}" for word in ("one", "two", "three", "four", "five", "six", "seven"))


class Building:
    """Builds with a fake synthesiser and notes what was told."""

    def __init__(self, fake: Any, cache: Path) -> None:
        self.fake, self.cache = fake, cache
        self.told: list[str] = []

    def __call__(self, modes: str, phrases: Any = PHRASES, stopped: Any = lambda: False) -> Bank:
        return build(phrases, None, 175, self.cache, self.told.append, lambda *_: None, stopped, self.fake(modes))


@pytest.fixture
def building(fake: Any, tmp_path: Path) -> Building:
    return Building(fake, tmp_path / "cache")


def sounds(bank: Bank) -> dict[str, bytes | None]:
    return {text: bank.sound(text) for text in PHRASES}


def test_a_bank_is_rendered_once(building: Building) -> None:
    first = building("good")
    assert building.fake.starts() == 2  # the facts and the phrases
    again = building("good")
    assert building.fake.starts() == 3  # the facts alone
    assert (first.rendered, again.rendered) == (7, 0)
    assert sounds(first) == sounds(again)
    assert all(sounds(first).values())
    assert first.table == again.table
    assert building.told == []
    assert first.sound("phrase number eight") is None


def test_only_new_phrases_are_rendered(building: Building) -> None:
    building("good", PHRASES[:5])
    more = building("good")
    assert (more.rendered, list(more.seconds)) == (2, list(PHRASES))


def test_the_table_has_the_lengths_rounded_up_and_a_name_of_its_own(building: Building) -> None:
    bank = building("good")
    assert list(bank.table.lengths) == list(PHRASES)
    for text, seconds in bank.table.lengths.items():
        assert seconds == pytest.approx(math.ceil(100 * (0.058 * len(text) + 0.065)) / 100)
    assert (bank.table.rate, bank.table.voice) == (175, "made 1 a-voice")
    assert bank.table.name.startswith("a-voice-175-")
    assert building("good", PHRASES[:5]).table.name != bank.table.name


def test_what_is_kept_tells_another_rate_of_what_is_added(building: Building) -> None:
    """Of a voice that nothing is known of, the check phrase's length is kept with its first phrases."""
    building("good", PHRASES[:5])
    more = building("good,good,good,other-rate,good")
    assert building.fake.starts() == 5
    for text, seconds in more.seconds.items():
        assert seconds == pytest.approx(0.058 * len(text) + 0.065, abs=0.001)


@pytest.mark.parametrize(("voice", "known"), [("en-us", True), ("en", False), ("us", False), ("en-gb", False)])
def test_the_shipped_lengths_are_expected_of_their_own_voice_alone(voice: str, known: bool) -> None:
    expected = expectations(Facts("espeak-ng 1.52.0", voice, "wheel"), 175, None)
    assert bool(expected.known) is known


def test_another_engine_version_renders_anew(building: Building) -> None:
    building("good")
    assert building("newer").rendered == 7


def test_what_is_damaged_is_told_and_made_anew(building: Building) -> None:
    first = building("good")
    folder = next(building.cache.rglob(MANIFEST)).parent
    for victim in sorted(folder.glob("*.wav"))[:2]:
        victim.write_bytes(b"foreign")
    again = building("good")
    assert building.told == [f"voice: 2 files in {folder} are damaged; made anew"]
    assert again.rendered == 2
    assert sounds(again) == sounds(first)
    (folder / MANIFEST).write_bytes(b"torn")
    assert building("good").rendered == 7
    assert building("good").rendered == 0
    assert len(building.told) == 2


def test_two_programs_at_once_end_with_one_bank(building: Building) -> None:
    banks: list[Bank] = []
    threads = [threading.Thread(target=lambda: banks.append(building("good"))) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(banks) == 2
    for bank in (*banks, building("good")):
        assert all(sounds(bank).values())
        assert sounds(bank) == sounds(banks[0])
    assert building("good").rendered == 0
    assert building.told == []


def test_a_cache_that_cannot_be_written_costs_only_time(
    building: Building, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere = tmp_path / "system"
    elsewhere.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    building.cache.write_bytes(b"a file where the folder should be")
    monkeypatch.setattr(render, "CHUNK", 3)  # so that it is noticed more than once
    bank = building("good")
    assert all(sounds(bank).values())
    assert len(building.told) == 1
    assert building.told[0].startswith("voice: phrases cannot be kept in ")
    assert list(elsewhere.iterdir()) == []
    assert building.cache.read_bytes() == b"a file where the folder should be"


def test_on_a_disk_with_little_room_the_sounds_are_rendered_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache, elsewhere = tmp_path / "cache", tmp_path / "system"
    elsewhere.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=ROOM - 1))
    with workshop(cache) as folder:
        assert folder.parent == elsewhere
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=ROOM))
    with workshop(cache) as folder:
        assert folder.parent == cache
    assert list(elsewhere.iterdir()) == []


def test_what_cannot_be_rendered_is_missing_with_the_reason(building: Building) -> None:
    bank = building("good,error")
    assert (bank.seconds, bank.rendered) == ({}, 0)
    assert bank.missing == dict.fromkeys(PHRASES, "no tongue")
    assert building("good").missing == {}


def test_stopping_keeps_what_was_done(building: Building, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(render, "CHUNK", 30)
    phrases = [f"phrase number {n}" for n in range(60)]
    calls = itertools.count()
    with pytest.raises(Interrupted):
        building("good,good,slow", phrases, lambda: building.fake.starts() >= 3 and next(calls) > 3)
    assert building("good", phrases).rendered == 30
    assert [path for path in building.cache.iterdir() if path.name.startswith("work-")] == []


def test_work_folders_of_killed_programs_are_swept_out(tmp_path: Path) -> None:
    old, young = tmp_path / "work-old", tmp_path / "work-young"
    for folder in (old, young):
        folder.mkdir()
        (folder / "00000.wav").write_bytes(b"half")
    os.utime(old, (0, time.time() - LEFT_BEHIND - 60))
    with workshop(tmp_path) as mine:
        assert mine.parent == tmp_path
        assert (old.exists(), young.exists()) == (False, True)
    assert not mine.exists()
