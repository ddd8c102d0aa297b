"""`demo`, from the command to the summary, through real UDP."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from coach.app.cli import main
from coach.app.demo import PLANTED
from feeds.car.circuit import brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import read_mistake
from feeds.car.person import PERSONS, Person
from feeds.car.spec import CARS, CarSpec

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


def test_nothing_else_is_told(fast: tuple[list[dict], str, str]) -> None:
    events, _, _ = fast
    planted = [(mistake.kind, mistake.lap, mistake.corner) for mistake in map(read_mistake, PLANTED)]
    cues = [event for event in events if event["type"] == "cue" and event["spoken"]]
    assert {(of["fault"], of["lap"], of["corner"]) for cue in cues for of in cue["of"]} <= set(planted)


@pytest.mark.parametrize("car", list(CARS.values()), ids=lambda car: car.name)
@pytest.mark.parametrize("person", PERSONS.values(), ids=lambda person: person.name)
def test_what_is_planted_can_be_done_by_all(car: CarSpec, person: Person) -> None:
    mistakes = [read_mistake(text) for text in PLANTED]
    assert len({mistake.kind for mistake in mistakes}) >= 6
    Drive(DriveSpec(brack_mere(), car, person, 3, mistakes=mistakes))  # refuses what there is no room for


def test_the_summary_is_for_a_person(fast: tuple[list[dict], str, str]) -> None:
    _, summary, told = fast
    assert summary.startswith("Brack Mere, Pellow R\n2 laps ended, 2 clean\n")
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
        (["--car", "Cart"], "--car: needs one of Pellow R, Pellow S, not 'Cart'"),
        (["--laps", "0"], "--laps: needs whole laps, 1 to 200, not '0'"),
        (["--rate", "10"], "--rate: needs datagrams a second, 20 to 360, not '10'"),
        (["--mistake", "yawning:1:1:1"], "mistake 'yawning:1:1:1': the driver knows no 'yawning'; choose from"),
        (["--mistake", "late_throttle:9:1:0.5"], "mistake .*: there are laps 1 to 3"),
        (["--mistake", "late_throttle:1:5:0.5"], "mistake .*corner 5.* is driven flat out; choose"),
        (["--reference", "nowhere.jsonl"], "--reference: there is no file nowhere.jsonl: check the name"),
    ],
)
def test_what_is_wrong_is_one_line(arguments: list[str], line: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--fast", *arguments]) == 2
    (told,) = capsys.readouterr().err.splitlines()  # before the lap that sets the reference
    assert re.match(f"cornerword: {line}", told)


@pytest.mark.parametrize("line", ["the steady driver", "listening on"])
def test_ctrl_c_at_the_start_ends_it_at_once_and_leaves_nothing(line: str, tmp_path: Path) -> None:
    """While the reference is driven and phrases are rendered, and before anything was received."""
    environment = {**os.environ, "SDL_AUDIODRIVER": "dummy", "XDG_CACHE_HOME": str(tmp_path / "cache")}
    environment["TMPDIR"] = str(tmp_path)
    command = [sys.executable, "-m", "coach", "demo", "--no-overlay", "--rate", "20"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=TOP, env=environment
    ) as demo:
        assert demo.stderr is not None
        while line not in demo.stderr.readline():
            assert demo.poll() is None
        time.sleep(0.2)
        began = time.monotonic()
        demo.send_signal(signal.SIGINT)
        _, err = demo.communicate(timeout=20)
    assert time.monotonic() - began < 3.0
    if line == "the steady driver":
        assert (demo.returncode, err) == (1, "cornerword: stopped before the end\n")
    else:
        assert demo.returncode == 0
    assert [path for path in tmp_path.rglob("*") if path.name.startswith(("cornerword-", "work-"))] == []
    assert _of(tmp_path) == []


def _of(folder: Path) -> list[str]:
    """Processes that were started with this folder for temporary files."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if f"TMPDIR={folder}".encode() in (entry / "environ").read_bytes().split(b"\0"):
                found.append((entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace"))
        except OSError:
            continue  # it has ended meanwhile
    return found


def test_without_room_for_the_reference_it_is_one_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    assert main(["demo", "--fast"]) == 1
    assert capsys.readouterr().err == (
        "cornerword: no folder for the reference lap (No such file or directory): make room, or name one with TMPDIR\n"
    )


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
    assert out.startswith("Brack Mere, Pellow R\n")
    with pytest.raises(ProcessLookupError):
        os.killpg(demo.pid, 0)
