"""Phrases that are rendered beside a drive: in order, what is needed now first, and no harm from what fails."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from voice import supply as supply_module
from voice.bank import Bank
from voice.render import Facts, Renderer
from voice.shelf import Shelf
from voice.store import Identity
from voice.supply import Supply

FACTS = Facts("made 1", "a-voice", "system")
PHRASES = [f"phrase number {n}" for n in range(100)]


class Scene:
    """An empty bank with a supply; `came` counts, `told` is what was told."""

    def __init__(self, folder: Path, make: Callable[[int, Path], Renderer]) -> None:
        self.told: list[str] = []
        self.made: list[Renderer] = []
        self.came = threading.Semaphore(0)
        self.cache = folder / "cache"
        self.bank = Bank(FACTS, 175, {}, {}, 0, 0.0, Shelf(self.cache, Identity("made 1", "a-voice", 175), print))
        self._make = make
        self.supply = Supply(self.bank, self.cache, self._note, self.came.release, self.told.append)

    def _note(self, rate: int, folder: Path) -> Renderer:
        self.made.append(self._make(rate, folder))
        return self.made[-1]

    def wait_for(self, texts: list[str], timeout: float = 20.0) -> None:
        until = time.monotonic() + timeout
        while not all(text in self.bank.seconds or text in self.bank.missing for text in texts):
            assert time.monotonic() < until, "it did not come"
            time.sleep(0.005)


@pytest.fixture
def scene(tmp_path: Path, fake: Any) -> Iterator[Callable[..., Scene]]:
    scenes: list[Scene] = []

    def make(modes: str = "good", **options: Any) -> Scene:
        scenes.append(Scene(tmp_path, fake(modes, **options)))
        return scenes[-1]

    yield make
    for one in scenes:
        one.supply.close()


def test_what_is_wanted_comes_and_is_announced(scene: Any) -> None:
    made = scene()
    began = time.perf_counter()
    made.supply.want(PHRASES[:3])
    assert time.perf_counter() - began < 0.05
    assert all(made.supply.may_come(text) for text in PHRASES[:3])
    assert made.came.acquire(timeout=20)
    assert list(made.bank.seconds) == PHRASES[:3]
    assert all(made.bank.sound(text) for text in PHRASES[:3])
    assert made.bank.rendered == 3
    assert made.told == []


def test_nothing_runs_until_something_is_wanted(scene: Any, fake: Any) -> None:
    before = threading.active_count()
    made = scene()
    made.supply.want([])
    assert threading.active_count() == before
    assert fake.starts() == 0


def test_what_is_there_or_wanted_already_is_not_rendered_again(scene: Any, fake: Any) -> None:
    made = scene()
    made.supply.want(PHRASES[:3])
    made.supply.want(PHRASES[:3])
    made.wait_for(PHRASES[:3])
    made.supply.want(PHRASES[:3])
    made.supply.want(PHRASES[:4])
    made.wait_for(PHRASES[:4])
    assert (fake.starts(), made.bank.rendered) == (2, 4)


def test_what_was_kept_from_before_needs_no_process(scene: Any, fake: Any) -> None:
    first = scene()
    first.supply.want(PHRASES[:3])
    first.wait_for(PHRASES[:3])
    again = scene()
    again.supply.want(PHRASES[:3])
    again.wait_for(PHRASES[:3])
    assert (fake.starts(), again.bank.rendered) == (1, 0)
    assert all(again.bank.sound(text) for text in PHRASES[:3])


def test_many_come_in_order_part_by_part(scene: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supply_module, "TOGETHER", 20)
    made = scene()
    made.supply.want(PHRASES)
    made.wait_for(PHRASES)
    assert list(made.bank.seconds) == PHRASES
    assert len(made.made) == 5


def test_what_is_wanted_soon_does_not_wait_for_the_others(scene: Any) -> None:
    """The others take 0.1 s each."""
    made = scene("slow,good")
    made.supply.want(PHRASES)
    time.sleep(0.3)
    made.supply.want(["now"], soon=True)
    made.wait_for(["now"])
    assert list(made.bank.seconds) == ["now"]


def test_one_that_waits_among_others_can_be_wanted_soon(scene: Any, fake: Any) -> None:
    made = scene("slow,good")
    made.supply.want(PHRASES)
    made.supply.want([PHRASES[-1]], soon=True)
    made.wait_for([PHRASES[-1]])
    assert PHRASES[-2] not in made.bank.seconds


def test_one_that_is_under_way_among_others_does_not_keep_who_is_in_a_hurry_waiting(scene: Any, fake: Any) -> None:
    """The others take 0.1 s each, so 4 s in all."""
    made = scene("slow,good")
    made.supply.want(PHRASES[:40])
    until = time.monotonic() + 10
    while fake.starts() < 1 and time.monotonic() < until:
        time.sleep(0.01)
    began = time.monotonic()
    made.supply.want([PHRASES[39]], soon=True)
    made.wait_for([PHRASES[39]])
    assert time.monotonic() - began < 3.0
    assert list(made.bank.seconds) == [PHRASES[39]]


def test_what_is_under_way_for_who_is_in_a_hurry_is_not_rendered_among_others_too(scene: Any, fake: Any) -> None:
    made = scene("slow")
    made.supply.want(["now"], soon=True)
    until = time.monotonic() + 10
    while fake.starts() < 1 and time.monotonic() < until:
        time.sleep(0.01)
    made.supply.want(["now"])
    made.wait_for(["now"])
    made.supply.want(["then"])
    made.wait_for(["then"])
    assert (fake.starts(), made.bank.rendered) == (2, 2)


def test_what_was_missing_before_has_been_told(scene: Any) -> None:
    made = scene("error")
    made.bank.missing["phrase"] = "no tongue"
    supply = Supply(made.bank, made.cache, made._note, made.came.release, made.told.append)
    supply.want(["now"], soon=True)
    made.wait_for(["now"])
    assert made.came.acquire(timeout=5)
    supply.close()
    assert made.told == []


def test_few_processes_run_and_what_has_time_gives_way(scene: Any) -> None:
    made = scene("good", parallel=4)
    made.supply.want(PHRASES)
    made.supply.want(["now"], soon=True)
    made.wait_for([*PHRASES, "now"])
    assert {(one.parallel, one.gentle) for one in made.made} == {(1, True), (1, False)}
    before = len(made.made)
    made.supply.want(["at once"], soon=True)
    made.wait_for(["at once"])
    made.supply.want(["some time"])
    made.wait_for(["some time"])
    assert [one.gentle for one in made.made[before:]] == [False, True]


def test_what_cannot_be_rendered_is_told_once_and_not_expected_any_more(scene: Any) -> None:
    made = scene("error")
    made.supply.want(PHRASES[:2])
    made.wait_for(PHRASES[:2])
    assert made.came.acquire(timeout=5)
    assert made.bank.missing == dict.fromkeys(PHRASES[:2], "no tongue")
    assert not made.supply.may_come(PHRASES[0])
    assert made.supply.may_come(PHRASES[2])
    made.supply.want([PHRASES[2]], soon=True)
    made.wait_for([PHRASES[2]])
    assert made.told == ["voice: 2 phrases could not be rendered (no tongue): tones stand in for what cannot"]


def test_a_process_that_cannot_be_started_costs_these_phrases_only(scene: Any) -> None:
    made = scene()
    command, made._make = made._make, lambda rate, folder: Renderer(rate, folder, command=["/no/such/program"])
    made.supply.want(PHRASES[:2])
    made.wait_for(PHRASES[:2])
    assert all(why.startswith("no process to render in") for why in made.bank.missing.values())
    made._make = command
    made.supply.want(PHRASES[2:4])
    made.wait_for(PHRASES[2:4])
    assert list(made.bank.seconds) == PHRASES[2:4]


def test_a_bug_in_here_costs_these_phrases_only(scene: Any) -> None:
    made = scene()
    command = made._make

    def broken(rate: int, folder: Path) -> Renderer:
        raise ZeroDivisionError("a bug")

    made._make = broken
    made.supply.want(PHRASES[:1])
    made.wait_for(PHRASES[:1])
    assert made.bank.missing == {PHRASES[0]: "ZeroDivisionError: a bug"}
    made._make = command
    made.supply.want(PHRASES[1:2])
    made.wait_for(PHRASES[1:2])


@pytest.mark.parametrize("mode", ["slow", "hang"])
def test_closing_ends_processes_and_threads_and_leaves_no_folder(mode: str, scene: Any, fake: Any) -> None:
    made = scene(mode)
    made.supply.want(PHRASES)
    made.supply.want(["now"], soon=True)
    until = time.monotonic() + 10
    while fake.starts() < 2 and time.monotonic() < until:
        time.sleep(0.01)
    began = time.monotonic()
    made.supply.close()
    assert time.monotonic() - began < 2.0
    assert [thread for thread in threading.enumerate() if thread.name == "voice-supply"] == []
    assert list(made.cache.glob("work-*")) == []
    assert not made.supply.may_come("now")
    made.supply.want(["later"])
    assert fake.starts() == 2


def test_two_at_once_leave_a_manifest_with_all_of_it(scene: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supply_module, "TOGETHER", 2)
    made = scene()
    made.supply.want(PHRASES[:20])
    for text in PHRASES[20:30]:
        made.supply.want([text], soon=True)
    made.wait_for(PHRASES[:30])
    kept = Shelf(made.cache, Identity("made 1", "a-voice", 175), pytest.fail).lengths(PHRASES[:30])
    assert kept == made.bank.seconds


def test_a_file_that_has_gone_is_rendered_again(scene: Any) -> None:
    made = scene()
    made.supply.want(PHRASES[:2])
    made.wait_for(PHRASES[:2])
    for path in made.cache.rglob("*.wav"):
        path.unlink()
    assert made.bank.sound(PHRASES[0]) is None
    assert PHRASES[0] not in made.bank.seconds
    made.supply.want([PHRASES[0]], soon=True)
    made.wait_for([PHRASES[0]])
    assert made.bank.sound(PHRASES[0])
