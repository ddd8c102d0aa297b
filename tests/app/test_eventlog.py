"""The event log as a file: what goes wrong costs the log, never the session."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.app.eventlog import EventLog
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Delta, Stream


def test_one_event_a_line_in_plain_ascii(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    log = EventLog(str(path), pytest.fail)
    log.take(Stream(1.23456, 2, "lost\ud800\n", None, None))
    log.take(Delta(2.0, 2, 10.126, -0.00004, None))
    log.close()
    lines = path.read_bytes().splitlines()
    assert len(lines) == 2
    assert json.loads(lines[0])["what"] == "lost\ud800\n"
    assert json.loads(lines[1]) == {
        "type": "delta",
        "t": 2.0,
        "lap": 2,
        "distance": 10.13,
        "delta": 0.0,
        "predicted": None,
    }


def test_a_written_line_reaches_the_disk_before_the_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr("coach.app.eventlog.monotonic", lambda: now[0])
    path = tmp_path / "events.jsonl"
    log = EventLog(str(path), pytest.fail)
    log.take(Stream(1.0, 1, "pit", None, None))
    now[0] += 1.0
    log.tick()
    assert path.read_text().count("\n") == 1
    log.close()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full disk to offer")
def test_a_full_disk_is_told_once_and_ends_the_log() -> None:
    told: list[str] = []
    log = EventLog("/dev/full", told.append)
    for lap in range(2000):
        log.take(Delta(float(lap), lap, 1.0, 0.5, None))
    log.close()
    assert log.gone
    assert told == ["event log: writing to /dev/full failed (No space left on device)"]


def test_a_number_that_json_does_not_know_ends_the_log_and_not_the_session(tmp_path: Path) -> None:
    told: list[str] = []
    log = EventLog(str(tmp_path / "events.jsonl"), told.append)
    log.take(Delta(1.0, 1, float("nan"), 0.5, None))
    log.take(Delta(1.1, 1, 1.0, 0.5, None))
    log.close()
    assert len(told) == 1 and "event log" in told[0]


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--events: cannot write"):
        EventLog(str(tmp_path), pytest.fail)


def test_what_is_on_the_disk_ends_with_a_whole_line(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    log = EventLog(str(path), pytest.fail)
    for lap in range(3000):  # some hundred kilobytes between two flushes
        log.take(Delta(float(lap), lap, 1.0, 0.5, None))
        assert path.read_bytes() == b""
    log.close()
    assert path.read_bytes().endswith(b"\n")
