"""`--reference NAME`: a lap that is kept, or that was handed on, is the reference that its recording gave."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.reference import with_reference
from coach.app.remembering.keptlap import kept_lap
from coach.app.remembering.lapfile import lap_bytes
from coach.app.source import Source
from coach.app.start import fresh
from coach.engine.start import EngineStart
from coach.store.memory import Memory
from coach.vocabulary.errors import FormatError, InputError
from feeds.recording import RecordingWriter, open_recording
from tests.app.remembered import MORNING, Ended, keep, pond_lap, two_days

BARE = EngineStart("0", "generic", "none")


@pytest.fixture(scope="module")
def driven(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The first three laps of the practice run, every second row; and a memory that took them in. Only to read."""
    folder = tmp_path_factory.mktemp("driven")
    rows = practice.rows[: int((practice.laps[3].crossing + 8.0) * 25.0) : 2]
    path, memory = folder / "drive.jsonl", folder / "memory.sqlite"
    path.write_text("".join(json.dumps(row) + "\n" for row in rows))
    assert main(["memory", "take", str(path), "--memory", str(memory)]) == 0
    with Memory(memory) as opened:
        laps = [lap for lap in opened.laps(1) if lap.clean]
        opened.name(min(laps, key=lambda lap: lap.time or 0.0).id, "target")
    return path, memory


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return two_days(tmp_path / "memory.sqlite")


def plain(start: EngineStart) -> dict[str, Any]:
    """All that a start holds but what its reference is called."""
    return replace(start, origin=None).to_json()


def test_a_kept_lap_is_the_reference_that_its_recording_gave(
    driven: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By name, by number, and handed on in a file: the same lap, map and habits to the last digit."""
    path, memory = driven
    recorded = with_reference(BARE, str(path))
    kept = with_reference(BARE, "target", memory=memory)
    with Memory(memory) as opened:
        number = str(opened.lap("target").id)
    assert kept.origin == "target" and plain(kept) == plain(recorded)
    assert plain(with_reference(BARE, number, memory=memory)) == plain(recorded)
    lap = tmp_path / "lap.cwlap"
    assert main(["memory", "give", "target", str(lap), "--memory", str(memory)]) == 0
    handed = with_reference(BARE, str(lap))
    assert handed.origin == "lap.cwlap" and plain(handed) == plain(recorded)


def hand_on(memory: Path, file: Path) -> None:
    """The target as a file, with habits, for which three laps are too few."""
    with Memory(memory) as opened:
        lap, _ = kept_lap(opened, opened.lap("target"))
    assert lap.circuit is not None
    lap.usual = {(mark.corner, "brake_point"): mark.brake for mark in lap.circuit.marks}
    lap.warm = 81.5
    for value in (3.5, 4.25, 2.75):
        lap.scatter.add(1, "apex_speed", value)
    file.write_bytes(lap_bytes(lap))


def test_a_lap_that_was_handed_on_is_the_reference_that_its_file_is(
    driven: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By its name in the memory of somebody who knows neither circuit nor driver; given again; and by choice."""
    _, memory = driven
    file, pupil, again = tmp_path / "lap.cwlap", tmp_path / "pupil.sqlite", tmp_path / "again.cwlap"
    hand_on(memory, file)
    assert main(["memory", "take", str(file), "--memory", str(pupil)]) == 0
    given = with_reference(BARE, str(file))
    assert given.usual and given.warm is not None and given.scatter.to_json()
    assert plain(with_reference(BARE, "target", memory=pupil)) == plain(given)
    assert main(["memory", "give", "target", str(again), "--memory", str(pupil)]) == 0
    assert plain(with_reference(BARE, str(again))) == plain(given)
    with Memory(pupil) as opened:
        row = opened.lap("target")
        opened.choose(row.id)
        known = opened.recall("somebody else", row.car, row.track).known
    assert known is not None and known.circuit is not None and given.circuit is not None
    assert (known.driver, known.usual, known.warm) == (row.driver, given.usual, given.warm)
    assert known.circuit.name == given.circuit.name and known.scatter.to_json() == []  # the scatter is the pupil's own
    capsys.readouterr()


def test_its_habits_have_the_numbers_that_the_corners_have_here(
    driven: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The pupil's map counts otherwise."""
    _, memory = driven
    file, pupil = tmp_path / "lap.cwlap", tmp_path / "pupil.sqlite"
    hand_on(memory, file)
    assert main(["memory", "take", str(file), "--memory", str(pupil)]) == 0
    given = with_reference(BARE, str(file))
    assert given.circuit is not None and given.usual
    other = replace(
        given.circuit,
        name="mine",
        marks=tuple(replace(mark, corner=mark.corner + 20) for mark in given.circuit.marks),
    )
    with Memory(pupil) as opened:
        row = opened.lap("target")
        opened.choose(row.id)
    with sqlite3.connect(pupil) as by_hand:
        by_hand.execute(
            "INSERT INTO circuit VALUES (?, 'mine', ?, ?)", (row.track or "", json.dumps(other.to_json()), MORNING)
        )
    by_hand.close()
    with Memory(pupil) as opened:
        known = opened.recall(None, row.car, row.track).known
    assert known is not None and known.circuit is not None and known.circuit.name == "mine"
    assert known.usual == {(corner + 20, what): value for (corner, what), value in given.usual.items()}
    capsys.readouterr()


def test_a_replay_against_it_and_a_replay_of_that(
    driven: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The memory is opened as it was asked for; the head of a recording carries the lap, so that nothing is opened."""
    path, memory = driven
    start = fresh(Source(), "target", (), memory=memory)
    recording = tmp_path / "drive.cwrec"
    with RecordingWriter(recording, start.head()) as writer:
        for item in open_recording(path):
            writer.datagram(item.received, item.data)  # type: ignore[union-attr]
    asked = replayed(path, tmp_path / "asked.jsonl", "--reference", "target", "--memory", str(memory))
    assert asked[0]["reference"] == "target"

    def refuse(self: Memory, path: Path) -> None:
        raise AssertionError("a memory was opened")

    monkeypatch.setattr(Memory, "__init__", refuse)
    replayed(recording, tmp_path / "carried.jsonl")
    assert (tmp_path / "carried.jsonl").read_bytes() == (tmp_path / "asked.jsonl").read_bytes()
    capsys.readouterr()


def replayed(path: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(path)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


def test_a_file_goes_first_then_what_is_made(memory: Path) -> None:
    assert with_reference(BARE, "2", memory=memory).origin == "lap 2 of 2026-09-22"
    assert with_reference(BARE, "grip", memory=memory).choice == "grip"
    Path("2").write_text("no recording")
    with pytest.raises(InputError, match=r"^--reference: 2 is not a recording: "):
        with_reference(BARE, "2", memory=memory)


def test_a_lap_that_was_handed_on_brings_no_habits_of_others(memory: Path) -> None:
    with Memory(memory) as opened:
        opened.add_lap(pond_lap(7.5), "T. Coach", "her best", True)
    own = with_reference(BARE, "2", memory=memory)
    hers = with_reference(BARE, "her best", memory=memory)
    assert (own.driver, own.usual, own.warm) == ("D. River", {(1, "brake_point"): 70.25}, 81.5)
    assert (hers.driver, hers.usual, hers.warm) == ("T. Coach", {}, None)
    assert hers.scatter.to_json() == [] and hers.circuit is not None
    keep(memory, [Ended(8.0)], driver=None)
    with Memory(memory) as opened:
        number = opened.add_lap(pond_lap(7.4), None, None, True)
    assert with_reference(BARE, str(number), memory=memory).scatter.to_json() == []


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("targt", 'there is no file targt, and no lap of that name or number is kept: did you mean "target"?'),
        ("gripp", 'there is no file gripp, and no lap of that name or number is kept: did you mean "grip"?'),
        ("notes", 'there is no file notes, and no lap of that name or number is kept: did you mean "note"?'),
        (
            "99",
            "there is no file 99, and no lap of that name or number is kept: `cornerword memory laps` lists "
            "the kept ones",
        ),
        ("4", "lap 4 (lap 4 of session 1, -) has no channels, as it was not whole or was forgotten: choose another"),
        ("x/y", "there is no file x/y: check the name"),
        ("lap.cwlap", "there is no file lap.cwlap: check the name"),
        (
            "bad.cwlap",
            "bad.cwlap is no whole lap file, it is not gzip: give a file that `cornerword memory give` wrote",
        ),
        (
            "a\x1bb\nc",
            "there is no file a?b?c, and no lap of that name or number is kept: `cornerword memory laps` lists "
            "the kept ones",
        ),
    ],
)
def test_what_is_not_there_names_what_comes_near(name: str, told: str, memory: Path) -> None:
    Path("note").touch()
    Path("bad.cwlap").write_text("no lap")
    with Memory(memory) as opened:
        opened.name(2, "target")
    with pytest.raises(InputError) as caught:
        with_reference(BARE, name, memory=memory)
    assert str(caught.value) == f"--reference: {told}"


def test_a_memory_that_is_not_there_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match=r"^--reference: there is no file x, and nothing is kept yet: "):
        with_reference(BARE, "x")
    with pytest.raises(InputError, match=r"^--reference: there is no file x, and there is no memory gone: check"):
        with_reference(BARE, "x", memory=Path("gone"))
    Path("none.sqlite").write_text("no memory at all")
    with pytest.raises(InputError, match=r"^--reference: .*none\.sqlite") as caught:
        with_reference(BARE, "gripp", memory=Path("none.sqlite"))
    assert isinstance(caught.value.__cause__, FormatError)
    assert not Path("gone").exists()


@pytest.mark.parametrize(
    "verb",
    [
        ["replay", "--fast", "drive.jsonl"],
        ["compare", "drive.jsonl", "--playbook", "default"],
        ["drive", "--no-voice", "--no-overlay", "--port", "0"],
        ["demo", "--fast"],
        ["debrief", "drive.jsonl"],
    ],
)
def test_every_verb_looks_where_it_is_told_to(
    verb: list[str], memory: Path, driven: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    Path("drive.jsonl").write_bytes(driven[0].read_bytes()[:20_000])
    with Memory(memory) as opened:
        opened.name(2, "target")
    assert main([*verb, "--reference", "targe", "--memory", str(memory)]) == 2
    line = capsys.readouterr().err.splitlines()[-1]
    assert line == (
        "cornerword: --reference: there is no file targe, and no lap of that name or number is kept: "
        'did you mean "target"?'
    )


def test_a_lap_of_another_circuit_is_refused(
    memory: Path, driven: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", "--fast", str(driven[0]), "--reference", "2", "--memory", str(memory)]) == 2
    line = capsys.readouterr().err
    assert "--reference: the reference is a lap of Round Pond, this is loop-a: choose a lap of this circuit" in line
