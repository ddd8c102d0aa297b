"""`memory give`, `take` and `copy`: laps and memories from one computer to another."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from coach.app.cli import main
from coach.app.remembering.lapfile import HandedLap, lap_bytes, read_lap
from coach.store.memory import Memory
from tests.app.remembered import MAP, pond_lap, two_days


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return two_days(tmp_path / "memory.sqlite")


def ran(capsys: pytest.CaptureFixture[str], memory: Path, *arguments: str, code: int = 0) -> str:
    """What is printed; where it is refused, the one line that says why."""
    assert main(["memory", *arguments, "--memory", str(memory)]) == code
    captured = capsys.readouterr()
    if code == 0:
        assert captured.err == ""
        return captured.out
    assert captured.out == "" and captured.err.count("\n") == 1
    return captured.err.removeprefix("cornerword: ").removesuffix("\n")


def test_a_lap_goes_from_one_memory_to_another(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Memory(memory) as opened:
        opened.name(2, "quiet one")
        sent = opened.grid(2)
    told = ran(capsys, memory, "give", "quiet one", "lap.cwlap")
    size = Path("lap.cwlap").stat().st_size
    assert told == (
        f'lap.cwlap: lap 2, "quiet one" (lap 2 of session 1, 0:08.000), Round Pond, Pellow R, D. River, {size} bytes\n'
    )
    lap = read_lap(Path("lap.cwlap"))
    assert (lap.driver, lap.name, lap.clean, lap.when) == ("D. River", "quiet one", True, 1_790_064_000.0)
    assert lap.usual == {(1, "brake_point"): 70.25} and lap.warm == 81.5
    pupil = Path("pupil") / "memory.sqlite"  # neither the file nor its folder is there
    assert ran(capsys, pupil, "take", "lap.cwlap") == (
        'Taken: lap 1, "quiet one" (handed on, 0:08.000), Round Pond, Pellow R, D. River.\n'
        '  to drive against it:       --reference "quiet one"\n'
        '  to do so from now on:      cornerword memory choose "quiet one"\n'
    )
    with Memory(pupil) as opened:
        row, came = opened.lap("quiet one"), opened.grid(1)
    assert (row.session, row.clean, row.driver, row.time) == (None, True, "D. River", 8.0)
    assert came.to_json() == sent.to_json()
    assert ran(capsys, pupil, "give", "1", "again.cwlap").startswith("again.cwlap: lap 1, ")
    again = read_lap(Path("again.cwlap"))
    assert again.grid.to_json() == sent.to_json() and np.array_equal(again.grid.time, sent.time)


def test_what_is_kept_is_not_taken_twice(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(capsys, memory, "give", "7", "lap.cwlap")
    assert ran(capsys, memory, "take", "lap.cwlap", code=2) == (
        "lap.cwlap is kept already, as lap 7 (lap 2 of session 2, 0:07.900): nothing was taken"
    )
    pupil = Path("pupil.sqlite")
    ran(capsys, pupil, "take", "lap.cwlap", "--name", "target")
    assert ran(capsys, pupil, "take", "lap.cwlap", "--name", "other", code=2) == (
        'lap.cwlap is kept already, as lap 1, "target" (handed on, 0:07.900): nothing was taken'
    )
    Path("other.cwlap").write_bytes(lap_bytes(HandedLap(pond_lap(7.9, car="Pellow S"), MAP)))  # as quick, another car
    assert ran(capsys, pupil, "take", "other.cwlap").startswith("Taken: lap 2 (handed on, 0:07.900)")


def test_the_name_in_the_file(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def given(name: str) -> None:
        Path("lap.cwlap").write_bytes(lap_bytes(HandedLap(pond_lap(7.7), MAP, "T. Coach", name)))

    given("best")
    assert ran(capsys, memory, "take", "lap.cwlap", code=2) == (
        "the lap's name: \"best\" is a choice of the coach's own: choose another one with --name"
    )
    with Memory(memory) as opened:
        opened.name(2, "target")
    given("Target")
    assert ran(capsys, memory, "take", "lap.cwlap", code=2) == (
        'the lap\'s name: another lap is called "Target": choose another one with --name'
    )
    assert ran(capsys, memory, "take", "lap.cwlap", "--name", "17", code=2) == (
        '--name: "17" would be taken for a lap\'s number: choose a name with a letter in it'
    )
    with Memory(memory) as opened:
        assert len(opened.laps()) == 1  # nothing of all that was taken
    given("  ")
    assert ran(capsys, memory, "take", "lap.cwlap").endswith("cornerword memory choose 9\n")


@pytest.mark.parametrize(
    ("lap", "file", "why"),
    [
        ("2", "lap.cwrec", "lap.cwrec: a lap file's name ends in .cwlap: write lap.cwrec.cwlap"),
        ("2", "there.cwlap", "there.cwlap exists already: choose another name, or move it away"),
        ("2", "deep/lap.cwlap", "cannot write deep/lap.cwlap: there is no folder deep, make it"),
        (
            "4",
            "lap.cwlap",
            "lap 4 (lap 4 of session 1, -) has no channels, as it was not whole or was forgotten: choose another",
        ),
        ("77", "lap.cwlap", "there is no lap of the number 77 in the memory: `cornerword memory laps` lists them"),
    ],
)
def test_what_cannot_be_given(lap: str, file: str, why: str, memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("there.cwlap").write_bytes(b"mine")
    assert ran(capsys, memory, "give", lap, file, code=2) == why
    assert Path("there.cwlap").read_bytes() == b"mine"
    assert not Path("lap.cwlap").exists()


def test_what_cannot_be_taken_leaves_the_memory_as_it_is(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("lap.cwlap").write_bytes(b"no lap")
    Path("notes.txt").write_text("to do")
    before = memory.read_bytes()
    assert "lap.cwlap is no whole lap file, it is not gzip" in ran(capsys, memory, "take", "lap.cwlap", code=2)
    assert "there is no file gone.cwlap: check the name" in ran(capsys, memory, "take", "gone.cwlap", code=2)
    assert "notes.txt is not a recording" in ran(capsys, memory, "take", "notes.txt", code=2)
    assert memory.read_bytes() == before
    new = Path("new.sqlite")
    assert "it is not gzip" in ran(capsys, new, "take", "lap.cwlap", code=2)
    assert not new.exists()


def test_a_copy_is_a_whole_memory(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = ran(capsys, memory, "copy", "copy.sqlite")
    size = round(Path("copy.sqlite").stat().st_size / 1000)
    assert told == f"copy.sqlite: 3 sessions, {size} kB\n"
    with closing(sqlite3.connect("copy.sqlite")) as by_hand:
        assert by_hand.execute("PRAGMA integrity_check").fetchone() == ("ok",)  # SQLite's own check
    assert ran(capsys, Path("copy.sqlite"), "sessions") == ran(capsys, memory, "sessions")
    assert ran(capsys, memory, "copy", "copy.sqlite", code=2) == (
        "copy.sqlite exists already: choose another name, or move it away"
    )
