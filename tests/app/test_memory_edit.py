"""`memory note`, `setup`, `name`, `forget` and `choose`."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.app.cli import main
from coach.store.memory import Memory
from tests.app.remembered import DAY, MORNING, Ended, keep, two_days

RIVER = "Round Pond, Pellow R, D. River"


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return two_days(tmp_path / "memory.sqlite")


def done(capsys: pytest.CaptureFixture[str], memory: Path, *arguments: str) -> str:
    assert main(["memory", *arguments, "--memory", str(memory)]) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    return captured.out


def refused(capsys: pytest.CaptureFixture[str], memory: Path, *arguments: str) -> str:
    """The one line that says why, without the command's name."""
    before = memory.read_bytes()
    assert main(["memory", "--memory", str(memory), *arguments]) == 2
    captured = capsys.readouterr()
    assert captured.out == "" and captured.err.count("\n") == 1
    assert memory.read_bytes() == before
    return captured.err.removeprefix("cornerword: ").removesuffix("\n")


def test_a_note_and_a_setup(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert done(capsys, memory, "note", "1", " calm\n morning ") == "Session 1: calm morning\n"
    assert done(capsys, memory, "setup", "1", "soft\x1b[2J") == "Session 1 was driven with the setup soft [2J.\n"
    with Memory(memory) as opened:
        assert [(row.note, row.setup) for row in opened.sessions() if row.id == 1] == [("calm morning", "soft [2J")]
    assert done(capsys, memory, "note", "1", "") == "Session 1 has no note any more.\n"
    assert done(capsys, memory, "setup", "1", " ") == "Session 1 has no setup.\n"
    with Memory(memory) as opened:
        assert [(row.note, row.setup) for row in opened.sessions() if row.id == 1] == [("", None)]


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (
            ["note", "7", "x"],
            "there is no session 7 in the memory: `cornerword memory sessions` lists the 3 there are",
        ),
        (["note", "one", "x"], "--session: needs a session's number, 1 or more, not 'one'"),
        (["setup", "1", "s" * 201], f"--label: needs a name of 200 characters at most, not {'s' * 201!r}"),
        (["name", "99", "x"], "there is no lap of the number 99 in the memory: `cornerword memory laps` lists them"),
        (["choose", "quite one"], 'there is no lap of the name quite one in the memory: did you mean "quiet one"?'),
        (
            ["choose", "4"],
            "lap 4 (lap 4 of session 1, -) has no channels, so nothing can be measured against it: choose another",
        ),
        (
            ["choose", "best", "--driver", "Nobody"],
            "no session of Nobody is kept, so there is no best lap: `cornerword memory sessions` lists them",
        ),
        (
            ["forget", "--session", "9"],
            "there is no session 9 in the memory: `cornerword memory sessions` lists the 3 there are",
        ),
    ],
)
def test_what_is_not_there(arguments: list[str], line: str, memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Memory(memory) as opened:
        opened.name(2, "quiet one")
    assert refused(capsys, memory, *arguments) == line


def test_a_name(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert done(capsys, memory, "name", "2", "  quiet one ") == (
        'Lap 2, "quiet one" (lap 2 of session 1, 0:08.000).\n'
        '  to drive against it:       --reference "quiet one"\n'
        '  to do so from now on:      cornerword memory choose "quiet one"\n'
    )
    assert done(capsys, memory, "name", "quiet one", "Quiet One").startswith('Lap 2, "Quiet One" (')  # its own again
    assert done(capsys, memory, "name", "Quiet One", "") == (
        'Lap 2, "Quiet One" (lap 2 of session 1, 0:08.000) has no name any more.\n'
    )
    with Memory(memory) as opened:
        assert opened.laps() == []


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("12", "would be taken for a lap's number"),
        ("\u0663", "would be taken for a lap's number"),  # a three in Arabic digits
        ("Grip", "is a choice of the coach's own"),
        ("patchwork", "is a choice of the coach's own"),
        ("BEST", "is a choice of the coach's own"),
        ("-x", "would be taken for an option"),
        ("a/b", "would be taken for a file"),
        ("a\\b", "would be taken for a file"),
        ("lap.CWLAP", "would be taken for a file"),
        ("run.jsonl.gz", "would be taken for a file"),
        ("todo", "is a file here"),
        ("Taken", "another lap is called"),
        ("a\x1bb", "has a character that no screen shows"),
    ],
)
def test_a_name_that_means_something_else(
    name: str, why: str, memory: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (memory.parent / "todo").touch()
    with Memory(memory) as opened:
        opened.name(3, "taken")
    arguments = ["name", "2", "--", name] if name.startswith("-") else ["name", "2", name]
    line = refused(capsys, memory, *arguments)
    assert line.startswith("NAME: ") and why in line and ": choose " in line and line.isprintable()


def test_choosing_and_forgetting_say_what_the_reference_is(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert done(capsys, memory, "choose", "3") == (
        "Lap 3 (lap 3 of session 1, 0:08.250) is the reference from now on: Round Pond, Pellow R.\n"
    )
    assert done(capsys, memory, "forget", "--lap", "5") == (  # not the reference
        "Lap 5 (lap 5 of session 1, 0:08.100) has lost its channels.\n"
    )
    assert done(capsys, memory, "forget", "--lap", "3") == (
        "Lap 3 (lap 3 of session 1, 0:08.250) has lost its channels.\n"
        f"The reference is now lap 2 of 2026-09-23, 0:07.900: {RIVER}.\n"
    )
    assert done(capsys, memory, "forget", "--session", "2") == (
        f"Session 2 is forgotten, with 2 laps.\nThe reference is now lap 2 of 2026-09-22, 0:08.000: {RIVER}.\n"
    )
    assert done(capsys, memory, "forget", "--session", "1") == (
        f"Session 1 is forgotten, with 5 laps.\nThere is no reference for {RIVER} now: the next drive sets its own.\n"
    )
    assert done(capsys, memory, "forget", "--session", "3").startswith("Session 3 is forgotten, with 1 lap.\n")


def test_a_lap_that_was_handed_on_is_forgotten_whole(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Memory(memory) as opened:
        number = opened.add_lap(opened.grid(2), "T. Coach", "her best", True)
        opened.choose(number)
    assert done(capsys, memory, "forget", "--lap", "her best") == (
        'Lap 9, "her best" (handed on, 0:08.000) is forgotten.\n'
        f"The reference is now lap 2 of 2026-09-23, 0:07.900: {RIVER}.\n"
    )
    with Memory(memory) as opened:
        assert opened.laps() == []


def test_the_best_again(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert done(capsys, memory, "choose", "1").endswith("It was not clean, so its time may not be one to aim for.\n")
    told = done(capsys, memory, "choose", "best", "--driver", "D. River")
    assert told == f"The reference is now lap 2 of 2026-09-23, 0:07.900: {RIVER}.\n"
    told = done(capsys, memory, "choose", "Best")  # of the session kept last
    assert told == "The reference is now lap 1 of 2026-09-24, 0:08.400: Round Pond, Pellow S, A. Brook.\n"
    with Memory(memory) as opened:
        known = opened.recall("D. River", "Pellow R", "Round Pond").known
        assert known is not None and known.reference is not None and known.reference.total == 7.9


def test_what_a_stream_named_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "memory.sqlite"
    keep(file, [Ended(8.0)], MORNING + 3 * DAY, None, None, None)
    told = done(capsys, file, "choose", "1")
    assert told == (
        "Lap 1 (lap 1 of session 1, 0:08.000) is the reference from now on: a track without a name, a car without a "
        "name.\n"
    )


def test_the_help_names_every_work(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["memory", "--help"]) == 0
    told = capsys.readouterr().out
    works = ("sessions", "laps", "note", "setup", "name", "forget", "choose", "give", "take", "copy")
    assert all(work in told for work in works)
    assert main(["memory"]) == 2
    assert main(["memory", "forget"]) == 2
    capsys.readouterr()
