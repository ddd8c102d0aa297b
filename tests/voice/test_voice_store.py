"""The phrases kept on disk: whole or not there, whoever else is at work."""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from voice.store import FORGOTTEN, LARGEST, MANIFEST, Identity, Store

WHO = Identity("made 1", "a-voice", 175)
SOUNDS = {f"phrase {n}": bytes([n, 1] * (100 + n)) for n in range(5)}


def filled(cache: Path, who: Identity = WHO) -> Store:
    store = Store(cache, who)
    for text, samples in SOUNDS.items():
        store.add(text, samples, 0.5)
    store.check = 1.5
    store.save()
    return store


def held(store: Store) -> dict[str, bytes]:
    found = {text: store.samples(text) for text in SOUNDS}
    return {text: samples for text, samples in found.items() if samples is not None}


def test_what_was_kept_is_there_again(tmp_path: Path) -> None:
    filled(tmp_path)
    again = Store(tmp_path, WHO)
    assert held(again) == SOUNDS
    assert (again.seconds("phrase 1"), again.check, again.damaged) == (0.5, 1.5, 0)
    assert (again.seconds("another"), again.samples("another")) == (None, None)


@pytest.mark.parametrize(
    "other",
    [Identity("made 2", "a-voice", 175), Identity("made 1", "b-voice", 175), Identity("made 1", "a-voice", 176)],
)
def test_another_engine_voice_or_rate_has_a_folder_of_its_own(other: Identity, tmp_path: Path) -> None:
    filled(tmp_path)
    assert held(Store(tmp_path, other)) == {}
    assert Store(tmp_path, other).damaged == 0


def test_a_voice_may_be_called_anything(tmp_path: Path) -> None:
    who = Identity("made", "SYSTEM\\Voices/..\\Tokens: Ünï *?", 175)
    assert held(filled(tmp_path, who)) == SOUNDS
    assert [path.parent for path in tmp_path.rglob(MANIFEST)] == [tmp_path / who.folder]
    assert who.folder.replace("-", "").isalnum()


def change(key: str, value: object) -> Callable[[bytes], bytes]:
    return lambda content: json.dumps(json.loads(content) | {key: value}).encode()


@pytest.mark.parametrize(
    "damage",
    [
        lambda content: content[: len(content) // 2],
        lambda content: b"",
        lambda content: b"\xff\x00rubbish",
        lambda content: b"[" * 100_000,
        lambda content: b"[]",
        lambda content: content + b" " * LARGEST,
        change("format", 1),
        change("engine", "made 2"),
        change("rate", "175"),
        change("check", -1.0),
        change("phrases", []),
        change("phrases", {"phrase 1": {"sound": "../../../etc/passwd", "seconds": 0.5}}),
        change("phrases", {"phrase 1": {"sound": "0" * 20, "seconds": float("nan")}}),
    ],
)
def test_a_damaged_manifest_is_as_if_it_were_not_there(damage: Callable[[bytes], bytes], tmp_path: Path) -> None:
    manifest = filled(tmp_path).folder / MANIFEST
    manifest.write_bytes(damage(manifest.read_bytes()))
    store = Store(tmp_path, WHO)
    assert (held(store), store.damaged) == ({}, 1)
    assert held(filled(tmp_path)) == SOUNDS
    assert Store(tmp_path, WHO).damaged == 0


@pytest.mark.parametrize("how", ["torn", "foreign", "gone", "empty", "folder", "pipe", "swapped"])
def test_a_damaged_sound_is_missed_and_no_other(how: str, tmp_path: Path) -> None:
    folder = filled(tmp_path).folder
    sounds = sorted(folder.glob("*.wav"))
    victim = sounds[0]
    content = victim.read_bytes()
    victim.unlink()
    if how == "torn":
        victim.write_bytes(content[:-20])
    elif how == "foreign":
        victim.write_bytes(b"not ours")
    elif how == "empty":
        victim.touch()
    elif how == "folder":
        victim.mkdir()
    elif how == "pipe":
        os.mkfifo(victim)
    elif how == "swapped":
        victim.write_bytes(sounds[1].read_bytes())
    store = Store(tmp_path, WHO)
    found = held(store)
    assert len(found) == len(SOUNDS) - 1
    assert all(SOUNDS[text] == samples for text, samples in found.items())
    assert store.damaged == 1


def test_two_programs_at_once_list_what_both_made(tmp_path: Path) -> None:
    one, two = Store(tmp_path, WHO), Store(tmp_path, WHO)
    one.add("phrase 0", SOUNDS["phrase 0"], 0.5)
    two.add("phrase 1", SOUNDS["phrase 1"], 0.5)
    one.save()
    two.save()
    assert set(held(Store(tmp_path, WHO))) == {"phrase 0", "phrase 1"}


def test_many_at_once_leave_whole_files_whoever_comes_last(tmp_path: Path) -> None:
    """Each writes other sounds for the same phrases, as two renderings of one phrase do differ."""

    def work(number: int) -> None:
        for _ in range(10):
            store = Store(tmp_path, WHO)
            for text in SOUNDS:
                store.add(text, bytes([number, 7] * 500), 0.5)
            store.save()
            if Store(tmp_path, WHO).damaged:
                wrong.append(number)

    wrong: list[int] = []
    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    store = Store(tmp_path, WHO)
    assert set(held(store)) == set(SOUNDS)
    assert store.damaged == 0


def test_what_nobody_lists_is_swept_out_when_it_is_old(tmp_path: Path) -> None:
    folder = filled(tmp_path).folder
    old, young = folder / "0123.wav", folder / "part-young"
    old.write_bytes(b"left behind")
    young.write_bytes(b"being written")
    os.utime(old, (0, time.time() - FORGOTTEN - 60))
    store = Store(tmp_path, WHO)
    store.save()
    assert (old.exists(), young.exists()) == (False, True)
    assert held(Store(tmp_path, WHO)) == SOUNDS


def test_a_write_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = filled(tmp_path)
    before = sorted(store.folder.iterdir())

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        store.add("one more", b"\1\2", 0.1)
    assert sorted(store.folder.iterdir()) == before
