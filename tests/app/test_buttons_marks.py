"""Moments that were marked: in the summary, and as a place for a replay to begin at."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.summary import MARKS, Summary
from coach.app.telling.lines import WIDTH
from coach.vocabulary.events import Action, CornerMark, Corners, Run
from coach.vocabulary.trace import LapTrace
from feeds.recording import RecordingWriter

TRACE = LapTrace(1000.0, 500.0, [0.0, 10.0, 20.0], [50.0] * 3, [1.0] * 3, [0.0] * 3, [0.0] * 3)
RUN = Run(0.0, 0, "0.1.0", "generic", "loop-a", "car-a", None, "en-us-175")
CORNERS = Corners(
    60.0,
    1,
    "a-map",
    (
        CornerMark(1, "left", 100.0, 150.0, 180.0, 220.0, (180.0,)),
        CornerMark(2, "right", 500.0, 560.0, 600.0, 650.0, (600.0,)),
        CornerMark(3, "left", 940.0, 970.0, 990.0, 20.0, (990.0,)),
    ),
    TRACE,
)


def marked(*events: Any) -> list[str]:
    """The block of the summary; none is []."""
    summary = Summary()
    for event in events:
        summary.take(event)
    text = summary.text()
    assert all(len(line) <= WIDTH for line in text.splitlines())
    blocks = [block for block in text.split("\n\n") if block.startswith("MARKED")]
    return blocks[0].rstrip("\n").splitlines() if blocks else []


def mark(distance: float | None, lap: int = 2) -> Action:
    return Action(70.0, lap, "mark", distance)


def test_each_mark_with_its_lap_its_place_and_the_nearest_corner() -> None:
    """Corner 3 ends behind the line; the map is known after the first mark."""
    places = [50.0, 100.0, 219.9, 300.0, 400.0, 640.0, 900.0, 990.0, 10.0, 30.0, None]
    assert marked(RUN, mark(places[0], 0), CORNERS, *map(mark, places[1:]), Action(70.0, 2, "repeat", 5.0)) == [
        "MARKED",
        "   no.   lap   from the line   where",
        "     1     0            50 m   30 m behind turn 3",
        "     2     2           100 m   in turn 1",
        "     3     2           220 m   in turn 1",
        "     4     2           300 m   80 m behind turn 1",
        "     5     2           400 m   100 m before turn 2",
        "     6     2           640 m   in turn 2",
        "     7     2           900 m   40 m before turn 3",
        "     8     2           990 m   in turn 3",
        "     9     2            10 m   in turn 3",
        "    10     2            30 m   10 m behind turn 3",
        "    11     2               -   -",
    ]


def test_without_a_map_and_on_a_circuit_without_corners() -> None:
    assert marked(RUN, mark(50.0))[2:] == ["     1     2            50 m   -"]
    oval = Corners(60.0, 1, "a-map", (), TRACE)
    assert marked(RUN, oval, mark(50.0))[2:] == ["     1     2            50 m   -"]
    assert marked(RUN, CORNERS) == []


def test_a_map_holds_for_its_own_run() -> None:
    lines = marked(RUN, CORNERS, mark(180.0), RUN, mark(180.0))[2:]
    assert lines == ["     1     2           180 m   in turn 1", "     2     2           180 m   -"]


def test_of_many_marks_the_first_are_listed() -> None:
    lines = marked(RUN, *(mark(float(number)) for number in range(MARKS + 3)))
    assert len(lines) == 2 + MARKS + 1 and lines[-1] == "   and 3 more"


AT = (1000, 4100, 5200)
"""rows of the practice drive before which the marks come"""


@pytest.fixture(scope="module")
def recording(practice: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("marks") / "marked.cwrec"
    with RecordingWriter(path, fresh(Source(), None, ()).head()) as writer:
        for row, datagram in enumerate(practice.datagrams()):
            received = 1000.0 + practice.rows[row]["t"]
            if row in AT:
                writer.action(received, "mark")
            if row == AT[0] + 50:
                writer.action(received, "repeat")
            writer.datagram(received, datagram)
    return path


def log_of(log: Path, *more: str | Path) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *map(str, more)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


@pytest.fixture(scope="module")
def whole(recording: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    return log_of(tmp_path_factory.mktemp("marks") / "whole.jsonl", recording)


@pytest.mark.parametrize(("number", "lead"), [(1, None), (2, None), (3, 3.0)])
def test_a_replay_begins_before_a_mark(
    number: int, lead: float | None, recording: Path, whole: list[dict[str, Any]], practice: Drive, tmp_path: Path
) -> None:
    more = [] if lead is None else ["--lead", str(lead)]
    part = log_of(tmp_path / "part.jsonl", "--before-mark", str(number), *more, recording)
    marks = [event for event in whole if event.get("action") == "mark"]
    assert [event["t"] for event in marks] == [pytest.approx(practice.rows[row - 1]["t"], abs=1e-4) for row in AT]
    begins = marks[number - 1]["t"] - (10.0 if lead is None else lead)
    rest = [event for event in whole if event["t"] >= begins]
    assert part[-len(rest) :] == rest
    assert {event["type"] for event in part[: -len(rest)]} <= {"run", "reference", "corners", "detector"}


def test_a_mark_knows_where_it_was_set(whole: list[dict[str, Any]], practice: Drive) -> None:
    """`distance` is that of the last sample before it, by the stream itself."""
    for event, row in zip([event for event in whole if event.get("action") == "mark"], AT, strict=True):
        assert event["distance"] == pytest.approx(practice.rows[row - 1]["lap_distance"], abs=0.01)
        assert event["lap"] == practice.rows[row - 1]["lap"]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (
            ["--before-mark", "9"],
            "--before-mark: there is no mark 9 in FILE, 3 marks were set in it: give a number",
        ),
        (["--before-mark", "0"], "--before-mark: needs a mark's number, counted from 1, not '0'"),
        (["--before-mark", "1", "--from-lap", "2"], "--before-mark and --from-lap are two places to begin at: leave"),
        (["--before-cue", "1", "--before-mark", "2"], "--before-cue and --before-mark are two places to begin at: "),
    ],
)
def test_a_wrong_mark_is_one_line(
    more: list[str], told: str, recording: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", "--fast", "--events", str(tmp_path / "log"), *more, str(recording)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1
    assert err.startswith(f"cornerword: {told.replace('FILE', str(recording))}")


def test_a_recording_without_marks(practice_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", "--before-mark", "1", "--fast", "--events", str(tmp_path / "log"), str(practice_file)]) == 2
    assert f"there is no mark 1 in {practice_file}, no mark was set in it\n" in capsys.readouterr().err
