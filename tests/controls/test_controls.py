"""The coach's end of the listening process: one that dies, hangs or talks nonsense ends and delays nothing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from coach.controls import controls
from coach.controls.button import Failed, Lost, Message, Plugged, Ready
from coach.controls.controls import RESTARTS, Controls
from tests.controls.bench import SETTLES, Script, listening, needs_virtual
from voice import process

READY = 'print(\'{"what": "ready"}\', flush=True); '


@pytest.fixture(autouse=True)
def _soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(controls, "PAUSE", 0.05)


def child(script: str) -> list[str]:
    return [sys.executable, "-c", script]


def test_a_process_that_ends_is_started_again_and_at_last_left_alone() -> None:
    with listening(child(READY)) as ear:
        assert [ear.next() for _ in range(2 * (RESTARTS + 1))] == [
            message for left in range(RESTARTS, -1, -1) for message in (Ready(), Lost(again=left > 0))
        ]
        assert ear.nothing()


@pytest.mark.parametrize("nonsense", ["'[]'", "'x' * 100_000", '\'{"what": "pressed"}\'', "b'\\xff'"])
def test_nonsense_is_taken_for_its_end(nonsense: str) -> None:
    with listening(child(f"{READY}print({nonsense}, flush=True); import time; time.sleep(60)")) as ear:
        assert ear.next() == Ready()
        assert ear.next() == Lost(again=True)


def test_one_that_stands_still_is_ended_and_started_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(controls, "STILL", 0.3)
    with listening(child(f"{READY}import time; time.sleep(60)")) as ear:
        assert [ear.next(), ear.next(), ear.next()] == [Ready(), Lost(again=True), Ready()]


def test_what_cannot_be_heard_is_told_and_not_tried_again() -> None:
    script = 'print(\'{"what": "failed", "why": "no driver"}\', flush=True)'
    with listening(child(script)) as ear:
        assert ear.next() == Failed("no driver")
        assert ear.nothing()


def test_one_that_cannot_be_started_is_told() -> None:
    heard: list[Message] = []

    def start() -> subprocess.Popen[bytes]:
        return process.start(["/no/such/program"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    with closing(Controls(heard.append, start, process.kill)):
        until = time.monotonic() + 5.0
        while not heard and time.monotonic() < until:
            time.sleep(0.01)
    assert len(heard) == 1 and isinstance(heard[0], Failed) and "cannot be started" in heard[0].why


@pytest.mark.parametrize("deaf", ["import time; time.sleep(60)", f"{READY}import signal; signal.pause()"])
def test_closing_waits_for_no_process(deaf: str) -> None:
    with listening(child(deaf)) as ear:
        time.sleep(0.1)
        began = time.monotonic()
        assert ear.controls is not None
        ear.controls.close()
        assert time.monotonic() - began < 1.0
        assert ear.controls.process_id is not None
        ear.controls.close()


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_a_killed_process_comes_back_with_its_controllers(tmp_path: Path) -> None:
    needs_virtual()
    script = Script(tmp_path / "script.jsonl", ["plug", "a", "Pellow wheel", 0, 4, 0], SETTLES)
    with listening(script.command) as ear:
        first = ear.until(Ready)
        assert ear.controls is not None and ear.controls.process_id is not None
        os.kill(ear.controls.process_id, signal.SIGKILL)
        assert ear.next() == Lost(again=True)
        assert ear.until(Ready) == first and isinstance(first[0], Plugged)
        script.press("a", 1)
        assert ear.pressed() == "button 1"


@pytest.mark.skipif(sys.platform == "win32", reason="no signal to wait for")
def test_a_driver_that_keeps_pythons_lock_is_ended_from_outside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even the thread that looks at standard input stands still then."""
    needs_virtual()
    monkeypatch.setattr(controls, "STILL", 3.0)
    script = Script(tmp_path / "script.jsonl")
    with listening(script.command) as ear:
        assert ear.next() == Ready()
        script.add(["hang"])
        assert ear.next() == Lost(again=True)
    assert ear.controls is not None
