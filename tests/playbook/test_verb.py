"""`cornerword playbook`: what it prints, and what it speaks into a device that is a file."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import wave
from collections.abc import Iterator
from pathlib import Path

import pytest
from playbook.written import written

from coach.app import playbook as verb
from coach.app.cli import main
from coach.planner.phrases import Phrases
from coach.playbook.load import load
from voice import lengths

TOP = Path(__file__).parents[2]
MINE = """
name = "One thing only"
first = []
order = [["late_throttle"]]
[talk]
alternate = true
summary_every = 0
[silence]
first_laps = 1
[corners."Brack Mere"]
4 = "the hairpin"
2 = "the sweeper"
[[cars]]
name = "slow"
cars = ["pellow s*", "pellow t"]
least = { late_throttle = 0.3 }
net = 0.08
"""


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[str]:
    assert main(["playbook", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out.splitlines()


def test_it_says_what_the_default_decides(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys)
    assert lines[0] == "playbook    Cornerword's own"
    assert "first       spin, off track, lock up, rear step out, early downshift" in lines
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if line.startswith("not coached")]


def test_it_says_what_a_file_decides(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    lines = printed(capsys, str(written(tmp_path, MINE)))
    text = " ".join(" ".join(lines).split())
    for said in (
        *("playbook One thing only", "first none", "group 1 late throttle", "not coached early braking, late braking"),
        *("corners Brack Mere: 2 the sweeper, 4 the hairpin", "no summary", "every other lap without a word"),
        "silence in a race, on a run's first lap, 3 s after an incident",
        "cars slow (pellow s*, pellow t): late throttle from 0.3 s, losses from 0.08 s",
    ):
        assert said in text
    assert max(map(len, lines)) <= 80


def test_long_labels_stay_within_80_columns(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    long = "x" * 100
    content = f'name = "{long}"\n[corners.{long}]\n1 = "one two three"\n[[cars]]\nname = "{long}"\ncars = ["{long}"]'
    assert max(map(len, printed(capsys, str(written(tmp_path, content))))) <= 80


def test_a_file_that_is_wrong_is_one_line_and_exit_code_two(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = written(tmp_path, "first = ['spinn']")
    assert main(["playbook", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"cornerword: playbook {path}: first[0]: no fault is called 'spinn'; did you mean spin?\n"
    assert main(["playbook", str(tmp_path / "none.toml"), "--lengths"]) == 2


def test_lengths_come_from_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    lines = printed(capsys, "--lengths")
    assert "  0.67    Brake later" in lines
    assert "  1.53 +  Brake two car lengths later" in lines
    assert [line for line in lines if " ++ " in line and line.endswith("Brake harder at first, turn twenty-seven")]
    table = lengths.load()
    over = [seconds for seconds in table.lengths.values() if seconds > 2.2]
    assert lines[-1].startswith(f"{len(table.lengths)} phrases: 0 estimated, ")
    assert lines[-1].endswith(f", {len(over)} over 2.2 s")
    assert max(map(len, lines)) <= 80


def test_lengths_that_no_table_has_are_estimated(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    lines = printed(capsys, str(written(tmp_path, MINE)), "--lengths")
    assert "~ 2.29 ++ Throttle sooner, the hairpin" in lines  # 28 characters: 0.058 s each, and 0.665 s
    known = f"{lengths.load().lengths['Throttle sooner, turn four']:.2f}"
    assert [line for line in lines if line.startswith(f"  {known} ") and line.endswith("  Throttle sooner, turn four")]
    estimated = [line for line in lines if line.startswith("~")]
    assert lines[-1].split(": ")[1].startswith(f"{len(estimated)} estimated")


def test_the_samples_hold_every_wording_once(tmp_path: Path) -> None:
    texts = verb.samples(load(None))
    assert len(texts) == len(set(texts)) < 200
    assert set(texts) >= set(Phrases(load(None)).anywhere())
    assert {"Fuel for one lap", "Five laps left", "Turn four costs two tenths"} <= set(texts)
    named = verb.samples(load(str(written(tmp_path, MINE))))
    assert {"Throttle sooner, the hairpin", "The sweeper, throttle sooner", "The hairpin costs two tenths"} <= set(
        named
    )


def test_samples_of_a_playbook_that_coaches_nothing(tmp_path: Path) -> None:
    assert "All within range" in verb.samples(load(str(written(tmp_path, "first = []\norder = []"))))


def environment(folder: Path, driver: str) -> dict[str, str]:
    return {
        **os.environ,
        "SDL_AUDIODRIVER": driver,
        "SDL_DISKAUDIOFILE": str(folder / "stream.raw"),
        "XDG_CACHE_HOME": str(folder / "cache"),
        "XDG_CONFIG_HOME": str(folder / "config"),
    }


def command(path: Path) -> list[str]:
    return [sys.executable, "-m", "coach", "playbook", str(path), "--speak"]


def test_each_phrase_is_heard_once(tmp_path: Path) -> None:
    path = written(tmp_path, 'first = []\norder = []\n[corners.A]\n4 = "the hairpin"')  # few, as it takes its time
    done = subprocess.run(
        command(path), capture_output=True, text=True, cwd=TOP, env=environment(tmp_path, "disk"), check=False
    )
    assert done.returncode == 0, done.stderr
    texts = verb.samples(load(str(path)))
    warning, *said = done.stderr.splitlines()
    assert "nothing is coached" in warning
    assert said == texts
    assert done.stdout.endswith(f"spoken: {len(texts)} of {len(texts)} phrases\n")
    stream = (tmp_path / "stream.raw").read_bytes()
    rendered = list(sounds(tmp_path / "cache"))
    assert len(rendered) == len(texts)
    assert [stream.count(sound) for sound in rendered] == [1] * len(texts)


def test_ctrl_c_ends_it_in_good_order(tmp_path: Path) -> None:
    with subprocess.Popen(
        command(written(tmp_path, "")),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=TOP,
        env=environment(tmp_path, "dummy"),
    ) as speaking:
        assert speaking.stderr is not None
        assert speaking.stderr.readline() == "Brake later\n"
        speaking.send_signal(signal.SIGINT)
        out, err = speaking.communicate(timeout=30)
    assert speaking.returncode == 0, err
    assert out.splitlines()[-1].startswith("spoken: ")
    assert out.endswith("phrases, then stopped\n")
    assert "Traceback" not in err


def test_without_a_device_it_says_so_in_one_line(tmp_path: Path) -> None:
    done = subprocess.run(
        command(written(tmp_path, MINE)),
        capture_output=True,
        text=True,
        cwd=TOP,
        env=environment(tmp_path, "no_such_driver"),
        check=False,
    )
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.startswith("cornerword: nothing can be spoken: no sound device")
    assert done.stderr.count("\n") == 1


def sounds(cache: Path) -> Iterator[bytes]:
    """The samples of every phrase that was rendered."""
    for path in cache.rglob("*.wav"):
        with wave.open(str(path)) as file:
            yield file.readframes(file.getnframes())


@pytest.mark.parametrize(("language", "own"), [("en", "Power sooner"), ("de", "Eher Gas geben")])
def test_own_words_are_listed_in_any_language(
    language: str, own: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    words = f'[wordings.late_throttle]\nsay = ["{own}"]\nshort = "{own}"\n'
    lines = printed(capsys, str(written(tmp_path, f'language = "{language}"\n{words}')))
    assert [line for line in lines if line.startswith("words")] == [f"words       late throttle: {own}; {own}"]
    assert not [line for line in printed(capsys) if line.startswith("words")]
