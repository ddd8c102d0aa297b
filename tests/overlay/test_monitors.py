"""The monitors that there are, and an overlay that follows its own."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest

from coach.overlay.drawing import Drawing
from coach.overlay.monitors import Monitor, believed, of_outputs, of_screens, pick
from coach.overlay.native.randr import Output
from coach.overlay.native.sdl import Screen
from coach.overlay.native.x11 import X11
from coach.overlay.placing import Placing
from tests.overlay.children import comes, running
from tests.overlay.screens import Screens, screens
from tests.overlay.xserver import XServer

OUTPUT = Output("made", 0, 0, 2560, 1440, 597, 336, False)
"""27 inches: sqrt(597^2 + 336^2) = 685 mm = 27.0 in"""
MONITOR = Monitor("left", 0, 0, 800, 720, 0.25, True)
BESIDE = Monitor("right", 800, 0, 480, 720, 0.25, False)


@pytest.fixture
def connection(x: XServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[X11]:
    monkeypatch.setenv("DISPLAY", x.display)
    with closing(X11()) as opened:
        yield opened


def test_x11_tells_its_monitors_as_they_are_now(x: XServer, connection: X11) -> None:
    with screens(x.display) as plugs:
        plugs.set("left", (0, 0), (800, 720), (200, 180))
        plugs.set("right", (800, 0), (480, 720), (120, 180), primary=True)
        told = of_outputs(connection.monitors())
        assert sorted(told, key=lambda one: one.left) == [
            replace(MONITOR, main=False),
            replace(BESIDE, main=True),
        ]
        plugs.unplug("right")
        assert of_outputs(connection.monitors()) == [MONITOR]
        plugs.set("left", (0, 0), (1024, 600), (0, 0))
        assert of_outputs(connection.monitors()) == [Monitor("left", 0, 0, 1024, 600, None, True)]


def test_a_closed_connection_tells_nothing(connection: X11) -> None:
    connection.close()
    with pytest.raises(OSError, match="went away"):
        connection.monitors()


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "pitch"),
    [
        (597, 336, 0.2332),
        (0, 0, None),
        (597, 0, None),
        (160, 90, None),  # a ratio
        (1600, 900, None),
        (60, 34, None),  # 0.023 mm
        (6000, 3375, None),  # 2.3 mm
        (597, 450, None),  # pixels that are not square
    ],
)
def test_a_size_that_cannot_be_is_not_believed(width_mm: int, height_mm: int, pitch: float | None) -> None:
    (told,) = of_outputs([replace(OUTPUT, width_mm=width_mm, height_mm=height_mm)])
    assert told.pitch == (None if pitch is None else pytest.approx(pitch, abs=1e-4))


@pytest.mark.parametrize(
    ("pitch", "kept"),
    [(0.05, True), (2.0, True), (0.0499, False), (2.01, False), (0.0, False), (-0.2, False), (float("nan"), False)],
)
def test_pitches_between_a_phone_and_a_video_wall_are_believed(pitch: float, kept: bool) -> None:
    assert believed(pitch) == (pitch if kept else None)


def test_each_monitor_has_a_name_of_its_own_and_one_is_the_main_one() -> None:
    told = of_screens(
        [Screen("same", left, 0, 800, 600, 0.25) for left in (0, 800, 1600)] + [Screen("", 0, 0, 9, 9, 0)]
    )
    assert [one.name for one in told] == ["same", "same 2", "same 3", "4"]
    assert [one.main for one in told] == [True, False, False, False]
    assert [one.main for one in of_outputs([OUTPUT, replace(OUTPUT, name="other")])] == [True, False]


@pytest.mark.skipif(sys.platform == "win32", reason="the panel's own is asked for there")
def test_sdls_pitch_is_looked_at_too() -> None:
    told = of_screens([Screen("a", 0, 0, 800, 600, 0.25), Screen("b", 0, 0, 800, 600, 9.0)])
    assert [one.pitch for one in told] == [0.25, None]


def test_the_chosen_monitor_is_taken_by_its_name_and_the_main_one_stands_in() -> None:
    both = [BESIDE, MONITOR]
    assert pick(both, "right") == (BESIDE, True)
    assert pick(both, None) == (MONITOR, True)
    assert pick(both, "gone") == (MONITOR, False)
    assert pick([BESIDE], "gone") == (BESIDE, False)


@pytest.mark.parametrize(
    ("across", "down", "corner"),
    [(0.0, 0.0, (800, 0)), (1.0, 1.0, (1180, 620)), (0.5, 0.02, (990, 12))],
)
def test_the_place_is_a_share_of_the_free_room(across: float, down: float, corner: tuple[int, int]) -> None:
    assert BESIDE.corner((100, 100), Placing(across=across, down=down)) == corner
    assert BESIDE.corner((500, 800), Placing(across=across, down=down)) == (800, 0), "what is too large begins there"


def lit(x: XServer) -> tuple[int, int, int, int] | None:
    """left, top, width and height of all that is not black on the screen."""
    rows, columns = np.nonzero(x.pixels().max(axis=2))
    if not len(rows):
        return None
    return (
        int(columns.min()),
        int(rows.min()),
        int(columns.max() - columns.min()) + 1,
        int(rows.max() - rows.min()) + 1,
    )


def where(left: int, top: int, scale: float) -> tuple[int, int, int, int]:
    return (left, top, *Drawing(scale).size)


def plug_both(plugs: Screens) -> None:
    """The right one is coarser: of 0.24 mm 26 px are seen under 30 arcmin from 0.7 m, of 0.48 mm 13 are."""
    plugs.set("left", (0, 0), (800, 720), (192, 173), primary=True)
    plugs.set("right", (800, 0), (480, 720), (230, 346))


def test_the_overlay_follows_its_monitor_and_waits_on_the_main_one_while_it_is_away(x: XServer) -> None:
    """Within a second, in the size for either."""
    width, height = Drawing(0.5).size
    on_the_right = where(800 + 480 - width, 720 - height, 0.5)
    whole_width, whole_height = Drawing(1.0).size
    on_the_left = where(800 - whole_width, 720 - whole_height, 1.0)
    with screens(x.display) as plugs:
        plug_both(plugs)
        placing = {"monitor": "right", "across": 1.0, "down": 1.0}
        with running("child", x.environment(), placing=placing) as child:
            assert child.line() == "open"
            assert comes(lambda: lit(x) == on_the_right)
            plugs.unplug("right")
            assert comes(lambda: lit(x) == on_the_left, within=1.5)
            assert child.line() == "no monitor is named right: the overlay is on left"
            plugs.set("right", (800, 0), (480, 720), (230, 346))
            assert comes(lambda: lit(x) == on_the_right, within=1.5)
            child.say("end")
            assert child.end() == ("ended\n", "", 0)


def test_the_overlay_follows_another_resolution(x: XServer) -> None:
    width, height = Drawing(1.0).size
    with screens(x.display) as plugs:
        plugs.set("left", (0, 0), (800, 720), (192, 173))
        with running("child", x.environment(), placing={"across": 1.0, "down": 1.0}) as child:
            assert child.line() == "open"
            assert comes(lambda: lit(x) == where(800 - width, 720 - height, 1.0))
            plugs.set("left", (0, 0), (1000, 500), (240, 120))
            assert comes(lambda: lit(x) == where(1000 - width, 500 - height, 1.0), within=1.5)


def test_a_monitor_that_is_not_there_at_the_start_is_told(x: XServer) -> None:
    with running("child", x.environment(), placing={"monitor": "lent"}) as child:
        assert child.line() == "no monitor is named lent: the overlay is on screen"
        assert child.line() == "open"
