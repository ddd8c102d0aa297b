"""`memory take` of a recording: kept as if it had been driven here."""

from __future__ import annotations

import io
import json
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.config import TakeOptions
from coach.app.console import Console
from coach.app.remembering.hand import take
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.stop import Stop
from coach.app.telling.progressbar import ProgressBar
from coach.store.memory import Memory
from feeds.recording import RecordingWriter
from tests.app.recorded import BEGAN, capture, layout_file, recorded

RATE = 12.5


@pytest.fixture(scope="module")
def rows(practice: Drive) -> list[dict[str, Any]]:
    """The first two laps and some of the third, every second row."""
    return practice.rows[: int((practice.laps[2].crossing + 8.0) * 2 * RATE) : 2]


@pytest.fixture(scope="module")
def lap(practice: Drive) -> list[dict[str, Any]]:
    """The first lap and some of the second."""
    return practice.rows[: int((practice.laps[1].crossing + 8.0) * 2 * RATE) : 2]


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path / "memory.sqlite"


def ran(capsys: pytest.CaptureFixture[str], memory: Path, *arguments: str, code: int = 0) -> str:
    assert main(["memory", "--memory", str(memory), *arguments]) == code
    captured = capsys.readouterr()
    assert (captured.err if code == 0 else captured.out) == ""
    return captured.out if code == 0 else captured.err.removeprefix("cornerword: ").removesuffix("\n")


def lines(rows: list[dict[str, Any]], path: Path) -> Path:
    path.write_text("".join(json.dumps(row) + "\n" for row in rows))
    return path


def test_a_recording(
    rows: list[dict[str, Any]], practice: Drive, memory: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = recorded(rows, Path("drive.cwrec"))
    told = ran(capsys, memory, "take", str(path))
    with Memory(memory) as opened:
        (row,) = opened.sessions()
        laps = opened.laps(row.id)
        kept = opened.session(row.id, grids=True)
    assert row.begun == pytest.approx(BEGAN + rows[0]["t"], abs=0.1) and row.whole
    when = datetime.fromtimestamp(row.begun).strftime("%Y-%m-%d %H:%M")
    best = min(lap.time for lap in laps if lap.clean and lap.time is not None)
    assert f"Taken: session 1 of {when}, {row.track}, {row.car}, " in told
    assert f"{len(laps)} laps, {row.clean} clean, best 1:0" in told and told.endswith(".\n")
    assert best == pytest.approx(practice.laps[1].time, abs=0.02)
    assert main(["replay", "--fast", "--events", "events.jsonl", str(path)]) == 0
    capsys.readouterr()
    events = [json.loads(line) for line in Path("events.jsonl").read_text().splitlines()]
    replayed = [(event["lap"], event["time"], event["clean"]) for event in events if event["type"] == "lap"]
    assert [(lap.number, None if lap.time is None else round(lap.time, 4), lap.clean) for lap in laps] == replayed
    assert sum(len(lap.faults) for lap in kept.laps) + len(kept.loose_faults) == sum(
        event["type"] == "fault" for event in events
    )
    assert all(lap.grid is not None for lap in kept.laps if lap.time is not None)
    assert ran(capsys, memory, "take", str(path), code=2) == (
        "drive.cwrec is kept already, as session 1: nothing was taken; to take it again, first "
        "`cornerword memory forget --session 1`"
    )
    ran(capsys, memory, "forget", "--session", "1")
    assert ran(capsys, memory, "take", str(path)).startswith("Taken: session 2 of ")


def test_lines_without_a_date_are_told_apart_by_their_laps(
    lap: list[dict[str, Any]], memory: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two files whose clock begins at the same place are two drives, if their laps differ."""
    one = lines(lap, Path("one.jsonl"))
    assert ran(capsys, memory, "take", str(one)).startswith("Taken: session 1, ")
    slower = [{**row, "t": lap[0]["t"] + 1.01 * (row["t"] - lap[0]["t"])} for row in lap]
    assert ran(capsys, memory, "take", str(lines(slower, Path("two.jsonl")))).startswith("Taken: session 2, ")
    assert "one.jsonl is kept already, as session 1" in ran(capsys, memory, "take", str(one), code=2)
    assert "  -  " in ran(capsys, memory, "sessions")


def test_packets_by_a_layout(lap: list[dict[str, Any]], memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = capture(lap, Path("drive.pcap"))
    assert "--layout" in ran(capsys, memory, "take", str(path), code=2)
    assert main(["memory", "--memory", str(memory), "take", str(path), "--layout", str(layout_file(Path()))]) == 0
    captured = capsys.readouterr()
    assert captured.out.startswith("Taken: session 1 of ") and "a track without a name" in captured.out
    assert captured.err.startswith("drive.pcap is a capture, without a head: ")


def test_corners_keep_the_numbers_that_they_have_here(
    lap: list[dict[str, Any]], memory: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = recorded(lap, Path("drive.cwrec"))
    ran(capsys, memory, "take", str(path))
    with closing(sqlite3.connect(memory)) as by_hand, by_hand:
        ((track, body),) = by_hand.execute("SELECT track, body FROM circuit").fetchall()
        plain = json.loads(body)
        for mark in plain["marks"]:
            mark["corner"] += 20
        by_hand.execute("UPDATE circuit SET body = ? WHERE track = ?", (json.dumps(plain), track))
        by_hand.execute("DELETE FROM session")
    ran(capsys, memory, "take", str(path))
    with Memory(memory) as opened:
        kept = opened.session(opened.sessions()[0].id)
    assert kept.corners and {mark.corner for mark in kept.corners} == {mark["corner"] for mark in plain["marks"]}


def test_stopped_half_way_nothing_is_kept(
    rows: list[dict[str, Any]], memory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, stop, shares = recorded(rows, Path("drive.cwrec")), Stop(), []

    def at(bar: ProgressBar, share: float) -> None:
        shares.append(share)
        stop.asked = len(shares) > 15

    monkeypatch.setattr(ProgressBar, "at", at)
    with pytest.raises(KeyboardInterrupt):
        take(TakeOptions(file=path, memory=memory), Console(io.StringIO()), stop)
    assert len(shares) == 16 and 0.0 <= shares[0] <= shares[-1] < 1.0
    with Memory(memory) as opened:
        assert opened.sessions() == [] and opened.recall(None, "car-a", "loop-a").known is not None


def test_what_is_no_drive(memory: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with RecordingWriter(Path("empty.cwrec"), fresh(Source(), None, ()).head()):
        pass
    assert "empty.cwrec: it holds no datagram" in ran(capsys, memory, "take", "empty.cwrec", code=2)
    assert ran(capsys, memory, "take", "empty.cwrec", "--name", "x", code=2) == (
        "--name: names a lap that was handed on, and this is a recording: leave it out"
    )
    assert not memory.exists()
