"""`demo`, from the command to the summary, through real UDP."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from coach.app.cli import main
from coach.app.demo import PLANTED
from feeds.car.mistakes import read_mistake

TOP = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def fast(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[dict], str, str]:
    """Events, summary and what was told of one fast demo."""
    log = tmp_path_factory.mktemp("demo") / "events.jsonl"
    command = [sys.executable, "-m", "coach", "demo", "--fast", "--laps", "2", "--rate", "30", "--events", str(log)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=TOP, check=False)
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in log.read_text().splitlines()], done.stdout, done.stderr


def test_every_planted_mistake_is_found_and_told(fast: tuple[list[dict], str, str]) -> None:
    events, _, _ = fast
    for mistake in map(read_mistake, PLANTED):
        if mistake.lap > 2:
            continue
        here = {"fault": mistake.kind, "lap": mistake.lap, "corner": mistake.corner}
        faults = [event for event in events if event["type"] == "fault"]
        assert any(all(fault[key] == value for key, value in here.items()) for fault in faults), here
        spoken = [of for event in events if event["type"] == "cue" and event["spoken"] for of in event["of"]]
        assert here in spoken


def test_the_summary_is_for_a_person(fast: tuple[list[dict], str, str]) -> None:
    _, summary, told = fast
    assert summary.startswith("Brack Mere, Vantle R\n2 laps ended, 2 clean\n")
    for heading in ("LAPS", "WHERE THE SECONDS ARE", "FAULTS FOUND", "SAID"):
        assert f"\n{heading}\n" in summary
    assert '"Throttle sooner' in summary
    assert "lost" not in told
    assert told.count("\n") <= 4


def test_no_datagram_is_lost_on_the_way(fast: tuple[list[dict], str, str]) -> None:
    events, _, _ = fast
    assert not [event for event in events if event["type"] == "stream"]
    assert [event["clean"] for event in events if event["type"] == "lap"] == [True, True]


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["--driver", "nobody"], "--driver: needs one of steady, beginner, not 'nobody'"),
        (["--car", "Cart"], "--car: needs one of Vantle R, Vantle S, not 'Cart'"),
        (["--laps", "0"], "--laps: needs whole laps, 1 to 200, not '0'"),
        (["--rate", "10"], "--rate: needs datagrams a second, 20 to 360, not '10'"),
        (["--mistake", "yawning:1:1:1"], "mistake 'yawning:1:1:1': the driver knows no 'yawning'; choose from"),
        (["--mistake", "late_throttle:9:1:0.5"], "mistake late_throttle on lap 9: there are laps 1 to 3"),
        (["--mistake", "late_throttle:1:5:0.5"], "mistake late_throttle at corner 5: it is driven flat out; choose"),
        (["--reference", "nowhere.jsonl"], "--reference: there is no file nowhere.jsonl: check the name"),
    ],
)
def test_what_is_wrong_is_one_line(arguments: list[str], line: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--fast", *arguments]) == 2
    told = capsys.readouterr().err.splitlines()
    assert told[-1].startswith(f"cornerword: {line}")
    assert len(told) <= 3


def test_ctrl_c_ends_it_with_the_summary_and_leaves_nothing_running() -> None:
    command = [sys.executable, "-m", "coach", "demo", "--no-voice", "--no-overlay", "--rate", "20"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=TOP, start_new_session=True
    ) as demo:
        assert demo.stdout is not None and demo.stderr is not None
        while "telemetry from" not in demo.stderr.readline():
            assert demo.poll() is None
        time.sleep(1.0)
        os.kill(demo.pid, signal.SIGINT)
        out, err = demo.communicate(timeout=20)
    assert demo.returncode == 0, err
    assert out.startswith("Brack Mere, Vantle R\n")
    with pytest.raises(ProcessLookupError):
        os.killpg(demo.pid, 0)
