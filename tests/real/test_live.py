"""The real command in a process of its own, fed through real UDP on loopback."""

from __future__ import annotations

import json
import re
import signal
import sys
import time
from pathlib import Path

import pytest
from make_stream import Drive
from sending import sender

from coach.app.cli import main
from tests.real.command import caught_up, running, send, spoken_for

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGINT for another process")


def test_a_drive_says_what_the_replay_says_and_so_does_its_recording(
    practice: Drive, expected: list[str], tmp_path: Path
) -> None:
    live, again, recording = tmp_path / "live.jsonl", tmp_path / "again.jsonl", tmp_path / "drive.cwrec"
    datagrams = practice.datagrams()
    with running("drive", "--events", live, "--record", recording) as command, sender(command.port) as source:
        send(source, datagrams)
        caught_up(live, datagrams[-1])
        assert command.end() == 0
    assert spoken_for(live) == expected
    assert "telemetry from 127.0.0.1:" in command.err and "dropped" not in command.err
    assert 'lap 4  "Throttle sooner"' in command.err
    assert "5 laps ended, 4 clean" in command.out
    assert main(["replay", "--fast", "--events", str(again), str(recording)]) == 0
    assert again.read_bytes() == live.read_bytes()


def test_what_is_passed_on_is_coached_alike_on_the_other_computer(
    practice: Drive, expected: list[str], tmp_path: Path
) -> None:
    here, there = tmp_path / "here.jsonl", tmp_path / "there.jsonl"
    datagrams = practice.datagrams()
    with running("drive", "--events", there) as other:
        target = f"127.0.0.1:{other.port}"
        with running("drive", "--events", here, "--pass-on", target) as command, sender(command.port) as source:
            send(source, datagrams)
            for log in (here, there):
                caught_up(log, datagrams[-1])
            assert command.end() == 0
        assert other.end() == 0
    assert spoken_for(here) == spoken_for(there) == expected


def test_garbage_and_a_flood_from_another_port_do_not_disturb(
    practice: Drive, expected: list[str], tmp_path: Path
) -> None:
    live = tmp_path / "live.jsonl"
    datagrams = practice.datagrams()
    with running("drive", "--events", live) as command, sender(command.port) as source, sender(command.port) as other:
        send(other, [b"\x00garbage", b'{"no": "t"}', b"[" * 65_000])
        time.sleep(0.3)
        third = len(datagrams) // 3
        send(source, datagrams[:third])
        send(other, (b'{"t": %d}' % number for number in range(5_000)))
        send(source, datagrams[third:])
        caught_up(live, datagrams[-1])
        assert command.end() == 0
    assert spoken_for(live) == expected
    told = re.findall(r"^datagram dropped(?: (\d+) times)?: another source", command.err, re.MULTILINE)
    assert sum(int(number or 1) for number in told) == 5_000
    for cause in ("not JSON", "no t"):
        assert f": {cause}" in command.err, command.err


def test_sigterm_ends_in_good_order_too(practice: Drive, tmp_path: Path) -> None:
    live = tmp_path / "live.jsonl"
    datagrams = practice.datagrams()[:4000]
    with running("drive", "--events", live) as command, sender(command.port) as source:
        send(source, datagrams)
        caught_up(live, datagrams[-1])
        assert command.end(signal.SIGTERM) == 0
    assert command.out.startswith("loop-a, car-a\n")


def test_a_killed_drive_leaves_a_log_and_a_recording_up_to_the_last_second(practice: Drive, tmp_path: Path) -> None:
    live, recording, again = tmp_path / "live.jsonl", tmp_path / "drive.cwrec", tmp_path / "again.jsonl"
    rows = practice.datagrams()[:4000]
    with running("drive", "--events", live, "--record", recording) as command, sender(command.port) as source:
        send(source, rows)
        caught_up(live, rows[-1])
        time.sleep(1.2)
        assert command.end(signal.SIGKILL) == -signal.SIGKILL
    assert main(["replay", "--fast", "--events", str(again), str(recording)]) == 0
    kept = again.read_text().splitlines()
    assert json.loads(kept[-1])["t"] >= json.loads(rows[-1])["t"] - 0.5
    # a busy machine may take the two seconds after which the stream is called lost, and be killed before that is kept
    logged = [line for line in live.read_text().splitlines() if '"what":"lost"' not in line]
    assert logged == kept[: len(logged)]


def test_a_reference_of_another_circuit_is_told_and_the_drive_goes_on(
    practice: Drive, practice_file: Path, expected: list[str], tmp_path: Path
) -> None:
    live = tmp_path / "live.jsonl"
    datagrams = [json.dumps({**row, "track": "loop-b"}).encode() for row in practice.rows[:4000]]
    with running("drive", "--events", live, "--reference", practice_file) as command, sender(command.port) as source:
        send(source, datagrams)
        caught_up(live, datagrams[-1])
        assert command.end() == 0
    told = [line for line in command.err.splitlines() if line.endswith("going on without a reference")]
    assert len(told) == 1 and "loop-a" in told[0] and "loop-b" in told[0]
    assert json.loads(live.read_text().splitlines()[0])["reference"] is None
    assert spoken_for(live)


def test_record_writes_what_came_and_nothing_else(practice: Drive, tmp_path: Path, expected: list[str]) -> None:
    recording, log = tmp_path / "kept.cwrec", tmp_path / "log.jsonl"
    datagrams = practice.datagrams()
    with running("record", recording) as command, sender(command.port) as source:
        send(source, datagrams)
        time.sleep(1.0)
        assert command.end() == 0
    assert re.fullmatch(rf"{re.escape(str(recording))}: {len(datagrams)} datagrams recorded in \d+ s\n", command.out)
    assert "lap" not in command.err
    assert main(["replay", "--fast", "--events", str(log), str(recording)]) == 0
    assert spoken_for(log) == expected


def test_ctrl_c_before_anything_came(tmp_path: Path) -> None:
    with running("drive") as command:
        assert command.end() == 0
    assert command.out == "No telemetry came, so there is nothing to sum up.\n"


def test_a_silence_that_was_called_one_is_called_one_in_the_replay_of_a_killed_drive(
    practice: Drive, tmp_path: Path
) -> None:
    live, recording, again = tmp_path / "live.jsonl", tmp_path / "drive.cwrec", tmp_path / "again.jsonl"
    rows = practice.datagrams()[:500]
    with running("drive", "--events", live, "--record", recording) as command, sender(command.port) as source:
        send(source, rows)
        time.sleep(4.5)  # lost after 2 s, on the disk a second later
        assert command.end(signal.SIGKILL) == -signal.SIGKILL
    assert '"lost"' in live.read_text().splitlines()[-1]
    assert main(["replay", "--fast", "--events", str(again), str(recording)]) == 0
    assert again.read_text() == live.read_text()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full disk to offer")
def test_a_failed_start_leaves_no_recording_behind(tmp_path: Path) -> None:
    path = tmp_path / "a.cwrec"
    for wrong in (["--feed", "typo"], ["--events", str(tmp_path / "nowhere" / "e.jsonl")]):
        assert main(["drive", "--record", str(path), "--port", "0", *wrong]) == 2
        assert not path.exists()
    assert main(["record", str(path), "--port", "0", "--feed", "typo"]) == 2
    assert not path.exists()
