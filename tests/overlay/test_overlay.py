"""The loop that draws, on a screen that only counts: when it draws, when it ends, and what it says then."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from coach.overlay import overlay as overlay_module
from coach.overlay.drawing import Drawing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.overlay import Overlay, open_overlay
from coach.overlay.toolkit import pygame
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Delta, Event, Moment, Reference
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import lap_trace

TRACE: LapTrace = lap_trace()


class CountingScreen:
    """A screen without a window. `ended` is why it ended; `failing` is raised when something is shown."""

    def __init__(self) -> None:
        self.surface = pygame.Surface(Drawing().size)
        self.ended: str | None = None
        self.failing: Exception | None = None
        self.again = False
        self.looks = self.shown = self.lifted = self.closed = 0

    def exposed(self) -> bool:
        self.looks += 1
        return self.again

    def show(self) -> None:
        if self.failing is not None:
            raise self.failing
        self.shown += 1

    def lift(self) -> None:
        self.lifted += 1

    def close(self) -> None:
        self.closed += 1


class BrokenKeeper(ViewKeeper):
    def take(self, event: Event) -> None:  # type: ignore[override]
        raise ZeroDivisionError("of all things")


def made(keeper: ViewKeeper | None = None) -> tuple[Overlay, CountingScreen, list[str]]:
    screen, lines = CountingScreen(), list[str]()
    return Overlay(screen, Drawing(), keeper or ViewKeeper(), lines.append), screen, lines


def after(seconds: float) -> Callable[[], bool]:
    end = time.monotonic() + seconds
    return lambda: time.monotonic() >= end


def feed(overlay: Overlay, delta: float, t: float = 10.0) -> None:
    overlay.take(Reference(0.0, 1, TRACE.time[-1], "made", TRACE))
    overlay.take(Delta(t, 1, 520.0, delta))
    overlay.take(Moment(t, 1, 520.0, 25.0, 0.3, 0.0, 20.0))


def test_it_draws_only_when_the_picture_changes() -> None:
    overlay, screen, _ = made()
    assert [overlay.step(frame / 30) for frame in range(5)] == [True, False, False, False, False]
    feed(overlay, -0.5)
    steps = [overlay.step((5 + frame) / 30) for frame in range(60)]
    assert sum(steps[:15]) > 5
    assert not any(steps[40:])
    assert screen.shown == 1 + sum(steps)


def test_it_draws_again_what_was_uncovered() -> None:
    overlay, screen, _ = made()
    overlay.step(0.0)
    screen.again = True
    assert overlay.step(0.1)
    screen.again = False
    assert not overlay.step(0.2)


def test_it_sleeps_between_frames_and_lifts_the_window_twice_a_second() -> None:
    overlay, screen, lines = made()
    spent = time.thread_time()
    overlay.run(after(1.2), fps=20)
    assert screen.looks <= 26
    assert screen.lifted == 2
    assert time.thread_time() - spent < 0.5
    assert (screen.closed, lines) == (1, [])


def test_what_the_engines_thread_sends_is_drawn_by_the_main_one() -> None:
    overlay, screen, _ = made()
    began = threading.Event()

    def engine() -> None:
        for sample in range(120):
            feed(overlay, -0.01 * sample, 10.0 + sample / 200)
            began.set()
            time.sleep(0.003)

    thread = threading.Thread(target=engine)
    thread.start()
    began.wait(5.0)
    overlay.run(lambda: not thread.is_alive())
    thread.join()
    assert screen.shown > 2
    middle = screen.surface.get_width() // 2
    assert screen.surface.get_at((middle, screen.surface.get_height() // 2 - 20))[2] > 100


@pytest.mark.parametrize("why", ["its window was closed", "the display went away"])
def test_a_window_that_ends_is_told_in_one_line(why: str) -> None:
    overlay, screen, lines = made()
    screen.ended = why
    overlay.run(lambda: False)
    assert lines == [f"{why}: the overlay is off, the session goes on"]
    assert screen.closed == 1
    overlay.take(Delta(11.0, 1, 530.0, -0.4))  # the engine goes on sending


@pytest.mark.parametrize(
    ("failing", "told"),
    [
        (pygame.error("video system not initialized"), "video system not initialized"),
        (ValueError("not a rectangle"), "a bug, ValueError: not a rectangle"),
    ],
)
def test_an_error_while_drawing_is_told_in_one_line(failing: Exception, told: str) -> None:
    overlay, screen, lines = made()
    screen.failing = failing
    overlay.run(lambda: False)
    assert lines == [f"{told}: the overlay is off, the session goes on"]
    assert screen.closed == 1


def test_a_bug_in_the_view_reaches_neither_the_engine_nor_the_driver() -> None:
    overlay, screen, lines = made(BrokenKeeper())
    for _ in range(3):
        feed(overlay, -0.5)
    overlay.run(lambda: False)
    assert lines == ["a bug, ZeroDivisionError: of all things: the overlay is off, the session goes on"]
    assert screen.closed == 1


def test_an_interrupt_still_closes_the_window() -> None:
    overlay, screen, lines = made()

    def interrupted() -> bool:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        overlay.run(interrupted)
    assert (screen.closed, lines) == (1, [])


@pytest.mark.parametrize("scale", [0.0, -1.0, 0.4, 6.5, float("nan"), float("inf")])
def test_a_scale_that_does_not_serve_is_refused(scale: float) -> None:
    with pytest.raises(InputError, match=r"the overlay's scale is .*: choose one from 0\.5 to 6"):
        open_overlay(print, scale=scale)


def test_two_packages_that_write_the_same_files_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    lines: list[str] = []
    monkeypatch.setattr(overlay_module, "OverlayWindow", lambda size, place: CountingScreen())
    monkeypatch.setattr("coach.overlay.toolkit.distribution", lambda name: name)
    open_overlay(lines.append)
    (line,) = lines
    assert line.startswith("pygame and pygame-ce are both installed and overwrite each other: run `pip uninstall")
