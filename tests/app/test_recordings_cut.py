"""`cut`: the laps asked for, timed as in the whole recording, with what was pressed in its place."""

from __future__ import annotations

import gzip
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive, without

from coach.app.cli import main
from coach.app.cut import LEAD, RUN_OUT
from coach.app.source import Source
from coach.app.start import fresh
from feeds.base import Datagram
from feeds.recording import ActionLine, EndLine, RecordingWriter, SilenceLine, open_recording
from tests.app.recorded import BEGAN, capture, layout_file, recorded

RATE = 12.5


@pytest.fixture(scope="module")
def drive(practice: Drive) -> Drive:
    """The practice run, every second row: five laps, a mistake in lap 4 and one in lap 5; lap 0 before, 6 begun."""
    return replace(practice, rows=practice.rows[::2])


@pytest.fixture(scope="module")
def whole(drive: Drive, practice_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cut") / "whole.cwrec"
    middle = int((drive.laps[1].crossing + 20.0) * RATE)
    return recorded(drive.rows, path, practice_file, {5: ("mute", "driver"), middle: ("mark", "instructor")})


def log_of(path: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(path)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


@pytest.fixture(scope="module")
def log(whole: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    """What a replay of the whole recording says."""
    return log_of(whole, tmp_path_factory.mktemp("log") / "whole.jsonl")


def laps_of(events: list[dict[str, Any]]) -> dict[int, tuple[float, bool]]:
    return {event["lap"]: (event["time"], event["clean"]) for event in events if event["type"] == "lap"}


def faults_of(events: list[dict[str, Any]], lap: int) -> list[tuple[str, int]]:
    return [(e["fault"], e["corner"]) for e in events if e["type"] == "fault" and e["lap"] == lap]


@pytest.mark.parametrize(("laps", "numbers"), [("4-5", [4, 5]), ("3", [3])])
def test_its_laps_have_the_same_times_and_faults(
    laps: str,
    numbers: list[int],
    whole: Path,
    log: list[dict[str, Any]],
    drive: Drive,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """With the reference in the head all is judged as it was; what the driver's scatter had taught by then is not."""
    to = tmp_path / "cut.cwrec"
    assert main(["cut", str(whole), str(to), "--laps", laps]) == 0
    told = capsys.readouterr().out
    before, after = log, log_of(to, tmp_path / "b.jsonl")
    assert list(laps_of(after)) == numbers
    for number in numbers:
        assert laps_of(after)[number] == laps_of(before)[number]
        assert laps_of(after)[number][0] == pytest.approx(drive.laps[number - 1].time, abs=0.002)
        assert faults_of(after, number) == faults_of(before, number)
        assert (faults_of(after, number) != []) == (number > 3)
        assert f"{number:5d}    1:0" in told
    assert "differ" not in told and "reference" not in told


def test_it_has_the_same_head_and_the_same_items_in_their_places(whole: Path, drive: Drive, tmp_path: Path) -> None:
    to = tmp_path / "cut.cwrec"
    assert main(["cut", str(whole), str(to), "--laps", "2"]) == 0
    one, other = open_recording(whole), open_recording(to)
    items, all_items = list(other), list(one)
    assert other.head == one.head
    assert other.truncated is None
    first = all_items.index(items[0])
    assert items[:-1] == all_items[first : first + len(items) - 1]
    assert isinstance(items[-1], EndLine) and items[-1].received == items[-2].received
    begins, ends = BEGAN + drive.laps[1].crossing, BEGAN + drive.laps[2].crossing
    assert begins - items[0].received == pytest.approx(LEAD, abs=2 / RATE)
    assert items[-1].received - ends == pytest.approx(RUN_OUT, abs=2 / RATE)
    assert [item.action for item in items if isinstance(item, ActionLine)] == ["mark"]
    assert [item.by for item in items if isinstance(item, ActionLine)] == ["instructor"]


def test_from_the_first_lap_it_begins_with_the_recording(
    whole: Path, log: list[dict[str, Any]], tmp_path: Path
) -> None:
    to = tmp_path / "cut.cwrec"
    assert main(["cut", str(whole), str(to), "--laps", "0-1"]) == 0
    assert next(iter(open_recording(to))) == next(iter(open_recording(whole)))
    after = log_of(to, tmp_path / "b.jsonl")
    assert laps_of(after) == {number: lap for number, lap in laps_of(log).items() if number <= 1}


def test_of_datagrams_line_by_line(drive: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """They become a recording, and the reference is found anew in it, which is said."""
    lines, to = tmp_path / "a.jsonl.gz", tmp_path / "cut.cwrec"
    lines.write_bytes(gzip.compress(b"".join(data + b"\n" for data in drive.datagrams())))
    assert main(["cut", str(lines), str(to), "--laps", "3"]) == 0
    assert "what came before the cut is not measured by" in capsys.readouterr().out
    laps = laps_of(log_of(to, tmp_path / "b.jsonl"))
    assert laps == {3: laps_of(log_of(lines, tmp_path / "a.jsonl"))[3]}
    sent = set(drive.datagrams())
    assert all(item.data in sent for item in open_recording(to) if isinstance(item, Datagram))


def test_a_stream_without_a_line_of_its_own_says_why_times_differ(
    drive: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From positions alone the engine lays the line where the driving begins, which in the cut is elsewhere."""
    names = ("lap", "lap_time", "last_lap_time", "lap_distance", "track_length")
    rows = without([row for row in drive.rows if row["t"] < drive.laps[2].crossing + 20.0], *names)
    source, to = recorded(rows, tmp_path / "a.cwrec"), tmp_path / "cut.cwrec"
    assert main(["cut", str(source), str(to), "--laps", "1"]) == 0
    text = capsys.readouterr().out
    assert "    1    1:0" in text
    assert "The stream tells neither lap nor distance, so a replay lays the line where the driving begins.\n" in text


def test_of_a_capture_with_a_layout(drive: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The cut keeps the layout in its head, so that it replays without one."""
    source, layout, to = capture(drive.rows, tmp_path / "a.pcap"), layout_file(tmp_path), tmp_path / "cut.cwrec"
    assert main(["cut", str(source), str(to), "--laps", "2", "--layout", str(layout)]) == 0
    whole = log_of(source, tmp_path / "a.jsonl", "--layout", str(layout))
    assert whole[0]["source"] == "layout"
    assert laps_of(log_of(to, tmp_path / "b.jsonl")) == {2: laps_of(whole)[2]}
    assert laps_of(whole)[2][0] == pytest.approx(drive.laps[1].time, abs=0.002)


def test_a_capture_is_replayed_from_a_lap(drive: Drive, tmp_path: Path) -> None:
    source, layout = capture(drive.rows, tmp_path / "a.pcap"), layout_file(tmp_path)
    more = ("--layout", str(layout), "--port", "26763", "--from-lap", "3")
    part = log_of(source, tmp_path / "part.jsonl", *more)
    whole = log_of(source, tmp_path / "whole.jsonl", "--layout", str(layout))
    assert set(laps_of(part)) <= {2, 3, 4, 5} and 3 in laps_of(part)
    assert part[-3:] == whole[-3:]


def test_silences_are_kept(drive: Drive, tmp_path: Path) -> None:
    path = tmp_path / "a.cwrec"
    rows = [row for row in drive.rows if not 90.0 < row["t"] < 95.0]
    with RecordingWriter(path, fresh(Source(), None, ()).head()) as writer:
        last = [row for row in rows if row["t"] <= 90.0][-1]
        for row in rows:
            writer.datagram(BEGAN + row["t"], json.dumps(row).encode())
            if row is last:
                writer.silence(BEGAN + 92.1)
    to = tmp_path / "cut.cwrec"
    assert main(["cut", str(path), str(to), "--laps", "2"]) == 0
    assert [item.received for item in open_recording(to) if isinstance(item, SilenceLine)] == [BEGAN + 92.1]


def test_a_number_that_occurs_twice_is_the_first_one(drive: Drive, tmp_path: Path) -> None:
    """The car was put back to lap 1 behind lap 2."""
    ends = drive.laps[2].crossing
    first = [row for row in drive.rows if row["t"] < ends + 5.0]
    again = [row | {"t": round(row["t"] + 200.0, 3)} for row in drive.rows if row["lap"] >= 1]
    source, to = recorded([*first, *again], tmp_path / "a.cwrec"), tmp_path / "cut.cwrec"
    assert main(["cut", str(source), str(to), "--laps", "2"]) == 0
    times = [item.received - BEGAN for item in open_recording(to)]
    assert times[0] < drive.laps[1].crossing < ends < times[-1] < ends + RUN_OUT + 0.1


@pytest.mark.parametrize(
    ("laps", "message"),
    [
        ("8", "there is no lap 8 in {file}: it has 0, 1, 2, 3, 4, 5, 6"),
        ("2-9", "there is no lap 9 in {file}: it has 0, 1, 2, 3, 4, 5, 6"),
        ("3-2", 'needs a lap or the first and the last, for example 3 or 2-4, not "3-2"'),
        ("two", 'needs a lap or the first and the last, for example 3 or 2-4, not "two"'),
        ("-1", 'needs a lap or the first and the last, for example 3 or 2-4, not "-1"'),
    ],
)
def test_laps_that_it_does_not_have(
    laps: str, message: str, drive: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, to = recorded(drive.rows[::10], tmp_path / "a.cwrec"), tmp_path / "cut.cwrec"
    assert main(["cut", str(source), str(to), f"--laps={laps}"]) == 2
    assert capsys.readouterr().err == f"cornerword: --laps: {message.format(file=source)}\n"
    assert not to.exists()


def test_nothing_is_written_over(whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    to = tmp_path / "there.cwrec"
    to.write_text("kept")
    assert main(["cut", str(whole), str(to), "--laps", "2"]) == 2
    assert capsys.readouterr().err == f"cornerword: {to} exists already: choose another name, or move it away\n"
    assert to.read_text() == "kept"
    assert main(["cut", str(whole), str(tmp_path / "no" / "a.cwrec"), "--laps", "2"]) == 2
    assert "there is no folder" in capsys.readouterr().err
