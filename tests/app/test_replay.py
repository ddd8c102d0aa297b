"""Replay: the synthetic practice run in, its known laps and faults out."""

from __future__ import annotations

import gzip
import json
import time
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.reference import with_reference
from coach.app.source import Source
from coach.app.start import fresh
from coach.engine.start import EngineStart
from feeds.recording import RecordingWriter


def replayed(path: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(path)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


def of_type(events: list[dict[str, Any]], *kinds: str) -> list[dict[str, Any]]:
    return [event for event in events if event["type"] in kinds]


@pytest.fixture(scope="module")
def events(practice_file: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    return replayed(practice_file, tmp_path_factory.mktemp("log") / "events.jsonl")


def recorded(drive: Drive, path: Path, focus: tuple[str, ...] = ()) -> Path:
    """The drive as a live session would have recorded it, 1000 s into the computer's day."""
    with RecordingWriter(path, fresh(Source(), None, focus).head()) as writer:
        for row, data in zip(drive.rows, drive.datagrams(), strict=True):
            writer.datagram(1000.0 + row["t"], data)
    return path


def test_laps_are_timed_as_they_were_driven(events: list[dict[str, Any]], practice: Drive) -> None:
    laps = {event["lap"]: event for event in of_type(events, "lap")}
    for truth in practice.laps:
        assert laps[truth.lap]["time"] == pytest.approx(truth.time, abs=0.001)
    assert [laps[truth.lap]["clean"] for truth in practice.laps] == [False, True, True, True, True]
    assert laps[1]["why_not"] == ["standing_start"]


def corrections(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [cue for cue in of_type(events, "cue") if cue["kind"] == "correction"]


def test_both_mistakes_are_found_and_spoken_of(events: list[dict[str, Any]]) -> None:
    assert [(event["fault"], event["lap"]) for event in of_type(events, "fault")] == [
        ("late_throttle", 4),
        ("early_downshift", 5),
    ]
    cues = corrections(events)
    assert [(cue["about"], cue["spoken"]) for cue in cues] == [("late_throttle", True), ("early_downshift", True)]
    assert [cue["text"] for cue in of_type(events, "cue") if cue not in cues] == ["All within range"], "laps 1 to 3"


def test_the_log_is_in_order_of_t_and_begins_with_the_run(events: list[dict[str, Any]]) -> None:
    times = [event["t"] for event in events]
    assert times == sorted(times)
    assert events[0]["type"] == "run"
    assert events[0]["source"] == "generic" and events[0]["track"] == "loop-a"
    assert not of_type(events, "moment", "")


def test_the_same_bytes_twice(practice_file: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "1.jsonl", tmp_path / "2.jsonl"
    replayed(practice_file, first)
    replayed(practice_file, second)
    assert first.read_bytes() == second.read_bytes()


def test_a_recording_says_what_its_datagrams_say(practice: Drive, events: list[dict[str, Any]], tmp_path: Path) -> None:
    assert replayed(recorded(practice, tmp_path / "a.cwrec"), tmp_path / "log.jsonl") == events


def test_a_recordings_focus_is_kept_and_can_be_replaced(practice: Drive, tmp_path: Path) -> None:
    path = recorded(practice, tmp_path / "a.cwrec", focus=("early_downshift",))
    kept = corrections(replayed(path, tmp_path / "kept.jsonl"))
    assert [(cue["about"], cue["spoken"], cue["why_not"]) for cue in kept] == [
        ("late_throttle", False, "not in focus"),
        ("early_downshift", True, None),
    ]
    replaced = corrections(replayed(path, tmp_path / "replaced.jsonl", "--focus", "late_throttle"))
    assert [cue["spoken"] for cue in replaced] == [True, False]


def test_a_recording_carries_its_reference(
    practice: Drive, practice_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file that the reference came from may be gone when the recording is replayed."""
    path = tmp_path / "a.cwrec"
    with RecordingWriter(path, fresh(Source(), str(practice_file), ()).head()) as writer:
        for row, data in zip(practice.rows, practice.datagrams(), strict=True):
            writer.datagram(1000.0 + row["t"], data)
    carried = replayed(path, tmp_path / "carried.jsonl")
    given = replayed(practice_file, tmp_path / "given.jsonl", "--reference", str(practice_file))
    assert carried == given
    assert carried[0]["reference"] == "practice.jsonl"
    assert [lap["delta"] for lap in of_type(carried, "lap")][1] == pytest.approx(0.0, abs=0.001)


def test_the_reference_file_gives_all_that_its_run_showed(practice_file: Path) -> None:
    """Map, scatter and the usual marks too, and all of it goes into a recording's head and back."""
    start = with_reference(EngineStart("0", "generic", "none"), str(practice_file))
    assert start.reference is not None and start.circuit is not None
    assert start.usual and set(start.usual) <= {(corner, name) for corner, name, _ in start.scatter.to_json()}
    assert EngineStart.from_json(json.loads(json.dumps(start.to_json()))).to_json() == start.to_json()


def test_a_truncated_recording_replays_as_far_as_it_goes(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str], events: list[dict[str, Any]]
) -> None:
    whole = recorded(practice, tmp_path / "a.cwrec")
    cut = tmp_path / "cut.cwrec"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    laps = of_type(replayed(cut, tmp_path / "log.jsonl"), "lap")
    assert laps == of_type(events, "lap")[: len(laps)] and len(laps) >= 2
    out, err = capsys.readouterr()
    assert err.count("\n") == 1 and err.startswith(f"{cut} is cut short: ")
    assert f"{len(laps)} laps ended" in out


def test_a_truncated_gzip_of_datagrams_replays_as_far_as_it_goes(
    practice_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cut = tmp_path / "cut.jsonl.gz"
    data = gzip.compress(practice_file.read_bytes())
    cut.write_bytes(data[: len(data) // 2])
    assert of_type(replayed(cut, tmp_path / "log.jsonl"), "lap")
    assert capsys.readouterr().err.startswith(f"{cut} is cut short: ")


def test_events_to_standard_output_send_the_summary_to_standard_error(
    practice_file: Path, capsys: pytest.CaptureFixture[str], events: list[dict[str, Any]]
) -> None:
    assert main(["replay", "--fast", "--events", "-", str(practice_file)]) == 0
    out, err = capsys.readouterr()
    assert [json.loads(line) for line in out.splitlines()] == events
    assert "WHERE THE SECONDS ARE" in err


def test_what_cannot_be_read_in_a_file_is_counted_and_the_rest_replays(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "dirty.jsonl"
    rows = practice.datagrams()[:200]
    rows[50:50] = [b'{"t": "noon"}', b"[1, 2]", b"[" * 60_000]
    path.write_bytes(b"\n".join(rows))
    assert main(["replay", "--fast", str(path)]) == 0
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 3 and all(line.startswith("datagram dropped: ") for line in told)


def test_without_fast_it_takes_its_time_and_tells_laps_as_they_come(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    crossing = practice.laps[1].crossing
    rows = [row for row in practice.rows if abs(row["t"] - crossing) < 0.6]
    path = tmp_path / "line.jsonl"
    path.write_text("".join(json.dumps(row) + "\n" for row in rows))
    began = time.monotonic()
    assert main(["replay", str(path)]) == 0
    assert time.monotonic() - began >= rows[-1]["t"] - rows[0]["t"]


def test_a_recording_that_lost_its_head_says_so_and_replays(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole, lost = recorded(practice, tmp_path / "a.cwrec", ("late_throttle",)), tmp_path / "b.cwrec"
    lines = gzip.decompress(whole.read_bytes()).splitlines(keepends=True)
    lost.write_bytes(gzip.compress(b"".join(lines[1:])))
    found = replayed(lost, tmp_path / "lost.jsonl")
    told = capsys.readouterr().err
    assert "head" in told and "focus" in told
    assert {cue["about"] for cue in corrections(found) if cue["spoken"]} == {"late_throttle", "early_downshift"}
