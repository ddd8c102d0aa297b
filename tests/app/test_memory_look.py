"""`memory sessions` and `memory laps`: what is kept, in 80 columns."""

from __future__ import annotations

import sqlite3
from datetime import datetime
from pathlib import Path

import pytest

from coach.app.cli import main
from coach.store.memory import Memory
from tests.app.remembered import DAY, MORNING, Ended, keep, two_days


@pytest.fixture
def memory(tmp_path: Path) -> Path:
    return two_days(tmp_path / "memory.sqlite")


def told(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> str:
    """What the command prints, or what it says is wrong."""
    assert main(["memory", *arguments]) == code
    captured = capsys.readouterr()
    assert (captured.err if code == 0 else captured.out) == ""
    return captured.out if code == 0 else captured.err


def local(days: float) -> str:
    """This computer's date and time, so many days after the first session."""
    return datetime.fromtimestamp(MORNING + days * DAY).strftime("%Y-%m-%d %H:%M")


def test_sessions(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Memory(memory) as opened:
        opened.note(1, "rear steps out in turn 4, front tyres cold for two laps, then fine; brake later into turn one")
        opened.set_up(2, "soft front")
    assert (
        told(capsys, "sessions", "--memory", str(memory))
        == f"""\
Round Pond, Pellow S, A. Brook
  number  when              laps  clean        best  stage     setup
       3  {local(2)}     1      1    0:08.400  pace

Round Pond, Pellow R, D. River
  number  when              laps  clean        best  stage     setup
       2  {local(1)}     2      2    0:07.900  pace      soft front
       1  {local(0)}     5      3    0:08.000  pace
          rear steps out in turn 4, front tyres cold for two laps, then fine;
          brake later into turn one
"""
    )


def test_only_those_of_a_driver(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "--memory", str(memory), "sessions", "--driver", "A. Brook")
    assert "Pellow S" in text and "Pellow R" not in text
    text = told(capsys, "--memory", str(memory), "sessions", "--track", "Round Pond", "--car", "Pellow R")
    assert "Pellow R" in text and "Pellow S" not in text


@pytest.mark.parametrize(
    ("asked", "line"),
    [
        (["--driver", "Nobody"], "No kept session is of the driver Nobody: the memory has A. Brook, D. River."),
        (["--car", "C\x1b[2J"], "No kept session is of the car C?[2J: the memory has Pellow S, Pellow R."),
        (
            ["--driver", "A. Brook", "--car", "Pellow R"],
            "No kept session is of A. Brook, Pellow R together: `cornerword memory sessions` lists the 3 there are.",
        ),
    ],
)
def test_none_matches(asked: list[str], line: str, memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "sessions", "--memory", str(memory), *asked) == line + "\n"


def test_nothing_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    empty = tmp_path / "empty.sqlite"
    keep(empty, [])
    with Memory(empty) as opened:
        opened.forget_session(1)
    assert told(capsys, "sessions", "--memory", str(empty)) == "Nothing is kept yet: a drive keeps its sessions.\n"
    assert "Nothing is kept yet" in told(capsys, "laps", "--memory", str(empty))


def test_looking_makes_no_memory(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "deep" / "none.sqlite"
    for what in ("sessions", "laps"):
        line = told(capsys, what, "--memory", str(file), code=2)
        assert line == f"cornerword: there is no memory {file}: check the name\n"
    line = told(capsys, "sessions", code=2)
    assert line.startswith("cornerword: nothing is kept yet: a drive makes the memory, ") and line.count("\n") == 1
    assert not file.parent.exists()


def test_what_is_no_memory(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("to do")
    line = told(capsys, "sessions", "--memory", str(file), code=2)
    assert str(file) in line and line.count("\n") == 1
    assert file.read_text() == "to do"


def test_laps(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Memory(memory) as opened:
        opened.name(2, "quiet one")
        opened.choose(3)
        opened.forget_lap(5)
    assert (
        told(capsys, "laps", "1", "--memory", str(memory))
        == f"""\
Session 1, {local(0)}
Round Pond, Pellow R, D. River
  number   lap        time  name and state
       1     1    0:08.500  not clean: standing start
       2     2    0:08.000  "quiet one", clean
       3     3    0:08.250  clean, the chosen reference
       4     4           -  not clean: off track, no channels
       5     5    0:08.100  clean, no channels
The next drive begins with lap 3 of 2026-09-22, 0:08.250.
"""
    )


def test_without_a_number_the_last_session_and_what_has_a_name(
    memory: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Memory(memory) as opened:
        opened.name(2, "quiet one")
        opened.add_lap(opened.grid(7), "T. Coach", "her best", True)
    assert (
        told(capsys, "laps", "--memory", str(memory))
        == f"""\
Session 3, {local(2)}
Round Pond, Pellow S, A. Brook
  number   lap        time  name and state
       8     1    0:08.400  clean
The next drive begins with lap 1 of 2026-09-24, 0:08.400.

Laps with a name, and laps that were handed on
  Round Pond, Pellow R, D. River
  number   lap        time  name and state
       2     2    0:08.000  "quiet one", clean
  Round Pond, Pellow R, T. Coach
  number   lap        time  name and state
       9     2    0:07.900  "her best", clean, handed on
"""
    )


def test_a_session_without_a_lap_and_one_that_is_not_there(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    keep(memory, [], MORNING + 3 * DAY, None, None, None)
    assert told(capsys, "laps", "4", "--memory", str(memory)) == (
        f"Session 4, {local(3)}\na track without a name, a car without a name, a driver without a name\n"
        "  no lap ended\n"
    )
    line = told(capsys, "laps", "9", "--memory", str(memory), code=2)
    assert line == (
        "cornerword: there is no session 9 in the memory: `cornerword memory sessions` lists the 4 there are\n"
    )
    assert "a session's number, 1 or more" in told(capsys, "laps", "first", "--memory", str(memory), code=2)


def test_a_session_that_was_cut_short_says_so(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with sqlite3.connect(memory) as by_hand:
        by_hand.execute("UPDATE session SET whole = 0 WHERE id = 3")
    by_hand.close()
    assert "\n          cut short\n" in told(capsys, "sessions", "--memory", str(memory))


def test_labels_of_a_stream_are_safe_and_fit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "memory.sqlite"
    keep(file, [Ended(8.0)], driver="\x1b[31mred\n" + "r" * 300, track="t" * 300, car="c\u202ec")
    with Memory(file) as opened:
        opened.note(1, "n\x07" + "o" * 500)
        opened.set_up(1, "s\x1b]0;x" * 40)
        opened.name(1, "a\x1bb" * 80)
    text = told(capsys, "sessions", "--memory", str(file)) + told(capsys, "laps", "--memory", str(file))
    assert all(line.isprintable() for line in text.splitlines())
    assert max(map(len, text.splitlines())) <= 130
    tables = [line for line in text.splitlines() if line.startswith("       1")]
    assert tables and all(len(line) <= 80 for line in tables)
