"""The real window at the edge of the eye, in a process of its own, on X servers whose picture is read back."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import numpy.typing as npt
import pytest

from coach.overlay.display import choose_driver, hinted
from coach.overlay.drawing import Drawing
from coach.overlay.look import OPACITY
from coach.overlay.palette import PLATE
from coach.vocabulary.errors import WorkError
from tests.overlay.children import PATIENCE, Child, comes, plain_environment, running
from tests.overlay.cover import COLOUR
from tests.overlay.mouse import Mouse
from tests.overlay.xserver import HEIGHT, WIDTH, XServer

SIZE = Drawing().size
LEFT, ABOVE = (WIDTH - SIZE[0]) // 2, round(0.02 * (HEIGHT - SIZE[1]))
LOOK = {"pitch": 0.24}
"""mm: on such a screen 30 arcmin from 0.7 m are 26 px (25.4 rounded up), so that the scale is 1."""
MIDDLE, LINE = SIZE[0] // 2, SIZE[1] // 2


def at(x: XServer, right: int, down: int) -> tuple[int, ...]:
    """The colour of the screen, px from where the window's corner should be."""
    return tuple(int(value) for value in x.pixels()[ABOVE + down, LEFT + right])


def near(colour: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """To what two roundings to whole levels can do."""
    return max(abs(a - b) for a, b in zip(colour, other, strict=True)) <= 2


def seen_through(ground: tuple[int, ...]) -> tuple[int, ...]:
    """The plate over `ground`: the Porter-Duff operator "over", on sRGB levels as compositors mix them."""
    return tuple(round(OPACITY * plate + (1.0 - OPACITY) * under) for plate, under in zip(PLATE, ground, strict=True))


def plate_on(x: XServer) -> tuple[int, ...]:
    """How the plate looks over the cover on this desktop."""
    return seen_through(COLOUR) if x.composited else PLATE


def is_blue(colour: tuple[int, ...]) -> bool:
    return colour[2] > colour[0] + 60 and colour[2] > 120


def settled(x: XServer) -> npt.NDArray[np.int64]:
    """The window's picture when nothing moves in it any more."""
    before, until = None, time.monotonic() + PATIENCE
    while time.monotonic() < until:
        picture = x.pixels()[ABOVE : ABOVE + SIZE[1], LEFT : LEFT + SIZE[0]].astype(np.int64)
        if before is not None and (picture == before).all():
            return picture
        before = picture
        time.sleep(0.3)
    raise AssertionError("it does not come to rest")


@contextmanager
def overlay(x: XServer) -> Iterator[Child]:
    with running("child", x.environment(), look=LOOK) as child:
        assert child.line() == "open"
        yield child


@contextmanager
def cover(x: XServer, full: bool = False) -> Iterator[Child]:
    """It is open, seen, and has the keyboard."""
    with running("cover", x.environment(), full=full) as child:
        assert child.line() == "open"
        assert comes(lambda: x.pixels()[HEIGHT - 5, 5].tolist() == list(COLOUR))
        assert comes(lambda: child.ask("keyboard") == "keyboard True")
        yield child


def test_it_opens_at_the_top_in_the_middle_and_the_float_moves(x: XServer) -> None:
    with overlay(x) as child:
        assert comes(lambda: at(x, 3, 3) == PLATE)
        lit = x.pixels().max(axis=2) > 0
        assert lit[ABOVE : ABOVE + SIZE[1], LEFT : LEFT + SIZE[0]].all()
        assert lit.sum() == SIZE[0] * SIZE[1], "nothing but the window is on the screen"
        assert not is_blue(at(x, MIDDLE, LINE - 30))
        child.say("-0.6")
        assert comes(lambda: is_blue(at(x, MIDDLE, LINE - 30)))
        child.say("lost")
        assert comes(lambda: not is_blue(at(x, MIDDLE, LINE - 30)))
        child.say("end")
        assert child.end() == ("ended\n", "", 0)
        assert not (x.pixels().max(axis=2) > 0).any()


@pytest.mark.parametrize("full", [False, True])
def test_it_stays_above_a_window_that_comes_or_is_raised_later_and_leaves_it_the_keyboard(
    desktop: XServer, full: bool
) -> None:
    with overlay(desktop), cover(desktop, full) as under:
        assert comes(lambda: near(at(desktop, 3, 3), plate_on(desktop)))
        assert under.ask("raise") == "raise done"
        assert comes(lambda: near(at(desktop, 3, 3), plate_on(desktop)), within=2.0)
        assert under.ask("keyboard") == "keyboard True"


def test_clicks_go_through_it_and_it_takes_no_keyboard(desktop: XServer) -> None:
    with cover(desktop) as under, overlay(desktop), Mouse(desktop.display) as mouse:
        assert comes(lambda: near(at(desktop, 3, 3), plate_on(desktop)))
        assert comes(lambda: under.ask("keyboard") == "keyboard True")
        places = [(LEFT - 50, ABOVE + 3), (LEFT + MIDDLE, ABOVE + LINE), (LEFT + 3, ABOVE + 3)]
        for count, place in enumerate(places, 1):
            mouse.click(*place)
            assert comes(lambda: under.ask("clicks") == f"clicks {count}", within=3.0), place  # noqa: B023
        assert under.ask("keyboard") == "keyboard True"
        assert near(at(desktop, SIZE[0] - 4, SIZE[1] - 4), plate_on(desktop)), "and it is still on top"


def test_only_the_plate_is_seen_through(composited: XServer) -> None:
    with overlay(composited) as child:
        with cover(composited):
            child.say("-0.6")
            assert comes(lambda: is_blue(at(composited, MIDDLE, LINE - 30)))
            over_colour = settled(composited)
        assert comes(lambda: not near(at(composited, 3, 3), seen_through(COLOUR)))
        over_nothing, ground = settled(composited), tuple(composited.pixels()[HEIGHT - 5, 5].astype(int))
    assert near(tuple(over_colour[3, 3]), seen_through(COLOUR))
    assert not near(tuple(over_colour[3, 3]), PLATE), "the difference can be seen"
    assert near(tuple(over_nothing[3, 3]), seen_through(ground))
    float_colour = over_colour[LINE - 30, MIDDLE]
    assert is_blue(tuple(float_colour))
    assert near(tuple(float_colour), tuple(over_nothing[LINE - 30, MIDDLE])), "it is opaque"


def test_without_a_compositor_nothing_is_seen_through(managed: XServer) -> None:
    with cover(managed), overlay(managed):
        assert comes(lambda: at(managed, 3, 3) == PLATE)


@pytest.mark.parametrize("kind", ["edge", "window", "screen"])
def test_a_display_that_goes_away_ends_the_overlay_and_not_the_session(x: XServer, kind: str) -> None:
    with running("child", x.environment(), look=LOOK, kind=kind) as child:
        assert child.line() == "open"
        child.say("0.3")
        assert comes(lambda: bool((x.pixels() == PLATE).all(axis=2).any()))
        x.process.kill()
        x.process.wait(PATIENCE)
        assert child.line() == "the display went away: the overlay is off, the session goes on"
        assert child.line() == "session still runs"
        assert child.end() == ("", "", 0)


def test_a_display_that_is_gone_stays_so_whatever_is_opened_and_closed_on_it(x: XServer) -> None:
    with running("orphan", x.environment()) as child:
        assert child.line() == "open"
        x.process.kill()
        x.process.wait(PATIENCE)
        child.say("go on")
        assert [child.line() for _ in range(3)] == ["True"] * 3
        assert child.end() == ("", "", 0)


@pytest.mark.parametrize("kind", ["edge", "window", "screen"])
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
def test_without_a_screen_one_line_says_so(more: dict[str, str], why: str, kind: str) -> None:
    with running("child", plain_environment(**more), kind=kind) as child:
        out, errors, code = child.end()
    assert out == f"no screen ({why}): the overlay is off; start it from a desktop, or choose --no-overlay\n"
    assert (errors, code) == ("", 0)


@pytest.mark.parametrize("kind", ["edge", "window", "screen"])
def test_a_driver_that_the_person_chose_stays(kind: str) -> None:
    with running("child", plain_environment(SDL_VIDEODRIVER="dummy"), kind=kind) as child:
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


def test_hints_leave_the_environment_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_SET", "by the person")
    monkeypatch.delenv("SDL_NOT_SET", raising=False)
    before = dict(os.environ)
    with hinted({"SDL_SET": "1", "SDL_NOT_SET": "2"}):
        assert (os.environ["SDL_SET"], os.environ["SDL_NOT_SET"]) == ("by the person", "2")
    assert dict(os.environ) == before
    with pytest.raises(ValueError, match="inside"), hinted({"SDL_SET": "1"}, always=True):
        assert os.environ["SDL_SET"] == "1"
        raise ValueError("inside")
    assert dict(os.environ) == before
