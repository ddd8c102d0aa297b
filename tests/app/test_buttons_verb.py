"""`cornerword buttons`: asked for one by one, with a virtual controller under the hands."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from queue import SimpleQueue

import pytest

from coach.app import buttonfile, buttons, presses
from coach.app.cli import main
from coach.controls.bindings import Bindings
from coach.controls.button import Button
from coach.vocabulary.actions import ACTIONS
from tests.controls.bench import PATIENCE, SETTLES, TOP, Script, eventually, needs_virtual

WHEEL = ["plug", "a", "Pellow wheel", 2, 16, 1]
NAMES = list(ACTIONS)


@pytest.fixture
def script(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Script:
    """The hands; a controller is waited for no longer than 1.5 s."""
    needs_virtual()
    monkeypatch.setattr(buttonfile, "settings_file", lambda: tmp_path / "own" / "settings.toml")
    script = Script(tmp_path / "script.jsonl")
    monkeypatch.setattr(presses, "LISTENER", script.command)
    monkeypatch.setattr(buttons, "PLUG", 1.5)
    return script


class Hands:
    """Answers each question as it is asked, the others with Enter; `out` and `err` are what was told."""

    def __init__(self, answers: dict[int, Callable[[], None]], capsys: pytest.CaptureFixture[str]) -> None:
        self.err, self.out = "", ""
        self._answers, self._capsys = answers, capsys
        self._heard: buttons.Heard | None = None

    def run(self, *arguments: str) -> int:
        """The verb, in a thread; returns its exit code."""
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(buttons, "_hear_enter", self._sit_down)
            return self._run(arguments)

    def _sit_down(self, heard: buttons.Heard) -> bool:
        self._heard = heard
        return True

    def _enter(self) -> None:
        assert self._heard is not None
        self._heard.put(buttons.Entered())

    def _run(self, arguments: Sequence[str]) -> int:
        done: list[int] = []
        work = threading.Thread(target=lambda: done.append(main(["buttons", *arguments])))
        work.start()
        asked = 0
        while work.is_alive():
            self._read()
            while asked < len(re.findall(r"^\d of 8: ", self.err, re.MULTILINE)):
                asked += 1
                self._answers.get(asked, self._enter)()
            work.join(0.02)
        self._read()
        return done[0]

    def _read(self) -> None:
        out, err = self._capsys.readouterr()
        self.out += out
        self.err += err


def lines(action: str, out: str) -> str:
    """What is shown as bound to an action."""
    found = re.search(rf"^{action} .*\n +(.*)$", out, re.MULTILINE)
    assert found is not None, out
    return found[1]


def test_each_action_is_asked_for_and_what_was_pressed_is_saved(
    script: Script, capsys: pytest.CaptureFixture[str]
) -> None:
    script.add(WHEEL, SETTLES)
    hands = Hands(
        {
            1: lambda: script.press("a", 15),
            3: lambda: script.add(["hat", "a", 0, 0, 1], ["wait", 0.1], ["hat", "a", 0, 0, 0], ["wait", 0.1]),
            4: lambda: script.add(["axis", "a", 1, -1.0], ["wait", 0.1], ["axis", "a", 1, 0.0], ["wait", 0.1]),
            8: lambda: script.press("a", 2),
        },
        capsys,
    )
    assert hands.run() == 0
    bound = {action: [button.words for button in buttonfile.read().of(action)] for action in ACTIONS}
    of = "of 'Pellow wheel'"
    assert bound == {action: [] for action in ACTIONS} | {
        NAMES[0]: [f"button 15 {of}"],
        NAMES[2]: [f"hat 0 up {of}"],
        NAMES[3]: [f"axis 1 - {of}"],
        NAMES[7]: [f"button 2 {of}"],
    }
    for number, does in enumerate(ACTIONS.values(), start=1):
        assert f"{number} of 8: {does}?\n" in hands.err
    assert hands.err.count("  left as it is\n") == 4
    assert hands.err.startswith("'Pellow wheel' is connected\n")
    assert lines(NAMES[0], hands.out) == f"button 15 {of}" and lines(NAMES[1], hands.out) == "-"


def test_the_same_button_for_two_is_asked_for_again(script: Script, capsys: pytest.CaptureFixture[str]) -> None:
    script.add(WHEEL, SETTLES)

    def twice() -> None:
        script.press("a", 1)
        script.press("a", 2)

    hands = Hands({1: lambda: script.press("a", 1), 2: twice}, capsys)
    assert hands.run() == 0
    assert f"button 1 of 'Pellow wheel' is for \"{ACTIONS[NAMES[0]]}\" already: press another one\n" in hands.err
    bound = buttonfile.read()
    assert [button.number for action in NAMES[:2] for button in bound.of(action)] == [1, 2]


def test_a_press_takes_the_place_of_what_was_bound_and_add_does_not(
    script: Script, capsys: pytest.CaptureFixture[str]
) -> None:
    script.add(WHEEL, SETTLES)
    assert Hands({1: lambda: script.press("a", 1), 2: lambda: script.press("a", 2)}, capsys).run() == 0
    hands = Hands({1: lambda: script.press("a", 2)}, capsys)
    script.path.write_bytes(b"")
    script.add(WHEEL, SETTLES)
    assert hands.run() == 0
    assert [button.number for button in buttonfile.read().of(NAMES[0])] == [2]
    assert buttonfile.read().of(NAMES[1]) == [], "one button has one action"
    assert f'no longer "{ACTIONS[NAMES[1]]}"' in hands.err
    script.path.write_bytes(b"")
    script.add(WHEEL, SETTLES)
    hands = Hands({1: lambda: script.press("a", 7)}, capsys)
    assert hands.run("--add") == 0
    assert [button.number for button in buttonfile.read().of(NAMES[0])] == [2, 7]
    assert "(now button 2 of 'Pellow wheel')" in hands.err


def test_without_a_controller_it_waits_and_without_a_press_it_goes_on(
    script: Script, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(buttons, "SKIP", 0.2)
    began = time.monotonic()
    assert main(["buttons"]) == 2
    assert time.monotonic() - began >= 1.5
    assert capsys.readouterr().err.splitlines() == [
        "no controller is connected: plug one in, within 2 s",
        "cornerword: no controller is connected: plug one in, then run `cornerword buttons` again",
    ]
    threading.Timer(0.6, script.add, [WHEEL]).start()
    assert main(["buttons"]) == 0
    out, err = capsys.readouterr()
    assert "'Pellow wheel' is connected" in err and out.startswith("nothing is changed\n")
    assert not buttonfile.buttons_file().exists()


def test_list_and_clear(script: Script, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["buttons", "--list"]) == 0
    assert capsys.readouterr().out.startswith("BUTTONS  none is bound; `cornerword buttons` asks for them\n")
    path = buttonfile.save(Bindings({Button("ab" * 16, "axis", 2, "+"): "mark"}))
    assert main(["buttons", "--list"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(f"BUTTONS  {path}\n")
    assert lines("mark", out) == f"axis 2 + of controller {'ab' * 16}"
    assert main(["buttons", "--clear"]) == 0
    assert capsys.readouterr().out == f"{path} is removed: no button is bound\n"
    assert main(["buttons", "--clear"]) == 0
    assert capsys.readouterr().out == "no button is bound\n"
    assert main(["buttons", "--clear", "--list"]) == 2
    assert "--list and --clear are two things to do" in capsys.readouterr().err


def test_a_listener_that_fails_is_one_line(
    script: Script, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = 'print(\'{"what": "failed", "why": "no driver"}\', flush=True)'
    monkeypatch.setattr(presses, "LISTENER", [sys.executable, "-c", said])
    assert main(["buttons"]) == 1
    assert capsys.readouterr().err == "cornerword: no button can be heard: no driver\n"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_a_terminal_that_is_closed_meanwhile_is_no_bug(monkeypatch: pytest.MonkeyPatch) -> None:
    import pty

    ours, theirs = pty.openpty()
    failed: list[object] = []
    monkeypatch.setattr(threading, "excepthook", failed.append)
    with os.fdopen(theirs) as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        heard: buttons.Heard = SimpleQueue()
        assert buttons._hear_enter(heard)
        (reader,) = (thread for thread in threading.enumerate() if thread.name == "typed")
        os.write(ours, b"\n")
        assert heard.get(timeout=PATIENCE) == buttons.Entered()
        os.close(ours)
        reader.join(PATIENCE)
    assert not reader.is_alive() and not failed


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
@pytest.mark.parametrize("ends", ["enter", "ctrl-c"])
def test_in_a_terminal_enter_skips_and_ctrl_c_leaves_all_as_it_was(ends: str, tmp_path: Path) -> None:
    """The real command in a pseudo-terminal."""
    needs_virtual()
    import pty

    file, script = tmp_path / "buttons.toml", Script(tmp_path / "script.jsonl", WHEEL, SETTLES)
    errors = tmp_path / "errors.txt"
    ours, theirs = pty.openpty()
    try:
        with errors.open("w") as told:
            command = subprocess.Popen(
                [sys.executable, "-m", "tests.app.with_buttons", str(file), str(script.path), "buttons"],
                stdin=theirs,
                stdout=subprocess.PIPE,
                stderr=told,
                text=True,
                cwd=TOP,
            )
        try:
            assert eventually(lambda: "1 of 8: " in errors.read_text()), errors.read_text()
            assert "Enter, or 3 s without a press leaves one as it is" in errors.read_text()
            script.press("a", 3)
            began = time.monotonic()
            for number in range(2, 9):
                asked = f"{number} of 8: "
                assert eventually(lambda asked=asked: asked in errors.read_text()), errors.read_text()
                if ends == "ctrl-c" and number == 4:
                    command.send_signal(signal.SIGINT)
                    break
                os.write(ours, b"\n")
            out, _ = command.communicate(timeout=PATIENCE)
            assert time.monotonic() - began < 6.0, "nothing waited for 3 s a question"
        finally:
            if command.poll() is None:
                command.kill()
                command.communicate()
    finally:
        os.close(ours)
        os.close(theirs)
    if ends == "ctrl-c":
        assert command.returncode == 1 and not file.exists()
        assert errors.read_text().endswith("the buttons stay as they were\ncornerword: stopped before the end\n")
    else:
        assert command.returncode == 0 and "number = 3\n" in file.read_text()
        assert lines(NAMES[0], out) == "button 3 of 'Pellow wheel'"
