"""Buttons in the real command: real UDP on loopback, a virtual controller, and a recording that says the same."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive
from sending import sender

from coach.app import buttonfile
from coach.app.cli import main
from coach.controls.bindings import Bindings
from coach.controls.button import Button, Plugged
from tests.controls.bench import SETTLES, TOP, Script, eventually, listening, needs_virtual

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGINT for another process")

WHEEL = ["plug", "a", "Pellow wheel", 0, 8, 0]
DOES = ["mark", "repeat", "next_topic", "status", "quiet_or_speak", "use_lap"]


@pytest.fixture(scope="module")
def device(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The wheel's GUID, as this SDL gives it."""
    needs_virtual()
    with listening(Script(tmp_path_factory.mktemp("device") / "script.jsonl", WHEEL).command) as ear:
        plugged = ear.next()
    assert isinstance(plugged, Plugged)
    return plugged.device


@pytest.fixture
def bound(device: str, tmp_path: Path) -> Path:
    """A file in which button n does DOES[n]."""
    path = tmp_path / "buttons.toml"
    actions = {Button(device, "button", n, "", "Pellow wheel"): action for n, action in enumerate(DOES)}
    path.write_text(buttonfile.written(Bindings(actions)))
    return path


class Driving:
    """A running `cornerword drive` without voice and overlay."""

    def __init__(self, process: subprocess.Popen[str], errors: Path) -> None:
        self.process, self.out = process, ""
        self._errors = errors
        greeting = r'listening on 127\.0\.0\.1:(\d+) \(UDP, feed "generic"\); Ctrl-C ends\n'
        assert eventually(lambda: re.search(greeting, self.err) is not None), self.err
        found = re.search(greeting, self.err)
        assert found is not None
        self.port = int(found[1])

    @property
    def err(self) -> str:
        """What it has told so far."""
        return self._errors.read_text()

    @property
    def told(self) -> list[str]:
        """The lines about buttons."""
        return [line for line in self.err.splitlines() if line.startswith("buttons: ")]

    def end(self) -> float:
        """End it as a person does; returns how long that took, s."""
        began = time.monotonic()
        self.process.send_signal(signal.SIGINT)
        self.out, _ = self.process.communicate(timeout=60)
        assert self.process.returncode == 0, self.err
        return time.monotonic() - began


@contextmanager
def driving(buttons: Path, script: Script, *more: str | Path) -> Iterator[Driving]:
    arguments = [str(buttons), str(script.path), "drive", "--no-voice", "--no-overlay", "--port", "0", *map(str, more)]
    errors = buttons.with_name("errors.txt")
    with errors.open("w") as file:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.app.with_buttons", *arguments],
            stdout=subprocess.PIPE,
            stderr=file,
            text=True,
            cwd=TOP,
            env={**os.environ, "PYTHONPATH": f"{TOP}{os.pathsep}{TOP / 'tests'}"},
        )
    try:
        yield Driving(process, errors)
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def send(source: socket.socket, datagrams: list[bytes]) -> None:
    """Some thousand a second."""
    for number, datagram in enumerate(datagrams):
        source.send(datagram)
        if number % 50 == 0:
            time.sleep(0.01)


def events(log: Path) -> list[dict[str, Any]]:
    """The whole lines so far."""
    return [json.loads(line) for line in log.read_text().rpartition("\n")[0].splitlines()] if log.exists() else []


def actions(log: Path) -> list[str]:
    return [event["action"] for event in events(log) if event["type"] == "action"]


def test_a_recording_with_presses_says_what_the_drive_said(
    practice: Drive, bound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    live, again, recording = tmp_path / "live.jsonl", tmp_path / "again.jsonl", tmp_path / "drive.cwrec"
    script = Script(tmp_path / "script.jsonl", WHEEL, SETTLES)
    datagrams = practice.datagrams()
    part = len(datagrams) // 8 + 1
    with driving(bound, script, "--events", live, "--record", recording) as drive, sender(drive.port) as source:
        assert eventually(lambda: drive.told == ["buttons: 6 actions on 'Pellow wheel'"]), drive.err
        script.press("a", 0)  # before the first sample
        script.press("a", 7)  # not bound
        time.sleep(1.5)
        for number, begin in enumerate(range(0, len(datagrams), part)):
            script.press("a", (0, 5, 4, 1, 2, 3, 4, 0)[number])
            send(source, datagrams[begin : begin + part])
        assert eventually(lambda: len(actions(live)) >= 7), (actions(live), drive.err)
        last = json.loads(datagrams[-1])["t"]
        assert eventually(lambda: events(live)[-1]["t"] > last - 0.5)
        drive.end()
    expected = [DOES[number] for number in (0, 5, 4, 1, 2, 3, 4, 0)]
    assert actions(live) in (expected, expected[1:]), "the first may have come before the first sample"
    pressed = [event for event in events(live) if event["type"] == "action"]
    assert all(event["distance"] is not None for event in pressed)
    assert len({event["distance"] for event in pressed}) > 3
    assert main(["replay", "--fast", "--events", str(again), str(recording)]) == 0
    assert again.read_bytes() == live.read_bytes()
    assert capsys.readouterr().out == drive.out, "the summary too"
    assert "\nMARKED\n" in drive.out


@pytest.mark.parametrize("fault", ["die", "hang"])
def test_a_listener_that_dies_or_hangs_neither_ends_nor_delays_the_drive(
    fault: str, practice: Drive, bound: Path, tmp_path: Path
) -> None:
    live = tmp_path / "live.jsonl"
    script = Script(tmp_path / "script.jsonl", WHEEL, SETTLES)
    with driving(bound, script, "--events", live) as drive, sender(drive.port) as source:
        assert eventually(lambda: len(drive.told) == 1), drive.err
        send(source, practice.datagrams()[:500])
        script.add([fault])
        if fault == "die":
            assert eventually(lambda: len(drive.told) == 2), drive.err
            assert drive.told[1] == "buttons: their process has ended, and is started again"
        send(source, practice.datagrams()[500:1000])
        last = json.loads(practice.datagrams()[999])["t"]
        assert eventually(lambda: events(live)[-1]["t"] > last - 0.5)
        assert drive.end() < 3.0
    assert drive.out.startswith("loop-a, car-a\n")


def test_plugging_and_unplugging_while_it_drives(practice: Drive, bound: Path, tmp_path: Path) -> None:
    live = tmp_path / "live.jsonl"
    script = Script(tmp_path / "script.jsonl")
    with driving(bound, script, "--events", live) as drive, sender(drive.port) as source:
        assert eventually(lambda: len(drive.told) == 1), drive.err
        send(source, practice.datagrams()[:200])
        script.add(WHEEL, SETTLES)
        script.press("a", 0)
        assert eventually(lambda: actions(live) == ["mark"]), drive.err
        script.add(["unplug", "a"])
        assert eventually(lambda: len(drive.told) == 3), drive.err
        drive.end()
    assert drive.told == [
        "buttons: 'Pellow wheel' is not connected: 6 actions once it is plugged in",
        "buttons: 'Pellow wheel' is plugged in, 6 actions",
        "buttons: 'Pellow wheel' is unplugged; they work again once it is plugged in",
    ]


def test_no_buttons_and_none_bound_start_nothing(bound: Path, tmp_path: Path) -> None:
    script = Script(tmp_path / "script.jsonl", WHEEL)
    for more in (["--no-buttons"], []):
        with driving(bound, script, *more) as drive:
            assert not children(drive.process.pid)
            drive.end()
        assert drive.told == []
        bound.unlink(missing_ok=True)


def children(parent: int) -> str:
    """Process ids, where the system tells."""
    file = Path(f"/proc/{parent}/task/{parent}/children")
    return file.read_text() if file.exists() else ""


def test_a_wrong_file_is_one_line_before_any_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(buttonfile, "settings_file", lambda: tmp_path / "settings.toml")
    (tmp_path / "buttons.toml").write_text("[[button]]\n")
    for verb in (["drive", "--port", "0"], ["demo"], ["buttons"], ["buttons", "--list"]):
        assert main(verb) == 2
        out, err = capsys.readouterr()
        assert out == "" and err.count("\n") == 1
        assert err.startswith(f"cornerword: buttons {tmp_path / 'buttons.toml'}: button[0].action: it is missing")
