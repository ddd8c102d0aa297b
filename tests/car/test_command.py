"""`python -m feeds.car`: what it writes and sends, how it fails, and how it ends."""

from __future__ import annotations

import gzip
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feeds.car.__main__ import main

TOP = Path(__file__).parents[2]
SHORT = ["--laps", "1", "--rate", "20", "--run-out", "0"]
NOWHERE = ["--to", "127.0.0.1:9"]
SOON = 20.0
"""s in which a busy machine has started a process."""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one drive as .jsonl and what is true of it."""
    folder = tmp_path_factory.mktemp("drive")
    mistake = ["--mistake", "late_throttle:1:4:0.6"]
    files = ["--out", str(folder / "lap.jsonl"), "--truth", str(folder / "truth.json")]
    assert main([*SHORT, *mistake, *files, "--car", "Pellow S", "--driver", "beginner", "--seed", "3"]) == 0
    return folder


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind(("127.0.0.1", 0))
        one.settimeout(SOON)
        yield one


def started(arguments: list[str]) -> subprocess.Popen[str]:
    pipe = subprocess.PIPE
    command = [sys.executable, "-m", "feeds.car", *arguments]
    return subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe, text=True, cwd=TOP)


def address(listener: socket.socket) -> str:
    host, port = listener.getsockname()
    return f"{host}:{port}"


def test_a_file_holds_one_datagram_a_line(written: Path) -> None:
    lines = (written / "lap.jsonl").read_bytes().splitlines()
    rows = [json.loads(line) for line in lines]
    assert [row["t"] for row in rows] == pytest.approx([i / 20 for i in range(len(rows))], abs=1e-6)
    assert (rows[0]["car"], rows[0]["driver"]) == ("Pellow S", "beginner")
    assert {row["lap"] for row in rows} == {0, 1}


def test_the_truth_holds_the_lap_times_and_the_mistakes(written: Path) -> None:
    truth = json.loads((written / "truth.json").read_text())
    assert truth["mistakes"] == [{"fault": "late_throttle", "lap": 1, "corner": 4, "size": 0.6}]
    [(lap, seconds)] = truth["laps"].items()
    rows = [json.loads(line) for line in (written / "lap.jsonl").read_bytes().splitlines()]
    first = next(row for row in rows if row["lap"] == 1)
    assert lap == "1"
    assert seconds == pytest.approx(rows[-1]["t"] - (first["t"] - first["lap_time"]), abs=1.0 / 20)


def test_a_packed_file_holds_the_same_and_no_time_of_day(written: Path) -> None:
    file = written / "lap.jsonl.gz"
    options = [*SHORT, "--mistake", "late_throttle:1:4:0.6", "--car", "Pellow S", "--driver", "beginner"]
    assert main([*options, "--seed", "3", "--out", str(file)]) == 0
    assert gzip.decompress(file.read_bytes()) == (written / "lap.jsonl").read_bytes()
    assert file.read_bytes()[4:8] == bytes(4)  # RFC 1952: MTIME, 0 for none


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        ([], "one of the arguments --to --out is required; see python -m feeds.car --help"),
        ([*NOWHERE, "--out", "lap.jsonl"], "argument --out: not allowed with argument --to"),
        ([*NOWHERE, "--laps", "two"], "argument --laps: invalid int value: 'two'"),
        ([*NOWHERE, "--lap", "2"], "unrecognized arguments: --lap"),
        ([*NOWHERE, "--car", "Cart"], "argument --car: invalid choice: 'Cart'"),
        ([*NOWHERE, "--laps", "0"], "laps: 0; drive one at least"),
        ([*NOWHERE, "--rate", "19"], "rate: 19 datagrams a second; choose from 20 to 360"),
        ([*NOWHERE, "--rate", "361"], "rate: 361 datagrams a second; choose from 20 to 360"),
        ([*NOWHERE, "--pace", "-1"], "--pace -1: give 0 or more"),
        ([*NOWHERE, "--pace", "nan"], "--pace nan: give 0 or more"),
        ([*NOWHERE, "--run-out", "inf"], "--run-out inf: give 0 or more"),
        ([*NOWHERE, "--mistake", "late_throttle:1:4"], "give KIND:LAP:CORNER:SIZE"),
        (["--to", "here"], "--to 'here': give HOST:PORT, for example 127.0.0.1:26763"),
        (["--to", "127.0.0.1:70000"], "--to '127.0.0.1:70000': give HOST:PORT"),
        (["--to", ":26763"], "--to ':26763': give HOST:PORT"),
    ],
)
def test_a_wrong_option_is_one_line_and_exit_code_2(
    arguments: list[str], line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        code = main(arguments)
    except SystemExit as exit:  # argparse ends so
        code = exit.code
    out, errors = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert errors.count("\n") == 1
    assert errors.startswith("feeds.car: ")
    assert line in errors


def test_a_file_that_cannot_be_written_is_one_line_and_exit_code_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feeds.car.__main__.Drive", lambda spec: [{"t": 0.0}])  # a real one takes seconds
    file = tmp_path / "no" / "lap.jsonl"
    assert main([*SHORT, "--out", str(file)]) == 1
    assert capsys.readouterr().err == (
        f"feeds.car: {file}: cannot be written (No such file or directory); choose another place\n"
    )


def test_a_whole_drive_goes_over_the_socket_and_says_how_much(
    listener: socket.socket, capsys: pytest.CaptureFixture[str]
) -> None:
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
    assert main([*SHORT, "--to", address(listener), "--pace", "0"]) == 0
    sent = int(capsys.readouterr().out)
    assert sent > 60 * 20
    first = json.loads(listener.recv(65536))
    assert (first["t"], first["track"], first["car"], first["driver"]) == (0.0, "Brack Mere", "Pellow R", "steady")


def test_in_real_time_its_clock_and_ours_go_alike(listener: socket.socket) -> None:
    with started([*NOWHERE[:1], address(listener), "--laps", "50", "--rate", "60", "--pace", "2"]) as car:
        try:
            got = []
            while not got or time.monotonic() - got[0][0] < 1.5:
                data = listener.recv(65536)
                got.append((time.monotonic(), json.loads(data)["t"]))
        finally:
            car.kill()
            car.communicate()
    seconds, driven = got[-1][0] - got[0][0], got[-1][1] - got[0][1]
    # a machine that holds it up for more than half a second lets the drive fall behind, never ahead
    assert 0.5 * seconds < driven < 2.0 * (seconds + 0.6)


def test_on_a_leash_it_ends_with_whoever_holds_standard_input(listener: socket.socket) -> None:
    with started(["--to", address(listener), "--laps", "50", "--leash"]) as car:
        listener.recv(65536)
        assert car.poll() is None
        assert car.stdin is not None
        car.stdin.close()
        assert car.wait(SOON) == 0
        assert car.stdout is not None
        assert car.stderr is not None
        assert int(car.stdout.read()) > 0
        assert car.stderr.read() == ""


def test_without_a_leash_a_closed_standard_input_ends_nothing(listener: socket.socket) -> None:
    with started(["--to", address(listener), "--laps", "50"]) as car:
        try:
            assert car.stdin is not None
            car.stdin.close()
            first = json.loads(listener.recv(65536))["t"]
            while json.loads(listener.recv(65536))["t"] < first + 1.0:
                assert car.poll() is None
        finally:
            car.kill()
            car.wait(SOON)


@pytest.mark.skipif(os.name == "nt", reason="Windows sends Ctrl-C to the whole console")
def test_ctrl_c_is_exit_code_1_without_a_word(listener: socket.socket) -> None:
    with started(["--to", address(listener), "--laps", "50"]) as car:
        listener.recv(65536)
        car.send_signal(signal.SIGINT)
        out, errors = car.communicate(timeout=SOON)
    assert (car.returncode, out, errors) == (1, "", "")
