"""The listening process as it is, with virtual controllers of SDL in place of real ones.

No real controller was tried: this machine has none, and no /dev/uinput. What is held here is all from SDL's own event
queue on: plugging, presses, hats, axes, names, the process's end, its cost. What SDL makes of a real device is not.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from coach.controls.button import Plugged, Pressed, Ready, Unplugged
from tests.controls.bench import SETTLES, Script, listening, needs_virtual

WHEEL = ["plug", "a", "Pellow wheel", 2, 12, 1]
BOX = ["plug", "b", "Box of buttons", 0, 32, 0]


@pytest.fixture(autouse=True)
def _virtual() -> None:
    needs_virtual()


@pytest.fixture
def script(tmp_path: Path) -> Script:
    return Script(tmp_path / "script.jsonl")


def test_a_press_is_told_once_and_its_release_is_not(script: Script) -> None:
    script.add(WHEEL, SETTLES)
    with listening(script.command) as ear:
        plugged, ready = ear.until(Ready)
        assert isinstance(plugged, Plugged) and plugged.name == "Pellow wheel"
        assert isinstance(ready, Ready)
        script.press("a", 11)
        script.press("a", 0)
        for number in (11, 0):
            press = ear.next()
            assert isinstance(press, Pressed)
            assert (press.button.device, press.button.name) == (plugged.device, plugged.name)
            assert (press.button.kind, press.button.number, press.button.direction) == ("button", number, "")
        assert ear.nothing()


def test_plugging_and_unplugging_while_it_runs_with_two_controllers(script: Script) -> None:
    with listening(script.command) as ear:
        assert isinstance(ear.next(), Ready)
        script.add(WHEEL, BOX, SETTLES)
        wheel, box = ear.next(), ear.next()
        assert isinstance(wheel, Plugged) and isinstance(box, Plugged) and wheel.device != box.device
        script.press("b", 31)
        press = ear.next()
        assert isinstance(press, Pressed) and press.button.device == box.device and press.button.number == 31
        script.add(["unplug", "a"])
        assert ear.next() == Unplugged(wheel.device, "Pellow wheel")
        script.press("b", 30)
        assert ear.pressed() == "button 30"
        script.add(WHEEL, SETTLES)
        assert ear.next() == wheel
        script.press("a", 3)
        assert ear.pressed() == "button 3"
        script.add(["unplug", "b"], ["unplug", "a"])
        assert ear.next() == Unplugged(box.device, "Box of buttons")
        assert ear.next() == Unplugged(wheel.device, "Pellow wheel")


def test_two_wheels_that_are_alike_have_the_same_buttons(script: Script) -> None:
    script.add(WHEEL, ["plug", "b", *WHEEL[2:]], SETTLES)
    with listening(script.command) as ear:
        first, second, _ = ear.until(Ready)
        assert first == second
        script.press("a", 1)
        script.press("b", 1)
        one, other = ear.next(), ear.next()
        assert isinstance(one, Pressed) and one == other


def test_a_hat_is_pressed_out_of_its_centre_in_four_directions(script: Script) -> None:
    script.add(WHEEL, SETTLES)
    for right, up in ((0, 1), (1, 0), (0, -1), (-1, 0)):
        script.add(["hat", "a", 0, right, up], ["wait", 0.06], ["hat", "a", 0, 0, 0], ["wait", 0.06])
    script.add(["hat", "a", 0, 1, 1], ["wait", 0.06], ["hat", "a", 0, 1, 0], ["wait", 0.06], ["hat", "a", 0, 0, 0])
    with listening(script.command) as ear:
        ear.until(Ready)
        assert [ear.pressed() for _ in range(4)] == ["hat 0 up", "hat 0 right", "hat 0 down", "hat 0 left"]
        assert ear.nothing(), "between two directions, and from there on: no press"


def test_an_axis_is_pressed_once_whatever_its_noise(script: Script) -> None:
    """A trigger that flickers on its way, and a stick that rests with some play."""
    noise = [0.1, 0.35, 0.55, 0.5, 0.62, 0.55, 0.7, 0.5, 1.0, 0.6, 0.5, 0.2, 0.35, 0.0]
    script.add(WHEEL, SETTLES, *(["axis", "a", 1, value] for value in noise))
    script.add(*(["axis", "a", 0, value] for value in (0.05, -0.05, 0.3, -0.9, -0.3)))
    with listening([*script.command, "--axes"]) as ear:
        ear.until(Ready)
        assert [ear.pressed(), ear.pressed()] == ["axis 1 +", "axis 0 -"]
        assert ear.nothing()


def test_axes_are_not_listened_to_unless_asked(script: Script) -> None:
    script.add(WHEEL, SETTLES, ["axis", "a", 1, 1.0], ["axis", "a", 1, 0.0])
    script.press("a", 2)
    with listening(script.command) as ear:
        ear.until(Ready)
        assert ear.pressed() == "button 2"
        assert ear.nothing()


def test_what_is_held_while_it_is_plugged_in_is_no_press(script: Script) -> None:
    script.add(WHEEL, ["button", "a", 5, 1], SETTLES, ["button", "a", 5, 0], ["wait", 0.1])
    script.press("a", 5)
    with listening(script.command) as ear:
        ear.until(Ready)
        assert ear.pressed() == "button 5"
        assert ear.nothing()


def test_contacts_that_bounce_press_once(script: Script) -> None:
    script.add(WHEEL, SETTLES)
    for value in (1, 0, 1, 0, 1):
        script.add(["button", "a", 4, value])
    script.add(["wait", 0.2])
    for value in (0, 1, 0):
        script.add(["button", "a", 4, value])
    with listening(script.command) as ear:
        ear.until(Ready)
        assert ear.pressed() == "button 4"
        assert ear.nothing()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="the system tells no process's time in /proc")
def test_it_costs_little(script: Script) -> None:
    """CPU of the process with one controller open, axes and all: 0.6 % of a core where it was measured (choice)."""
    script.add(WHEEL)
    with listening([*script.command, "--axes"]) as ear:
        ear.until(Ready)
        assert ear.controls is not None and ear.controls.process_id is not None
        stat = Path(f"/proc/{ear.controls.process_id}/stat")
        used, began = cpu(stat), time.monotonic()
        time.sleep(2.0)
        assert (cpu(stat) - used) / (time.monotonic() - began) < 0.02


def cpu(stat: Path) -> float:
    """s that a process has used; proc(5): utime and stime are fields 14 and 15, in clock ticks."""
    fields = stat.read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.skipif(sys.platform == "win32", reason="no /proc to look whether it has ended")
def test_it_ends_with_who_started_it(script: Script) -> None:
    """Its standard input closes when the coach is killed."""
    import subprocess

    child = subprocess.Popen(script.command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert child.stdout is not None and child.stdin is not None
    assert b'"ready"' in child.stdout.readline()
    child.stdin.close()
    assert child.wait(5.0) == 0
    child.stdout.close()
