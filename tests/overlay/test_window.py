"""The real window, in a process of its own, on an X server whose picture is read back."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from coach.overlay.drawing import Drawing
from coach.overlay.palette import PLATE
from coach.overlay.window import choose_driver
from coach.vocabulary.errors import WorkError
from tests.overlay.cover import COLOUR
from tests.overlay.xserver import HEIGHT, WIDTH, XServer

TOP = Path(__file__).parents[2]
SIZE = Drawing().size
LEFT, ABOVE = (WIDTH - SIZE[0]) // 2, round(0.015 * HEIGHT)
PATIENCE = 20.0


class Child:
    """A running module of the tests."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process

    def say(self, word: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(word + "\n")
        self.process.stdin.flush()

    def line(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().rstrip("\n")

    def end(self) -> tuple[str, str, int]:
        """What else it printed, what it printed as errors, its exit code."""
        out, errors = self.process.communicate(timeout=PATIENCE)
        return out, errors, self.process.returncode


@contextmanager
def running(module: str, environment: dict[str, str]) -> Iterator[Child]:
    command = [sys.executable, "-m", f"tests.overlay.{module}"]
    pipe = subprocess.PIPE
    full = {**environment, "PYTHONPATH": str(TOP)}
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe, text=True, env=full, cwd=TOP) as process:
        try:
            yield Child(process)
        finally:
            process.kill()


def plain_environment(**more: str) -> dict[str, str]:
    left_out = ("SDL_", "DISPLAY", "WAYLAND_")
    return {**{name: value for name, value in os.environ.items() if not name.startswith(left_out)}, **more}


def at(x: XServer, right: int, down: int) -> tuple[int, ...]:
    """The colour of the screen, px from where the window's corner should be."""
    return tuple(int(value) for value in x.pixels()[ABOVE + down, LEFT + right])


def comes(what: Callable[[], bool]) -> bool:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        if what():
            return True
        time.sleep(0.05)
    return False


def is_blue(colour: tuple[int, ...]) -> bool:
    return colour[2] > colour[0] + 60 and colour[2] > 120


def test_it_opens_at_the_top_in_the_middle_and_the_float_moves(x: XServer) -> None:
    with running("child", x.environment()) as child:
        assert child.line() == "open"
        assert comes(lambda: at(x, 3, 3) == PLATE)
        pixels = x.pixels()
        lit = pixels.max(axis=2) > 0
        assert lit[ABOVE : ABOVE + SIZE[1], LEFT : LEFT + SIZE[0]].all()
        assert lit.sum() == SIZE[0] * SIZE[1], "nothing but the window is on the screen"
        middle, line = SIZE[0] // 2, SIZE[1] // 2
        assert not is_blue(at(x, middle, line - 30))
        child.say("-0.6")
        assert comes(lambda: is_blue(at(x, middle, line - 30)))
        child.say("lost")
        assert comes(lambda: not is_blue(at(x, middle, line - 30)))
        child.say("end")
        assert child.end() == ("ended\n", "", 0)
        assert not (x.pixels().max(axis=2) > 0).any()


def test_it_stays_above_a_window_that_comes_later_and_leaves_it_the_keyboard(x: XServer) -> None:
    with running("child", x.environment()) as child:
        assert child.line() == "open"
        with running("cover", x.environment()) as cover:
            assert cover.line() == "open"
            assert comes(lambda: x.pixels()[HEIGHT - 5, 5].tolist() == list(COLOUR))
            assert comes(lambda: at(x, 3, 3) == PLATE)
            cover.say("?")
            assert cover.line() == "keyboard True"


def test_it_takes_no_keyboard_from_a_window_that_was_there(x: XServer) -> None:
    with running("cover", x.environment()) as cover:
        assert cover.line() == "open"
        with running("child", x.environment()) as child:
            assert child.line() == "open"
            assert comes(lambda: at(x, 3, 3) == PLATE)
            cover.say("?")
            assert cover.line() == "keyboard True"


def test_a_display_that_goes_away_ends_the_overlay_and_not_the_session(x: XServer) -> None:
    with running("child", x.environment()) as child:
        assert child.line() == "open"
        child.say("0.3")
        assert comes(lambda: at(x, 3, 3) == PLATE)
        x.process.kill()
        x.process.wait(PATIENCE)
        assert child.line() == "the display went away: the overlay is off, the session goes on"
        assert child.line() == "session still runs"
        assert child.end() == ("", "", 0)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({}, "DISPLAY is not set"),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "Wayland without XWayland"),
        ({"WAYLAND_DISPLAY": "wayland-0", "SDL_VIDEODRIVER": "wayland"}, "Wayland without XWayland"),
        ({"DISPLAY": ":4711"}, "x11 not available"),
        ({"SDL_VIDEODRIVER": "nonsense"}, "nonsense not available"),
    ],
)
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="of X11 and Wayland")
def test_without_a_screen_one_line_says_so(more: dict[str, str], why: str) -> None:
    with running("child", plain_environment(**more)) as child:
        out, errors, code = child.end()
    assert out == f"no screen ({why}): the overlay is off; start it from a desktop, or choose --no-overlay\n"
    assert (errors, code) == ("", 0)


def test_a_driver_that_the_person_chose_stays() -> None:
    with running("child", plain_environment(SDL_VIDEODRIVER="dummy")) as child:
        assert child.line() == "open"
        child.say("-0.6")
        child.say("end")
        assert child.end() == ("ended\n", "", 0)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="of X11 and Wayland")
@pytest.mark.parametrize(
    ("chosen", "display", "driver"),
    [
        (None, ":0", "x11"),
        ("", ":0", "x11"),
        ("wayland,x11", ":0", "x11"),
        ("x11", ":0", "x11"),
        ("dummy", "", "dummy"),
    ],
)
def test_the_driver_is_x11_unless_another_was_chosen(
    monkeypatch: pytest.MonkeyPatch, chosen: str | None, display: str, driver: str
) -> None:
    monkeypatch.setenv("DISPLAY", display)
    monkeypatch.setenv("SDL_VIDEODRIVER", chosen or "")
    if chosen is None:
        monkeypatch.delenv("SDL_VIDEODRIVER")
    choose_driver()
    assert os.environ["SDL_VIDEODRIVER"] == driver


def test_without_a_display_the_driver_is_not_touched(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"):
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(WorkError, match="DISPLAY is not set"):
        choose_driver()
    assert "SDL_VIDEODRIVER" not in os.environ
