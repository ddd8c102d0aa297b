"""The real command, killed in the middle of a drive, and driven again with what it remembers."""

from __future__ import annotations

import json
import signal
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from make_stream import Mistake, make_drive, test_loop
from sending import sender

from coach.app.cli import main
from feeds.recording import RecalledLine, open_recording
from tests.real.command import caught_up, running, send

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGINT for another process")

COMMITTED = 1.5
"""s after which the laps driven are in the memory for good: a kill loses the last second, which is minutes of driving
at the pace of this test."""
HABIT = [Mistake("late_throttle", lap, 1, 0.8) for lap in (3, 4)]
"""Lap 2 is the first that is clean, and without it: both come up against it."""


def day(laps: int, seed: int, mistakes: list[Mistake]) -> list[bytes]:
    rows = make_drive(test_loop(), laps, 25.0, mistakes, seed, 0.012, 0.2, tail=400.0).rows
    return [json.dumps({**row, "driver": "driver-a"}).encode() for row in rows]


def logged(path: Path, kind: str) -> list[dict[str, Any]]:
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return [line for line in lines if line["type"] == kind]


def drive(folder: Path, name: str, datagrams: list[bytes], end: signal.Signals, *more: str) -> Path:
    """One drive through the real program; returns its event log, beside which its recording lies."""
    log, recording = folder / f"{name}.jsonl", folder / f"{name}.cwrec"
    memory = ("--memory", str(folder / "memory.sqlite"))
    with running("drive", "--events", log, "--record", recording, *memory, *more) as command:
        with sender(command.port) as source:
            send(source, datagrams)
            caught_up(log, datagrams[-1])
        time.sleep(COMMITTED if end is signal.SIGKILL else 0.0)
        code = command.end(end)
    assert code == (-signal.SIGKILL if end is signal.SIGKILL else 0), command.err
    return log


def test_killed_and_driven_again_it_goes_on_and_the_replay_says_the_same(tmp_path: Path) -> None:
    first = drive(tmp_path, "first", day(4, 3, HABIT), signal.SIGKILL)
    best = min(lap["time"] for lap in logged(first, "lap") if lap["clean"])
    second = drive(tmp_path, "second", day(2, 9, []), signal.SIGINT)
    references = logged(second, "reference")
    assert references[0]["time"] == pytest.approx(best, abs=1e-6)
    assert references[0]["origin"] != "this session"
    assert logged(second, "delta")[0]["lap"] == 1, "compared from the first lap on"
    assert any(line["text"].startswith("going on with late throttle") for line in logged(second, "advice"))
    corners = [(mark["corner"], mark["direction"]) for mark in logged(first, "corners")[-1]["corners"]]
    assert [(mark["corner"], mark["direction"]) for mark in logged(second, "corners")[-1]["corners"]] == corners
    again = tmp_path / "again.jsonl"
    recording = tmp_path / "second.cwrec"
    assert sum(isinstance(item, RecalledLine) for item in open_recording(recording)) == 1
    assert main(["replay", "--fast", "--events", str(again), str(recording)]) == 0
    assert again.read_bytes() == second.read_bytes()


def test_without_a_memory_nothing_is_kept_or_recalled(tmp_path: Path) -> None:
    log, recording = tmp_path / "a.jsonl", tmp_path / "a.cwrec"
    datagrams = day(1, 3, [])[:400]
    for _ in range(2):
        log.unlink(missing_ok=True)
        recording.unlink(missing_ok=True)
        with (
            running("drive", "--events", log, "--record", recording, "--no-memory") as command,
            sender(command.port) as source,
        ):
            send(source, datagrams)
            caught_up(log, datagrams[-1])
            assert command.end() == 0
    assert not [item for item in open_recording(recording) if isinstance(item, RecalledLine)]
