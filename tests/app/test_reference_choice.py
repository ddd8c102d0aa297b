"""`--reference grip` and `--reference patchwork`: references that need no other driver, live, replayed and recorded."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.reference import with_reference
from coach.app.source import Source, chosen
from coach.app.start import SessionStart, fresh, from_head
from coach.engine.start import EngineStart
from coach.vocabulary.errors import InputError
from feeds.recording import RecordingWriter, open_recording
from tests.app.recorded import capture, layout_file


def replayed(path: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(path)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


def origins(events: list[dict[str, Any]]) -> set[str]:
    return {event["origin"] for event in events if event["type"] == "reference"}


def recorded(drive: Drive, path: Path, start: SessionStart) -> Path:
    """The drive as a live session with this start would have recorded it."""
    with RecordingWriter(path, start.head()) as writer:
        for row, data in zip(drive.rows, drive.datagrams(), strict=True):
            writer.datagram(1000.0 + row["t"], data)
    return path


@pytest.mark.parametrize(("name", "origin"), [("grip", "grip lap"), ("patchwork", "patchwork lap")])
def test_a_replay_makes_its_own_reference(
    name: str, origin: str, practice_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    events = replayed(practice_file, tmp_path / "events.jsonl", "--reference", name)
    assert events[0]["reference"] == origin
    assert origins(events) == {origin}
    found = [(event["fault"], event["lap"]) for event in events if event["type"] == "fault"]
    assert ("late_throttle", 4) in found


def test_a_file_of_that_name_wins(practice_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(practice_file, tmp_path / "grip")
    start = with_reference(EngineStart("0", "generic", "none"), "grip")
    assert (start.origin, start.choice) == ("grip", None)
    assert start.reference is not None and start.reference.total > 60.0
    assert with_reference(start, "patchwork").choice == "patchwork"


def test_a_choice_takes_the_place_of_a_file_and_the_other_way_round(
    practice_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    filed = with_reference(EngineStart("0", "generic", "table"), str(practice_file))
    made = with_reference(filed, "grip")
    assert (made.reference, made.origin, made.circuit, made.usual, made.choice) == (None, None, None, {}, "grip")
    assert (made.version, made.source, made.phrases) == ("0", "generic", "table")
    again = with_reference(made, str(practice_file))
    assert again.choice is None and again.reference is not None and again.origin == "practice.jsonl"


@pytest.mark.parametrize("name", ["grip", "patchwork"])
def test_a_recording_says_again_what_it_said(
    name: str, practice: Drive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The head carries the choice: the replay is byte for byte what the session with that choice gave."""
    monkeypatch.chdir(tmp_path)
    chosen = recorded(practice, tmp_path / "chosen.cwrec", fresh(Source(), name, ()))
    plain = recorded(practice, tmp_path / "plain.cwrec", fresh(Source(), None, ()))
    head = open_recording(chosen).head
    assert head is not None and from_head(head, None, ()).engine.choice == name
    carried = replayed(chosen, tmp_path / "carried.jsonl")
    given = replayed(plain, tmp_path / "given.jsonl", "--reference", name)
    assert (tmp_path / "carried.jsonl").read_bytes() == (tmp_path / "given.jsonl").read_bytes()
    assert origins(carried) == origins(given) != origins(replayed(plain, tmp_path / "plain.jsonl"))


def test_the_help_names_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert '"grip"' in told and '"patchwork"' in told


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("gripp", 'there is no file gripp: did you mean "grip"?'),
        ("grip.cwrec", "there is no file grip.cwrec: check the name"),
        ("runs/practise.jsonl", "there is no file runs/practise.jsonl: check the name"),
        ("practise.jsonl", 'there is no file practise.jsonl: did you mean "practice.jsonl"?'),
    ],
)
def test_another_name_is_a_file_that_is_not_there(
    name: str,
    told: str,
    capsys: pytest.CaptureFixture[str],
    practice_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "practice.jsonl").touch()
    assert main(["replay", "--fast", "--reference", name, str(practice_file)]) == 2
    assert capsys.readouterr().err == f"cornerword: --reference: {told}\n"


def test_a_capture_is_read_as_what_is_driven_and_json_lines_as_they_are(
    practice: Drive, practice_file: Path, tmp_path: Path
) -> None:
    """A file without a head does not say what it is made of."""
    source = chosen(None, layout_file(tmp_path))
    start = EngineStart("0", "layout", "none")
    packets = with_reference(start, str(capture(practice.rows, tmp_path / "drive.pcap")), None, source)
    lines = with_reference(start, str(practice_file), None, source)
    assert packets.origin == "drive.pcap" and lines.origin == "practice.jsonl"
    assert packets.reference is not None and lines.reference is not None
    assert packets.reference.total == lines.reference.total
    with pytest.raises(InputError, match=r"--reference: .*none of its datagrams could be read .*--layout"):
        with_reference(start, str(tmp_path / "drive.pcap"))
