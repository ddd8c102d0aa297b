"""The built-in car as a process of ours: what it says, how it fails, and that it goes with us."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from coach.app.car import CarProcess
from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError

TOP = Path(__file__).parents[2]
NOWHERE = ["--to", "127.0.0.1:9", "--laps", "50"]


def test_it_says_how_many_datagrams_went() -> None:
    with CarProcess(["--to", "127.0.0.1:9", "--laps", "1", "--rate", "20", "--pace", "0", "--run-out", "0"]) as car:
        assert int(car.wait(Stop())) > 20 * 60


def test_a_wrong_command_line_is_its_own_line() -> None:
    with CarProcess([*NOWHERE, "--mistake", "late_throttle:1:5:0.5"]) as car, pytest.raises(InputError) as raised:
        car.wait(Stop())
    assert re.match("mistake .*corner 5.* is driven flat out; choose from 1, 2, 3", str(raised.value))


def test_a_disk_that_fails_is_its_own_line_and_no_bug(tmp_path: Path) -> None:
    file = tmp_path / "nowhere" / "lap.jsonl"
    with CarProcess(["--out", str(file), "--laps", "1", "--rate", "20"]) as car, pytest.raises(WorkError) as raised:
        car.wait(Stop())
    assert str(raised.value).startswith(f"the built-in car stopped: {file}: cannot be written (No such file")
    assert "report" not in str(raised.value)


def test_files_in_the_users_folder_do_not_take_the_place_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("feeds", "json"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('not ours')")
    monkeypatch.chdir(tmp_path)
    with CarProcess(["--to", "127.0.0.1:9", "--mistake", "none"]) as car, pytest.raises(InputError, match="mistake"):
        car.wait(Stop())


def test_a_process_that_cannot_be_started_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/no/such/program")
    with pytest.raises(WorkError, match=r"the built-in car cannot be started \(No such file or directory\)"):
        CarProcess(NOWHERE)


def test_a_car_that_dies_is_told_in_one_line() -> None:
    with CarProcess(NOWHERE) as car:
        os.kill(car.pid, signal.SIGKILL)
        with pytest.raises(WorkError, match="the built-in car stopped"):
            car.wait(Stop())


def test_the_wait_ends_when_the_end_is_asked_for() -> None:
    stop = Stop()
    stop.asked = True
    with CarProcess(NOWHERE) as car, pytest.raises(KeyboardInterrupt):
        car.wait(stop)


@pytest.mark.parametrize("after", [0.0, 1.0])
def test_it_ends_at_once_when_it_is_let_go_while_it_plans_and_while_it_drives(after: float) -> None:
    car = CarProcess(NOWHERE)
    time.sleep(after)
    assert not car.ended
    began = time.monotonic()
    car.close()
    assert time.monotonic() - began < 1.0
    assert car.ended


SCRIPT = """
import time
from coach.app.car import CarProcess
print(CarProcess(["--to", "127.0.0.1:9", "--laps", "50"]).pid, flush=True)
time.sleep(60)
"""


def test_it_ends_with_a_coach_that_is_killed() -> None:
    with subprocess.Popen([sys.executable, "-c", SCRIPT], stdout=subprocess.PIPE, text=True, cwd=TOP) as coach:
        assert coach.stdout is not None
        car = int(coach.stdout.readline())
        coach.kill()
    until = time.monotonic() + 20
    while _runs(car):
        assert time.monotonic() < until, "it drives on"
        time.sleep(0.05)


def _runs(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
