"""The built-in car as a process of ours: what it says, how it fails, and that it goes with us."""

from __future__ import annotations

import os
import signal
import time

import pytest

from coach.app.car import CarProcess
from coach.app.stop import Stop
from coach.vocabulary.errors import InputError, WorkError

NOWHERE = ["--to", "127.0.0.1:9", "--laps", "50"]


def test_it_says_how_many_datagrams_went() -> None:
    with CarProcess(["--to", "127.0.0.1:9", "--laps", "1", "--rate", "20", "--pace", "0", "--run-out", "0"]) as car:
        assert int(car.wait(Stop())) > 20 * 60


def test_a_wrong_command_line_is_its_own_line() -> None:
    with CarProcess([*NOWHERE, "--mistake", "late_throttle:1:5:0.5"]) as car, pytest.raises(InputError) as raised:
        car.wait(Stop())
    assert str(raised.value).startswith("mistake late_throttle at corner 5: it is driven flat out; choose from 1, 2, 3")


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


def test_it_ends_soon_when_it_is_let_go_though_it_has_laps_to_drive() -> None:
    car = CarProcess(NOWHERE)
    time.sleep(1.0)
    assert not car.ended
    began = time.monotonic()
    car.close()
    assert time.monotonic() - began < 3.0
    assert car.ended
