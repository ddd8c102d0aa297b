"""`cornerword place` as a process on X servers: real presses of mouse and keyboard by XTEST, and the picture read back.

Game controllers cannot be had here; test_hand.py puts their events into SDL's own queue.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from coach.overlay.drawing import Drawing
from coach.overlay.palette import PLAIN, PLATE, RIM, Colour
from coach.overlay.placing import USUAL, Placing, load, save
from tests.overlay.children import PATIENCE, TOP, comes, running
from tests.overlay.fingers import Fingers
from tests.overlay.twomonitors import split
from tests.overlay.xserver import HEIGHT, WIDTH, XServer

PIXEL = 0.24
"""mm: then 30 arcmin from 0.7 m are 26 px (25.4 rounded up), and the scale is 1."""
SIZE = Drawing().size
LEFT, ABOVE = (WIDTH - SIZE[0]) // 2, round(0.02 * (HEIGHT - SIZE[1]))
"""Where the plate stands at first."""
GRIP = (LEFT + 20, ABOVE + 20)
FREE = (WIDTH - SIZE[0], HEIGHT - SIZE[1])


class Mode:
    """A running layout mode. `file` is what it writes."""

    def __init__(self, process: subprocess.Popen[str], x: XServer, file: Path) -> None:
        self.process, self.x, self.file = process, x, file

    def box(self, colour: Colour = PLAIN) -> tuple[int, int, int, int] | None:
        """px around all that has the colour, its frame's: left, top, right, bottom; None where nothing has it."""
        lit = (self.x.pixels() == colour).all(axis=2)
        rows, columns = lit.any(axis=1).nonzero()[0], lit.any(axis=0).nonzero()[0]
        if not len(rows):
            return None
        return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1

    def stands(self, left: int, top: int) -> bool:
        """Whether its upper left corner comes to be there."""
        return comes(lambda: (box := self.box()) is not None and max(abs(box[0] - left), abs(box[1] - top)) <= 1, 5)

    def end(self) -> tuple[str, str, int]:
        out, errors = self.process.communicate(timeout=PATIENCE)
        return out, errors, self.process.returncode


@contextmanager
def layout(x: XServer, folder: Path, *options: str) -> Iterator[Mode]:
    """It is open and seen."""
    file, settings = folder / "new" / "overlay.toml", folder / "settings.toml"
    settings.write_text(f"[overlay]\npixel = {PIXEL}\n")
    command = [sys.executable, "-m", "coach", "place", "--placing", str(file), "--settings", str(settings), *options]
    environment = {**x.environment(), "PYTHONPATH": str(TOP), "HOME": str(folder), "XDG_CONFIG_HOME": str(folder)}
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdout=pipe, stderr=pipe, text=True, env=environment, cwd=TOP) as process:
        try:
            assert process.stderr is not None
            assert process.stderr.readline().startswith("drag the overlay")
            mode = Mode(process, x, file)
            assert comes(lambda: mode.box() is not None), "no window"
            time.sleep(0.4)  # Enter does not count at once
            yield mode
        finally:
            process.kill()


def test_dragged_and_kept_it_is_in_the_file_and_the_next_overlay_stands_there(desktop: XServer, tmp_path: Path) -> None:
    with layout(desktop, tmp_path) as mode, Fingers(desktop.display) as fingers:
        assert mode.stands(LEFT, ABOVE)
        box = mode.box()
        assert box is not None and box[2] - box[0] == SIZE[0], "the plate's width"
        assert SIZE[1] < box[3] - box[1] < SIZE[1] + 60, "the plate and its strip"
        fingers.drag(GRIP, (GRIP[0] + 203, GRIP[1] + 161))
        assert mode.stands(LEFT + 203, ABOVE + 161)
        assert not mode.file.exists(), "nothing is written before it is kept"
        fingers.key("Return")
        out, errors, code = mode.end()
        assert (errors, code) == ("", 0)
        assert out == f"{mode.file}: main monitor, 69 % across, 31 % down, 30 arcmin\n"
        assert comes(lambda: mode.box() is None), "it has gone"
        kept = load(mode.file)
    assert kept.monitor is None and kept.size == USUAL
    assert kept.across == pytest.approx((LEFT + 203) / FREE[0], abs=1 / FREE[0])
    assert kept.down == pytest.approx((ABOVE + 161) / FREE[1], abs=1 / FREE[1])
    options = {"across": kept.across, "down": kept.down, "size": kept.size}
    with running("child", desktop.environment(), look={"pitch": PIXEL}, placing=options) as child:
        assert child.line() == "open"
        there = (LEFT + 203, ABOVE + 161, LEFT + 203 + SIZE[0], ABOVE + 161 + SIZE[1])
        assert comes(lambda: mode.box(RIM) == there, 5), f"{mode.box(RIM)}, not {there}"


def test_it_looks_as_in_a_drive_and_tells_that_it_is_the_layout_mode(x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode:
        assert mode.stands(LEFT, ABOVE)
        assert comes(lambda: tuple(x.pixels()[ABOVE + 10, LEFT + 10]) == PLATE)
        box = mode.box()
        assert box is not None
        left, top, right, bottom = box
        edges = x.pixels()[[top, bottom - 1], left:right], x.pixels()[top:bottom, [left, right - 1]]
        assert all((edge == PLAIN).all() for edge in edges), "a frame goes all round"
        strip = x.pixels()[ABOVE + SIZE[1] : bottom - 2, left + 2 : right - 2]
        assert (strip == PLAIN).all(axis=2).sum() > 100, "words stand in the strip"
        line = x.pixels()[ABOVE + SIZE[1] // 2, left + 4 : right - 4].astype(int)
        assert (line.max(axis=1) > 60).any(), "and the view on the plate"


def test_wheel_and_keys_size_and_move_it(x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode, Fingers(x.display) as fingers:
        fingers.move(*GRIP)
        for _ in range(5):
            fingers.wheel(up=True)
        fingers.wheel(up=False)
        fingers.key("plus", shift=True)
        fingers.key("minus")
        fingers.key("Right", shift=True)
        fingers.key("Right")
        fingers.key("Down")
        larger = Drawing(33 / 26).size  # 38 arcmin: 32.2 px, rounded up
        left, top = round(0.56 * (WIDTH - larger[0])), round(0.03 * (HEIGHT - larger[1]))
        assert mode.stands(left, top)
        box = mode.box()
        assert box is not None and box[2] - box[0] == larger[0]
        fingers.key("Return")
        assert mode.end()[2] == 0
    assert load(mode.file) == Placing(None, 0.56, 0.03, USUAL + 8)


def test_a_double_click_keeps_it(x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode, Fingers(x.display) as fingers:
        fingers.drag(GRIP, (GRIP[0], GRIP[1] + 100))
        time.sleep(0.5)
        for _ in range(2):
            fingers.press()
            fingers.release()
        assert mode.end()[2] == 0
    assert load(mode.file).down == pytest.approx((ABOVE + 100) / FREE[1], abs=1 / FREE[1])


def test_escape_leaves_the_file_as_it_was(x: XServer, tmp_path: Path) -> None:
    before = Placing(None, 0.25, 0.75, 40.0)
    save(tmp_path / "new" / "overlay.toml", before)
    with layout(x, tmp_path) as mode, Fingers(x.display) as fingers:
        fingers.key("Left")
        fingers.key("Escape")
        assert mode.end() == ("the overlay stays as it was: main monitor, 25 % across, 75 % down, 40 arcmin\n", "", 0)
    assert load(mode.file) == before


def test_at_the_lower_edge_the_strip_stands_above_the_plate(x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode, Fingers(x.display) as fingers:
        fingers.drag(GRIP, (GRIP[0], HEIGHT - 5))
        top = HEIGHT - SIZE[1]
        assert comes(lambda: (box := mode.box()) is not None and box[3] == HEIGHT)
        box = mode.box()
        assert box is not None and top - 60 < box[1] < top
        assert comes(lambda: tuple(x.pixels()[top + 10, LEFT + 10]) == PLATE)


@pytest.mark.parametrize("by_hand", [False, True])
def test_it_goes_to_the_other_monitor(by_hand: bool, x: XServer, tmp_path: Path) -> None:
    split(x.display, 700, WIDTH, HEIGHT)
    with layout(x, tmp_path) as mode, Fingers(x.display) as fingers:
        left = (700 - SIZE[0]) // 2
        assert mode.stands(left, ABOVE)
        if by_hand:
            fingers.drag((left + 20, ABOVE + 20), (960, 360))
            assert mode.stands(940, 340)
        else:
            fingers.key("Tab")
            assert mode.stands(700 + (WIDTH - 700 - SIZE[0]) // 2, ABOVE)
        fingers.key("Return")
        assert mode.end()[2] == 0
    assert load(mode.file).monitor == "right"


def test_it_is_closed_like_other_windows(managed: XServer, tmp_path: Path) -> None:
    with layout(managed, tmp_path) as mode, Fingers(managed.display) as fingers:
        fingers.close_window()
        out, errors, code = mode.end()
    assert (out[:28], errors, code) == ("the overlay stays as it was:", "", 0)
    assert not mode.file.exists()


def test_ctrl_c_ends_it(x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode:
        mode.process.send_signal(signal.SIGINT)
        assert mode.end() == ("", "cornerword: stopped before the end\n", 1)
        assert not mode.file.exists()


@pytest.mark.parametrize("held", [False, True])
def test_a_display_that_goes_away_ends_it(held: bool, x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode:
        if held:
            with Fingers(x.display) as fingers:
                fingers.drag(GRIP, (GRIP[0] + 90, GRIP[1] + 90), release=False)
        x.process.kill()
        x.process.wait(PATIENCE)
        assert mode.end() == ("", "cornerword: the display went away: the placing is left as it was\n", 1)
    assert not mode.file.exists()


def test_a_disk_that_refuses_is_told(x: XServer, tmp_path: Path) -> None:
    with layout(x, tmp_path) as mode, Fingers(x.display) as fingers:
        mode.file.parent.write_text("in the way of the folder")
        fingers.key("Return")
        out, errors, code = mode.end()
    assert (out, code) == ("", 1)
    assert errors == f"cornerword: placing {mode.file}: not written (File exists); make room, or name another\n"
