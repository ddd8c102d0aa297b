"""`inspect` and `recordings`: what is whole is called whole, and damage is named with its place in time."""

from __future__ import annotations

import gzip
import os
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from make_stream import Drive

from coach.app.cli import main
from coach.app.source import Source
from coach.app.start import fresh
from coach.app.tables.reading import MOST_LABELS, Reader
from coach.app.telling.numbers import date_of, size_of, span_of
from feeds.base import Datagram
from feeds.recording.zipped import MEMBER_HEAD
from tests.app.recorded import BEGAN, capture, layout_file, recorded
from tests.feeds.captures import pcap, stream

RATE = 12.5


@pytest.fixture(scope="module")
def drive(practice: Drive) -> Drive:
    """Two laps of the practice run and a bit, every second row."""
    rows = [row for row in practice.rows[::2] if row["t"] < practice.laps[2].crossing + 5.0]
    return replace(practice, rows=rows, laps=practice.laps[:2])


@pytest.fixture(scope="module")
def whole(drive: Drive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("inspect") / "whole.cwrec"
    rows = [row for row in drive.rows if not 30.0 < row["t"] < 31.5]
    rows.insert(400, rows[399])
    return recorded(rows, path, None, {150: ("mark", "driver"), 300: ("topic late_throttle", "instructor")})


@pytest.fixture(autouse=True)
def utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def damaged(whole: Path, path: Path, *members: int) -> Path:
    """The same with one byte changed in these gzip members."""
    data = bytearray(whole.read_bytes())
    places = [found.start() for found in re.finditer(re.escape(MEMBER_HEAD), data)]
    for member in members:
        data[places[member] + 150] ^= 0x10
    path.write_bytes(data)
    return path


class TestInspect:
    def test_all_there_is_to_know(self, whole: Path, drive: Drive, capsys: pytest.CaptureFixture[str]) -> None:
        text = said(capsys, "inspect", str(whole))
        assert max(map(len, text.splitlines()[1:])) <= 80
        assert text.splitlines()[1].startswith("2025-06-15 15:06, 2:")
        assert text.splitlines()[2] == "It is whole."
        assert "  feed       generic\n" in text
        assert re.search(r"  [\d,]+ datagrams of \d+ to \d+ bytes, 12\.\d a second\n", text)
        assert re.search(r"  silence of 1\.\d s at 30\.0 s\n", text)
        assert "the stream: duplicate 1, gap 1\n" in text
        assert "  jitter 0.0 ms, at worst 0.0 ms" in text
        assert "wheel_speed" in text and "tyre_temp" not in text
        assert "  on loop-a, car-a\n  driver driver-a\n" in text
        assert re.search(r"    1           -   gap, standing start\n    2    1:03\.\d{3}   clean, best\n", text)
        times = f"{150 / RATE:.1f} s   mark\n", f"{300 / RATE:.1f} s   topic late throttle, by the instructor\n"
        assert all(time in text for time in times)

    def test_damage_is_named_with_its_time_and_what_becomes_of_it(
        self, whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        text = said(capsys, "inspect", str(damaged(whole, tmp_path / "a.cwrec", 5, 100)))
        assert "It is damaged, but can be read:" in text
        found = re.findall(r"  - damaged between (\S+)(?: s)? and (\S+)(?: s)?: (\S+) s left out", text)
        assert len(found) == 2
        assert 2.0 < float(found[0][0]) < float(found[0][1]) < 7.0
        assert 0.8 < float(found[0][2]) < 1.1
        assert found[1][0].startswith("1:")
        assert "`cut` writes laps that are whole" in " ".join(text.split())

    def test_one_that_was_cut_short(self, whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        path = tmp_path / "a.cwrec"
        path.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
        text = said(capsys, "inspect", str(path))
        assert re.search(r"  - it is cut short behind 1:\d\d\n", text)
        assert "not closed" not in text

    def test_one_that_was_not_closed(self, whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        path, data = tmp_path / "a.cwrec", whole.read_bytes()
        path.write_bytes(data[: data.rfind(MEMBER_HEAD)])
        text = said(capsys, "inspect", str(path))
        assert "It can be read, but not all is there:\n  - it was not closed in good order" in text

    def test_a_head_that_is_lost(self, whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        text = said(capsys, "inspect", str(damaged(whole, tmp_path / "a.cwrec", 0)))
        assert "  - its head is lost, with the reference, focus and feed in it\n" in text
        assert "HEAD" not in text and "clean, best" in text

    def test_a_head_that_says_nonsense(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        path = tmp_path / "a.cwrec"
        head = b'{"format":"cornerword recording","version":1,"source":"generic","engine":7}\n'
        path.write_bytes(gzip.compress(head + b'{"received":1.0,"text":"{\\"t\\":1}"}\n{"received":2.0,"end":true}\n'))
        assert "HEAD\nIt cannot be used: " in said(capsys, "inspect", str(path))

    def test_packets_that_are_not_known(self, drive: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """Without their layout what came is told all the same."""
        path = capture(drive.rows, tmp_path / "a.pcap")
        text = said(capsys, "inspect", str(path))
        assert f"{len(drive.rows):,} datagrams of 87 bytes, 12.5 a second" in text
        assert "could not be read: " in text and "none: no datagram could be read" in text
        assert "  from 192.0.2.7:40000\n" in text
        text = said(capsys, "inspect", str(path), "--layout", str(layout_file(tmp_path)))
        assert "engine_speed" in text and "clean, best" in text

    def test_packets_that_were_cut_short(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        path = tmp_path / "a.pcap"
        path.write_bytes(pcap(stream([bytes(200)] * 3), snap=96))
        assert main(["inspect", str(path)]) == 2
        assert capsys.readouterr().err.splitlines()[-1] == (
            f"cornerword: {path} holds no datagram that can be read (3 cut short by the capture): "
            "capture the simulator's port again, with whole packets"
        )

    def test_a_newer_version_or_no_recording_is_one_line(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "a.cwrec"
        path.write_bytes(b'{"format":"cornerword recording","version":2}\n')
        assert main(["inspect", str(path)]) == 2
        assert "is a recording of version 2, and this program reads up to 1" in capsys.readouterr().err
        path.write_bytes(b'{"format":"cornerword recording","version":1,"source":"generic"}\n')
        assert main(["inspect", str(path)]) == 2
        error = capsys.readouterr().err
        assert "holds no datagram that can be read" in error and error.count("\n") == 1

    def test_what_a_file_says_cannot_harm_the_terminal(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "a\x1b[2J.cwrec"
        head = b'{"format":"cornerword recording","version":1,"source":"generic\\u001b[2J"}\n'
        line = b'{"received":1.0,"text":"{\\"t\\":1,\\"track\\":\\"\\\\u001b[2J\\"}"}\n'
        path.write_bytes(head + line + b'{"received":1.5,"action":"\\u001b[2J","by":"\\u001b"}\n')
        main(["inspect", str(path)])
        main(["recordings", str(tmp_path)])
        captured = capsys.readouterr()
        assert "\x1b" not in captured.out + captured.err


class TestRecordings:
    def test_each_file_of_a_folder(
        self, whole: Path, drive: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        os.link(whole, tmp_path / "b.cwrec")
        short = drive.rows[: int(30 * RATE)]
        (tmp_path / "c.jsonl").write_bytes(b"".join(data + b"\n" for data in drive.datagrams()[: len(short)]))
        capture(short, tmp_path / "d.pcap")
        damaged(whole, tmp_path / "e.cwrec", 3)
        (tmp_path / "a.cwrec").write_bytes(b"no recording")
        (tmp_path / "notes.txt").write_text("no recording either")
        (tmp_path / "folder.cwrec").mkdir()
        blocks = said(capsys, "recordings", str(tmp_path)).splitlines()
        names = [line for line in blocks if not line.startswith(" ")]
        assert names == ["a.cwrec", "b.cwrec", "c.jsonl", "d.pcap", "e.cwrec"]
        after = {name: blocks[blocks.index(name) + 1 :][:3] for name in names}
        assert "is not a recording" in after["a.cwrec"][0]
        assert re.fullmatch(r"  2025-06-15 15:06, 2:\d\d, \d+ kB, whole", after["b.cwrec"][0])
        assert after["b.cwrec"][1] == "  loop-a, car-a, driver-a"
        assert re.fullmatch(r"  2 laps, 1 clean, best 1:03\.\d{3} \(lap 2\)", after["b.cwrec"][2])
        assert re.fullmatch(r"  29\.9 s, \d+ kB, whole", after["c.jsonl"][0])
        assert after["c.jsonl"][2] == "  0 laps, 0 clean"
        assert after["d.pcap"][1] == "  375 datagrams of an unknown kind: `inspect` it with --layout"
        assert after["e.cwrec"][0].endswith("damaged")

    def test_a_long_look_says_how_far_it_is(
        self, whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """One file alone may take long."""
        os.link(whole, tmp_path / "b.cwrec")
        monkeypatch.setattr("coach.app.recordings.PROGRESS", 0.05)
        assert main(["recordings", str(tmp_path)]) == 0
        assert capsys.readouterr().err.count("looking into 1 of 1: b.cwrec\n") >= 2

    def test_an_empty_folder_and_none(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert said(capsys, "recordings", str(tmp_path)).startswith(f"There is no recording in {tmp_path}: no file")
        assert main(["recordings", str(tmp_path / "none")]) == 2
        assert capsys.readouterr().err == f"cornerword: there is no folder {tmp_path / 'none'}: check the name\n"
        (tmp_path / "a.cwrec").write_text("x")
        assert main(["recordings", str(tmp_path / "a.cwrec")]) == 2
        assert "is no folder: name the folder, or say `cornerword inspect" in capsys.readouterr().err

    def test_its_laps_are_those_of_a_replay(self, whole: Path, capsys: pytest.CaptureFixture[str]) -> None:
        summary = said(capsys, "replay", "--fast", str(whole))
        laps = re.findall(r"^ {4}\d +(?:-|1:0\d\.\d{3}) ", summary, re.M)
        assert len(laps) == 2
        text = said(capsys, "inspect", str(whole))
        assert all(lap in text for lap in laps)
        assert f"best {laps[1].split()[1]} (lap 2)" in said(capsys, "recordings", str(whole.parent))


def test_names_may_come_behind_the_first_samples() -> None:
    """Another kind of packet holds them, which comes once a second."""
    reader = Reader(fresh(Source(), None, ()), [])
    assert reader.driven() == []
    track, rest = ',"track":"Quarry Ring"', ',"car":"Hare 1200","driver":"x"'
    for t, more in enumerate(["", "", track, track + rest]):
        reader.take(Datagram(t / 50.0, f'{{"t":{t / 50.0}{more}}}'.encode()))
        if t == 1:
            assert reader.driven() == ["a track without a name, a car without a name"]
    assert (reader.driven(), reader.driver) == (["Quarry Ring, Hare 1200"], "x")
    for t in range(4, 2000):
        reader.take(Datagram(t / 50.0, f'{{"t":{t / 50.0},"track":"Quarry Ring","car":"{t}"}}'.encode()))
    assert len(reader.driven()) < MOST_LABELS


def test_dates_and_spans_of_any_clock() -> None:
    assert [date_of(time) for time in (0.0, -1.0, float("nan"), 1e300)] == [None] * 4
    assert date_of(BEGAN) == "2025-06-15 15:06"
    assert [span_of(s) for s in (0.0, 59.94, 60.0, 3599.6, 3727.0)] == ["0.0 s", "59.9 s", "1:00", "1:00:00", "1:02:07"]
    assert [size_of(n) for n in (999, 1000, 999_499, 1_000_000)] == ["999 bytes", "1 kB", "999 kB", "1.0 MB"]
