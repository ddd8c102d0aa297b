"""A drive that came as binary packets: the recording's head holds the layout, and the same is said as of the generic
stream."""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import pytest
from make_stream import Drive, Row

from coach.app.cli import main
from coach.app.source import Source
from coach.app.start import fresh
from feeds.layout import layout_from_text, read_layout
from feeds.recording import RecordingWriter, open_recording
from feeds.registry import create

NUMBERS = (
    *("lap_time", "last_lap_time", "lap_distance", "track_length", "x", "y", "yaw", "yaw_rate", "speed", "vx", "vy"),
    *("ax", "ay", "throttle", "brake", "clutch", "steer", "engine_speed", "engine_speed_max", "edge_left"),
    *("edge_right", "car_width", "fuel"),
)
LABELS = ("session", "track", "car", "driver")
MOTION = struct.Struct(">2sBbId" + "d" * len(NUMBERS) + "4d")
SESSION = struct.Struct(">2sBxd" + "16s" * len(LABELS))


def label(name: str, offset: int) -> str:
    return f'{name} = {{ offset = {offset}, type = "text", length = 16 }}\n'


def number(name: str, offset: int) -> str:
    return f'{name} = {{ offset = {offset}, type = "f64" }}\n'


TEXT = f"""
layout = 1
name = "the drive of the tests"
byte_order = "big"
hold = 30
[[packet]]
name = "labels"
length = {SESSION.size}
match = [{{ offset = 0, text = "CW" }}, {{ offset = 2, type = "u8", is = 2 }}]
[packet.channels]
t = {{ offset = 4, type = "f64" }}
{"".join(label(name, 12 + 16 * i) for i, name in enumerate(LABELS))}
[[packet]]
name = "motion"
length = {MOTION.size}
match = [{{ offset = 0, text = "CW" }}, {{ offset = 2, type = "u8", is = 1 }}]
[packet.channels]
gear = {{ offset = 3, type = "i8" }}
lap = {{ offset = 4, type = "u32" }}
t = {{ offset = 8, type = "f64" }}
{"".join(number(name, 16 + 8 * i) for i, name in enumerate(NUMBERS))}
wheel_speed = {{ offset = {16 + 8 * len(NUMBERS)}, type = "f64" }}
"""


def packets(rows: list[Row]) -> list[tuple[float, bytes]]:
    """When they come, and what: one of labels each 20 s."""
    made = []
    for place, row in enumerate(rows):
        if place % 500 == 0:
            made.append((row["t"], SESSION.pack(b"CW", 2, row["t"], *(row[name].encode() for name in LABELS))))
        numbers = [row[name] for name in NUMBERS]
        packed = MOTION.pack(b"CW", 1, row["gear"], row["lap"], row["t"], *numbers, *row["wheel_speed"])
        made.append((row["t"], packed))
    return made


def events(path: Path, log: Path, *more: str) -> list[dict[str, Any]]:
    assert main(["replay", "--fast", "--events", str(log), *more, str(path)]) == 0
    return [json.loads(line) for line in log.read_text().splitlines()]


def test_samples_are_those_of_the_generic_stream(practice: Drive) -> None:
    feed = create("layout", layout_from_text(TEXT.encode()).to_json())
    generic = create("generic")
    made = [feed.decode(data, received) for received, data in packets(practice.rows[:1500])]
    assert [sample for sample in made if sample] == [generic.decode(data) for data in practice.datagrams()[:1500]]
    assert feed.left_out.total == 0


def test_a_recording_of_packets_replays_by_the_layout_in_its_head(practice: Drive, tmp_path: Path) -> None:
    file = tmp_path / "rig.toml"
    file.write_text(TEXT)
    layout = read_layout(file).to_json()
    rows = practice.rows[: len(practice.rows) // 2]
    binary, generic = tmp_path / "binary.cwrec", tmp_path / "generic.cwrec"
    with RecordingWriter(binary, fresh(Source("layout", layout), None, ()).head()) as writer:
        for received, data in packets(rows):
            writer.datagram(1000.0 + received, data)
    with RecordingWriter(generic, fresh(Source(), None, ()).head()) as writer:
        for row, data in zip(rows, practice.datagrams(), strict=False):
            writer.datagram(1000.0 + row["t"], data)
    file.unlink()
    head = open_recording(binary).head
    assert head is not None
    assert head["layout"] == layout
    ours, theirs = events(binary, tmp_path / "1.jsonl"), events(generic, tmp_path / "2.jsonl")
    assert (ours[0].pop("source"), theirs[0].pop("source")) == ("layout", "generic")
    assert ours == theirs
    assert [event["type"] for event in ours].count("lap") >= 2


def test_another_layout_may_be_named_for_a_recording(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, file = tmp_path / "binary.cwrec", tmp_path / "rig.toml"
    with RecordingWriter(path, fresh(Source(), None, ()).head()) as writer:
        for received, data in packets(practice.rows[:200]):
            writer.datagram(1000.0 + received, data)
    file.write_text(TEXT)
    assert events(path, tmp_path / "1.jsonl", "--layout", str(file))[0]["source"] == "layout"
    file.write_text(TEXT.replace("byte_order", "byteorder", 1))
    assert main(["replay", "--fast", "--layout", str(file), str(path)]) == 2
    assert "byteorder (line 4): there is no such key here; did you mean byte_order?" in capsys.readouterr().err


def test_packets_that_the_layout_does_not_fit_are_said(
    practice: Drive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, file = tmp_path / "binary.cwrec", tmp_path / "rig.toml"
    file.write_text(TEXT)
    made = packets(practice.rows[:3])
    for sent, what in (
        ([(t, data + b"x") for t, data in made], "none of its datagrams could be read (4 no packet of the layout)"),
        (made[:1], "no packet in it completes a sample"),
    ):
        path.unlink(missing_ok=True)
        with RecordingWriter(path, fresh(Source(), None, ()).head()) as writer:
            for received, data in sent:
                writer.datagram(1000.0 + received, data)
        assert main(["replay", "--fast", "--layout", str(file), str(path)]) == 2
        mend = "correct the layout, or give another with --layout"
        assert capsys.readouterr().err == f"cornerword: {path}: {what}: {mend}\n"
