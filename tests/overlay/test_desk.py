"""The overlay as an ordinary window, and full screen: for a second screen, or another PC."""

from __future__ import annotations

import errno
import json
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from Xlib import XK, X
from Xlib.display import Display
from Xlib.ext import xtest
from Xlib.protocol import event

from coach.overlay import kept
from coach.overlay.drawing import HEIGHT as PLATE_HEIGHT
from coach.overlay.drawing import WIDTH as PLATE_WIDTH
from coach.overlay.icon import SIZE
from coach.overlay.palette import AHEAD, PLAIN, PLATE
from coach.overlay.remembered import WindowPlace, read, write
from tests.overlay.children import Child, comes, running
from tests.overlay.screens import screens
from tests.overlay.xserver import HEIGHT, WIDTH, XServer

USUAL = (320, 85, 640, 550)
"""left, top, width, height of the first one: in the middle of the screen"""
Place = tuple[int, int, int, int]


class Windows:
    """What the window manager has of the overlay's window."""

    def __init__(self, display: Display) -> None:
        self._display = display
        self._root = display.screen().root

    def _atom(self, name: str) -> int:
        atom: int = self._display.intern_atom(name)
        return atom

    def _property(self, name: str) -> list[int]:
        return self.given(name, self._root)

    def window(self) -> Any:
        """The only one that is managed."""
        (number,) = self._property("_NET_CLIENT_LIST")
        return self._display.create_resource_object("window", number)

    def given(self, name: str, window: Any) -> list[int]:
        """What a property of a window holds."""
        found = window.get_full_property(self._atom(name), X.AnyPropertyType)
        return [] if found is None else list(found.value)

    def active(self) -> bool:
        """Whether it has the keyboard."""
        return self._property("_NET_ACTIVE_WINDOW") == [self.window().id]

    def place(self) -> Place:
        """Of its inside, px of the desktop."""
        window = self.window()
        shape, corner = window.get_geometry(), self._root.translate_coords(window, 0, 0)
        return corner.x, corner.y, shape.width, shape.height

    def put(self, place: Place) -> None:
        """As a person does who moves and resizes it: by the window manager (EWMH, _NET_MOVERESIZE_WINDOW; static
        gravity, so that the inside is meant)."""
        self._tell("_NET_MOVERESIZE_WINDOW", 10 | 0xF00 | 2 << 12, *place)

    def close(self) -> None:
        """As a person does."""
        self._tell("_NET_CLOSE_WINDOW", X.CurrentTime, 2, 0, 0, 0)

    def press(self, name: str) -> None:
        """A key."""
        code = self._display.keysym_to_keycode(XK.string_to_keysym(name))
        for kind in (X.KeyPress, X.KeyRelease):
            xtest.fake_input(self._display, kind, code)
        self._display.sync()

    def _tell(self, what: str, *data: int) -> None:
        mask = X.SubstructureRedirectMask | X.SubstructureNotifyMask
        message = event.ClientMessage(window=self.window(), client_type=self._atom(what), data=(32, list(data)))
        self._root.send_event(message, event_mask=mask)
        self._display.sync()


@contextmanager
def windows(x: XServer) -> Iterator[Windows]:
    display = Display(x.display)
    try:
        yield Windows(display)
    finally:
        display.close()


@contextmanager
def desk(x: XServer, **options: object) -> Iterator[tuple[Child, Windows]]:
    with running("child", x.environment(), **options) as child, windows(x) as shown:
        assert child.line() == "open"
        yield child, shown


def fitted(place: Place) -> Place:
    """Where the plate is in a window: as large as fits, in the middle."""
    scale = min(place[2] / PLATE_WIDTH, place[3] / PLATE_HEIGHT)
    width, height = round(PLATE_WIDTH * scale), round(PLATE_HEIGHT * scale)
    return place[0] + (place[2] - width) // 2, place[1] + (place[3] - height) // 2, width, height


def shows(x: XServer, place: Place) -> bool:
    """Whether the window there holds the plate, and nothing else."""
    left, top, width, height = fitted(place)
    inside = x.pixels()[place[1] : place[1] + place[3], place[0] : place[0] + place[2]].copy()
    across, down = left - place[0], top - place[1]
    plate = inside[down : down + height, across : across + width]
    dark = plate[4:-4, 4:-4].reshape(-1, 3)
    lit = (plate > 0).any(axis=2).mean() > 0.999  # the mouse pointer may stand on it
    is_plate = bool(lit) and bool((np.sort(dark, axis=0)[len(dark) // 4] == PLATE).all())
    plate[:] = 0
    return is_plate and not inside.any()


def test_an_ordinary_window_shows_the_plate_as_large_as_fits_and_takes_the_keyboard_as_any(managed: XServer) -> None:
    with desk(managed, kind="window") as (child, shown):
        assert comes(shown.active)
        assert shown.place() == USUAL
        assert comes(lambda: shows(managed, USUAL))
        assert child.process.poll() is None


def test_its_icon_is_our_own(managed: XServer) -> None:
    """_NET_WM_ICON of the EWMH: width, height and a pixel a number, alpha highest."""
    with desk(managed, kind="window") as (_, shown):
        assert comes(shown.active)
        width, height, *pixels = shown.given("_NET_WM_ICON", shown.window())
        assert (width, height, len(pixels)) == (SIZE, SIZE, SIZE * SIZE)
        colours = {divmod(pixel, 1 << 24) for pixel in pixels}
        assert {alpha for alpha, _ in colours} == {255}
        assert {int.from_bytes(bytes(colour)) for colour in (PLATE, AHEAD, PLAIN)} <= {colour for _, colour in colours}


@pytest.mark.parametrize("kind", ["window", "screen"])
def test_the_desktop_keeps_its_compositor(kind: str, managed: XServer) -> None:
    """_NET_WM_BYPASS_COMPOSITOR of the EWMH: 1 asks the window manager to switch it off."""
    with desk(managed, kind=kind) as (_, shown):
        assert comes(shown.active)
        assert shown.given("_NET_WM_BYPASS_COMPOSITOR", shown.window()) in ([], [0])


def test_a_full_screen_one_stays_where_the_simulator_takes_the_keyboard(managed: XServer) -> None:
    """WM_STATE of the ICCCM, 4.1.3.1: 1 is normal, 3 iconic."""
    with desk(managed, kind="screen") as (_, shown):
        assert comes(shown.active)
        own = shown.window()
        with running("cover", managed.environment()) as simulator:
            assert simulator.line() == "open"
            assert comes(lambda: simulator.ask("keyboard") == "keyboard True")
            time.sleep(0.5)  # SDL takes 0.2 s before it lets a window shrink that lost the keyboard
            assert shown.given("WM_STATE", own)[0] == 1


def test_another_size_is_drawn_at_once(managed: XServer) -> None:
    with desk(managed, kind="window") as (child, shown):
        assert comes(lambda: shows(managed, USUAL))
        for place in [(100, 100, 900, 400), (100, 100, 250, 500), (60, 60, 1000, 640)]:
            shown.put(place)
            assert comes(lambda: shown.place() == place)  # noqa: B023 (asked at once)
            assert comes(lambda: shows(managed, place), within=1.5)  # noqa: B023
        child.say("-0.6")
        line, middle = 60 + 640 // 2, 60 + 1000 // 2
        assert comes(lambda: managed.pixels()[line - 100, middle, 2] > 120), "and it goes on as before"


def test_closing_it_ends_the_overlay_only(managed: XServer) -> None:
    with desk(managed, kind="window") as (child, shown):
        assert comes(shown.active)
        shown.close()
        assert child.line() == "its window was closed: the overlay is off, the session goes on"
        assert child.line() == "session still runs"
        assert child.end() == ("", "", 0)


@pytest.mark.parametrize("closing", ["end", "close"])
def test_it_opens_again_where_it_was(managed: XServer, tmp_path: Path, closing: str) -> None:
    remember = tmp_path / "new folder" / "window.json"
    place = (333, 222, 500, 300)
    with desk(managed, kind="window", remember=str(remember)) as (child, shown):
        assert comes(shown.active)
        shown.put(place)
        assert comes(lambda: shown.place() == place and shows(managed, place))
        if closing == "end":
            child.say("end")
        else:
            shown.close()
        assert child.end()[1:] == ("", 0)
    assert [file.name for file in remember.parent.iterdir()] == ["window.json"]
    for _ in range(2):  # and it does not wander
        with desk(managed, kind="window", remember=str(remember)) as (child, shown):
            assert comes(shown.active)
            assert shown.place() == place
            assert comes(lambda: shows(managed, place))
            child.say("end")
            assert child.end() == ("ended\n", "", 0)


def test_a_place_on_a_monitor_that_is_gone_is_not_taken(managed: XServer, tmp_path: Path) -> None:
    remember = tmp_path / "window.json"
    write(remember, WindowPlace(1900, 200, 500, 300), print)
    with desk(managed, kind="window", remember=str(remember)) as (_, shown):
        assert comes(shown.active)
        assert shown.place() == USUAL


def test_full_screen_fills_the_monitor_and_escape_ends_the_overlay_only(managed: XServer) -> None:
    with desk(managed, kind="screen") as (child, shown):
        assert comes(shown.active)
        assert comes(lambda: shows(managed, (0, 0, WIDTH, HEIGHT)))
        shown.press("a")
        time.sleep(0.2)
        shown.press("Escape")
        assert child.line() == "its window was closed: the overlay is off, the session goes on"
        assert child.line() == "session still runs"


@pytest.mark.parametrize("name", ["left", "right", "gone"])
def test_full_screen_is_on_the_monitor_of_the_placing(x: XServer, name: str) -> None:
    with screens(x.display) as plugs:
        plugs.set("left", (0, 0), (800, 720), (200, 180), primary=True)
        plugs.set("right", (800, 0), (480, 720), (120, 180))
        with running("child", x.environment(), kind="screen", placing={"monitor": name}) as child:
            if name == "gone":
                assert child.line() == "no monitor is named gone: the overlay is on left"
            assert child.line() == "open"
            place = (800, 0, 480, 720) if name == "right" else (0, 0, 800, 720)
            assert comes(lambda: shows(x, place))
            elsewhere = x.pixels().copy()
            elsewhere[:, place[0] : place[0] + place[2]] = 0
            assert not elsewhere.any()


def told(work: Callable[[Callable[[str], None]], object]) -> list[str]:
    lines: list[str] = []
    work(lines.append)
    return lines


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("{", "Invalid JSON"),
        ("[]", "object"),
        ('{"left": 1, "top": 2, "width": 300}', "height: Field required"),
        ('{"left": 1, "top": 2, "width": 3, "height": 400}', "width: Input should be greater than or equal to 64"),
        ('{"left": 1, "top": 1e9, "width": 300, "height": 400}', "top: "),
        ('{"left": 1, "top": 2, "width": 300, "height": NaN}', "height: "),
    ],
)
def test_a_file_that_is_not_right_costs_one_line(tmp_path: Path, text: str, why: str) -> None:
    path = tmp_path / "window.json"
    path.write_text(text)
    (line,) = told(lambda say: read(path, say))
    assert line.startswith(f"{path}: ")
    assert why in line
    assert line.endswith("; the overlay's window opens in its usual place")
    assert "\n" not in line


def test_what_is_written_is_read(tmp_path: Path) -> None:
    path, place = tmp_path / "window.json", WindowPlace(-1900, 20, 500, 300)
    assert told(lambda say: write(path, place, say)) == []
    assert read(path, print) == place
    assert json.loads(path.read_text()) == {"left": -1900, "top": 20, "width": 500, "height": 300}


def test_a_disk_that_fills_up_leaves_the_old_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, place = tmp_path / "window.json", WindowPlace(10, 20, 500, 300)
    write(path, place, print)

    def half(number: int) -> None:
        os.ftruncate(number, os.fstat(number).st_size // 2)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(kept.os, "fsync", half)
    (line,) = told(lambda say: write(path, WindowPlace(0, 0, 640, 480), say))
    assert line == f"{path}: {os.strerror(errno.ENOSPC)}; the place of the overlay's window is not remembered"
    assert read(path, print) == place
    assert list(tmp_path.iterdir()) == [path]


def test_a_place_that_cannot_be_kept_costs_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for path in (tmp_path / "file" / "window.json", tmp_path):
        (line,) = told(lambda say: write(path, WindowPlace(0, 0, 500, 300), say))  # noqa: B023 (asked at once)
        assert line.startswith(f"{path}: ")
        assert line.endswith("; the place of the overlay's window is not remembered")
        assert list(tmp_path.iterdir()) == [tmp_path / "file"]
