"""The README's commands run, print what the README shows, and are what the check runs."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from coach.app.cli import main
from coach.app.settings import read
from coach.overlay.palette import DEFAULT
from coach.planner.phrases import Phrases
from coach.playbook.load import load
from coach.vocabulary.actions import ACTIONS
from feeds.layout import read_layout
from feeds.udp import DEFAULT_PORT

TOP = Path(__file__).parents[1]
README = (TOP / "README.md").read_text(encoding="utf-8")
NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
NEAR = 0.02
"""s: the drive is integrated in thousands of steps, which another machine's mathematics rounds another way."""


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def command_lines() -> list[str]:
    return [line for block in blocks("sh") for line in block.splitlines()]


def test_the_first_paragraph_states_the_job() -> None:
    first = README.split("\n\n")[1]
    for word in ("coach", "simulator", "telemetry", "delta", "reference lap", "corner"):
        assert word in first


def test_the_check_runs_the_test_command_verbatim() -> None:
    [command] = [line for line in command_lines() if "pytest" in line]
    assert command in (TOP / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_the_install_line_names_an_extra_that_exists() -> None:
    [line] = [line for line in command_lines() if "pip install" in line]
    assert "'.[debrief,test]'" in line
    assert re.search(r"^test = \[", (TOP / "pyproject.toml").read_text(encoding="utf-8"), re.MULTILINE)


def test_the_example_prints_what_is_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    [demo] = [shlex.split(line) for line in command_lines() if "--fast" in line]
    assert demo[0] == "cornerword"
    assert main(demo[1:]) == 0
    printed, [shown] = capsys.readouterr().out, blocks("text")
    assert NUMBER.sub("#", printed) == NUMBER.sub("#", shown)
    for ours, theirs in zip(NUMBER.findall(printed), NUMBER.findall(shown), strict=True):
        assert float(ours) == pytest.approx(float(theirs), abs=NEAR)


def test_the_settings_the_layout_and_the_playbook_can_be_read(tmp_path: Path) -> None:
    voice, overlay, layout, shown = blocks("toml")
    file = tmp_path / "rig.toml"
    file.write_text(layout, encoding="utf-8")
    assert [packet.name for packet in read_layout(file).packet] == ["motion"]
    file = tmp_path / "settings.toml"
    file.write_text(voice + overlay, encoding="utf-8")
    assert (read(file).voice.volume, read(file).voice.device) == (0.8, "headset")
    assert (read(file).overlay.distance, read(file).overlay.opacity) == (0.9, 0.95)
    assert read(file).overlay.colours.palette() == DEFAULT
    file = tmp_path / "mine.toml"
    file.write_text(shown, encoding="utf-8")
    playbook = load(str(file))
    assert (playbook.name, playbook.pupil) == ("First week", "beginner")
    assert (playbook.talk.corrections, playbook.talk.reminders) == (1, True)
    assert Phrases(playbook, "Brack Mere").correction("late_throttle", None, 4)[0] == "Power sooner, hairpin"
    assert playbook.car_class("Pellow S") is not None


def test_the_python_example_is_a_stream_that_drive_reads(tmp_path: Path) -> None:
    [script] = blocks("python")
    [drive] = [shlex.split(line) for line in command_lines() if line.startswith("cornerword drive")]
    quiet = ["--no-voice", "--no-overlay"]
    command = [sys.executable, "-m", "coach", *drive[1:], *quiet, "--port", "0", "--events", "events.jsonl"]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=tmp_path, env={"PYTHONPATH": str(TOP)}
    ) as process:
        try:
            assert process.stderr is not None
            port = process.stderr.readline().split(":")[1].split()[0]
            assert script.count("26763") == 1
            quick = script.replace("26763", port).replace("1 / 50)", "1 / 5000)")
            subprocess.run([sys.executable, "-c", textwrap.dedent(quick)], check=True)
            assert "loop-b, car-a" in process.stderr.readline()
            time.sleep(0.5)
        finally:
            process.terminate()
            process.communicate(timeout=30)
        assert process.returncode == 0
    assert '"track":"loop-b"' in (tmp_path / "events.jsonl").read_text()
    assert (tmp_path / "today.cwrec").exists()


def test_the_port_in_the_readme_and_the_help_is_the_default(capsys: pytest.CaptureFixture[str]) -> None:
    assert set(re.findall(r"port (\d+)|, (\d+)\)\)", README)) == {(str(DEFAULT_PORT), ""), ("", str(DEFAULT_PORT))}
    for verb in ("drive", "record"):
        assert main([verb, "--help"]) == 0
        assert f"UDP port to listen on ({DEFAULT_PORT})" in capsys.readouterr().out


def test_every_action_stands_in_the_readme() -> None:
    table = README.partition("### Buttons")[2].partition("\n## ")[0]
    named = re.findall(r"`(\w+)`", "".join(line.split("|")[1] for line in table.splitlines() if line.startswith("| `")))
    assert sorted(named) == sorted(ACTIONS)
