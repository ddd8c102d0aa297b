"""Rendering by a process that misbehaves: what is right is kept, the rest is done again, and nothing is left behind."""

from __future__ import annotations

import itertools
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.vocabulary.errors import InputError, WorkError
from voice import child, process, render
from voice.checks import CHECK, Expected
from voice.render import Facts, Interrupted, Job, Rendered, Renderer
from voice.trim import EDGE, SAMPLE_RATE

FACTS = Facts("made 1", "a-voice", "system")
TOP = Path(__file__).parents[2]
PHRASES = tuple(f"phrase number {word}" for word in ("one", "two", "three", "four", "five", "six", "seven"))


def length(phrase: str) -> float:
    """As the fake says it."""
    return 0.058 * len(phrase) + 0.065


def never() -> bool:
    return False


class Result:
    """What came of rendering: the sounds, what is missing, and the progress that was told."""

    def __init__(self, make: Callable[[int, Path], Renderer], folder: Path, **known: Any) -> None:
        self.sounds: dict[str, Rendered] = {}
        self.told: list[tuple[int, int]] = []
        renderer = make(175, folder)
        self.expected: Expected = known.get("expected") or Expected()
        phrases = known.get("phrases", PHRASES)
        stopped = known.get("stopped", never)
        self.missing = renderer.render(phrases, FACTS, self.expected, self.sounds.update, self._hear, stopped)

    def _hear(self, done: int, total: int) -> None:
        self.told.append((done, total))


@pytest.fixture
def work(tmp_path: Path) -> Path:
    folder = tmp_path / "work"
    folder.mkdir()
    return folder


def test_phrases_come_trimmed_and_measured(fake: Any, work: Path) -> None:
    result = Result(fake("good"), work)
    assert list(result.sounds) == list(PHRASES)
    assert result.missing == {}
    for text, rendered in result.sounds.items():
        assert rendered.seconds == pytest.approx(length(text), abs=0.001)
        assert len(rendered.samples) / 2 / SAMPLE_RATE == pytest.approx(rendered.seconds + 2 * EDGE, abs=1e-4)
    assert result.told[-1] == (7, 7)
    assert result.expected.known[CHECK] == pytest.approx(length(CHECK), abs=0.001)
    assert list(work.iterdir()) == []


@pytest.mark.parametrize(
    "bad", ["empty-first", "changes-rate", "rubbish", "faint", "huge", "dies", "error", "hang", "stops-half-way"]
)
def test_a_process_that_fails_once_is_followed_by_another(bad: str, fake: Any, work: Path) -> None:
    result = Result(fake(f"{bad},good", stall=1.0 if bad in ("hang", "stops-half-way") else 10.0), work)
    assert set(result.sounds) == set(PHRASES)
    assert result.missing == {}
    assert fake.starts() == 2
    assert list(work.iterdir()) == []


def test_another_rate_than_asked_for_is_heard_where_the_voice_is_known(fake: Any, work: Path) -> None:
    known = {text: length(text) for text in (*PHRASES, CHECK)}
    result = Result(fake("other-rate,good"), work, expected=Expected(known))
    assert fake.starts() == 2
    for text, rendered in result.sounds.items():
        assert rendered.seconds == pytest.approx(length(text), abs=0.001)


def test_only_what_is_missing_is_done_again(fake: Any, work: Path) -> None:
    result = Result(fake("half,cuts-one,good"), work)
    assert set(result.sounds) == set(PHRASES)
    assert fake.starts() == 3
    done = [done for done, _ in result.told]
    assert done == sorted(done)


def test_prints_and_another_format_do_no_harm(fake: Any, work: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert Result(fake("noise"), work).missing == {}
    result = Result(fake("noise,other-format"), work)
    assert result.sounds[PHRASES[0]].seconds == pytest.approx(length(PHRASES[0]), abs=0.001)
    assert capfd.readouterr() == ("", "")


def test_what_never_comes_right_stays_away_with_the_reason(fake: Any, work: Path) -> None:
    result = Result(fake("dies"), work)
    assert result.sounds == {}
    assert set(result.missing) == set(PHRASES)
    assert set(result.missing.values()) == {"the synthesiser was ended by signal 9"}
    assert fake.starts() == 5  # three times by pyttsx3, twice by the library itself
    assert result.told[-1] == (7, 7)


def test_what_says_that_it_cannot_is_not_asked_the_same_again(fake: Any, work: Path) -> None:
    assert Result(fake("tongue-tied"), work).missing == {}
    assert fake.starts() == 2  # the second way worked
    result = Result(fake("error"), work)
    assert set(result.missing.values()) == {"no tongue"}
    assert fake.starts() == 4


def test_a_full_disk_is_not_tried_again(fake: Any, work: Path) -> None:
    result = Result(fake("no-room"), work)
    assert set(result.missing.values()) == {"there is no room for the sounds: make room on the disk"}
    assert fake.starts() == 1


def test_a_child_that_cannot_write_says_so_by_its_exit_code(tmp_path: Path) -> None:
    (tmp_path / "job.json").write_text(json.dumps({"phrases": [], "voice": None, "rate": 20, "seconds": 20.0}))
    (tmp_path / "error.part").mkdir()  # nothing can be written to a folder
    path = {**os.environ, "PYTHONPATH": str(TOP)}  # it need not be installed
    done = subprocess.run([*process.module("voice.child"), str(tmp_path)], capture_output=True, env=path, check=False)
    assert (done.returncode, done.stderr) == (child.NO_ROOM, b"")


def test_a_process_that_is_slow_but_goes_on_does_not_hang(fake: Any, work: Path) -> None:
    result = Result(fake("slow", stall=0.7), work)  # nine phrases, 0.1 s each
    assert result.missing == {}
    assert fake.starts() == 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows knows no niceness")
@pytest.mark.parametrize("gentle", [True, False])
def test_what_has_time_gives_way_to_others(gentle: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nicer: list[int] = []
    monkeypatch.setattr(os, "nice", nicer.append)
    monkeypatch.setattr(child, "_render", lambda *_: None)
    monkeypatch.setattr(child.faulthandler, "dump_traceback_later", lambda *_, **__: None)
    job = Job(("one",), "a-voice", 175, 20.0, "espeak", "system", gentle)
    (tmp_path / "job.json").write_text(json.dumps(asdict(job)))
    assert child.main([str(tmp_path)]) == 0
    assert nicer == ([child.GENTLE] if gentle else [])


def test_two_phrases_are_thrown_away_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr(child, "_by_pyttsx3", lambda *_: lambda phrase, path: said.append(phrase))
    job = {"phrases": ["one", "two"], "voice": "a-voice", "rate": 175, "way": "pyttsx3", "source": "system"}
    child._render(job, tmp_path)
    assert said == [*child.WARM_UP, "one", "two"]
    assert (tmp_path / "progress").read_bytes() == b".."


def test_what_pyttsx3_reports_instead_of_raising_is_an_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    class Engine:
        def connect(self, topic: str, hear: Callable[..., None]) -> None:
            self.hear = hear

        def runAndWait(self) -> None:
            self.hear("a-voice", OSError("no tongue"))

        def setProperty(self, *_: object) -> None: ...
        def save_to_file(self, *_: object) -> None: ...

    monkeypatch.setitem(sys.modules, "pyttsx3", SimpleNamespace(init=lambda _: Engine()))
    save = child._by_pyttsx3("a-voice", 175, child.PLATFORM)
    with pytest.raises(WorkError, match="pyttsx3: no tongue"):
        save("one", tmp_path / "one.wav")


def test_a_hang_ends_with_all_that_it_started(fake: Any, work: Path, tmp_path: Path) -> None:
    result = Result(fake("family,good", stall=1.0), work)
    assert result.missing == {}
    grandchild = int((tmp_path / "grandchild").read_text())
    until = time.monotonic() + 5
    while _runs(grandchild) and time.monotonic() < until:
        time.sleep(0.01)
    assert not _runs(grandchild)


def test_stopping_ends_the_process_and_keeps_what_was_done(
    fake: Any, work: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(render, "CHUNK", 30)
    calls = itertools.count()
    phrases = [f"phrase number {n}" for n in range(60)]
    sounds: dict[str, Rendered] = {}

    def stopped() -> bool:
        return bool(sounds) and next(calls) > 3

    renderer = fake("good,slow")(175, work)
    with pytest.raises(Interrupted):
        renderer.render(phrases, FACTS, Expected(), sounds.update, lambda done, total: None, stopped)
    assert len(sounds) == 30
    assert list(work.iterdir()) == []


def test_several_processes_share_the_work(fake: Any, work: Path) -> None:
    phrases = tuple(f"phrase number {n}" for n in range(100, 160))
    result = Result(fake("good", parallel=4), work, phrases=phrases)
    assert set(result.sounds) == set(phrases)
    assert fake.starts() == 4


def test_no_phrase_is_no_process(fake: Any, work: Path) -> None:
    assert Result(fake("good"), work, phrases=()).missing == {}
    assert fake.starts() == 0


def test_facts_say_who_speaks(fake: Any, work: Path) -> None:
    assert fake("good")(175, work).facts(None, never) == FACTS
    assert list(work.iterdir()) == []


@pytest.mark.parametrize(
    ("mode", "kind", "says"),
    [
        ("wrong", InputError, "there is no such voice"),
        ("error", WorkError, "no tongue"),
        ("hang", WorkError, "the synthesiser did nothing for 1 s"),
        ("dies", WorkError, "the synthesiser was ended by signal 9"),
        ("rubbish", WorkError, "the synthesiser said nothing"),
    ],
)
def test_no_facts_are_one_line(mode: str, kind: type[Exception], says: str, fake: Any, work: Path) -> None:
    with pytest.raises(kind) as caught:
        fake(mode, stall=1.0 if mode == "hang" else 10.0)(175, work).facts(None, never)
    assert str(caught.value) == says
    assert type(caught.value) is kind


def test_a_process_that_cannot_be_started_is_one_line_and_leaves_no_folder(
    fake: Any, work: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    renderer = fake("good")(175, work)
    renderer.command = ["/no/such/program"]
    with pytest.raises(WorkError, match=r"no process to render in \(No such file"):
        renderer.facts(None, never)
    assert list(work.iterdir()) == []


def test_asking_for_facts_can_be_stopped(fake: Any, work: Path) -> None:
    with pytest.raises(Interrupted):
        fake("hang")(175, work).facts(None, lambda: fake.starts() > 0)
    assert list(work.iterdir()) == []


def _runs(process: int) -> bool:
    """Whether it runs; one that has ended but is not yet waited for, by whoever adopted it, does not."""
    try:
        os.kill(process, 0)
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (ProcessLookupError, FileNotFoundError):
        return False
