"""The loop that draws, on a screen that only counts: when it draws, when it ends, and what it says then."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from coach.overlay import overlay as overlay_module
from coach.overlay.drawing import CAP_HEIGHT, Drawing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.monitors import Monitor
from coach.overlay.overlay import FPS, IDLE, Overlay, Sizes, open_overlay
from coach.overlay.sight import LEAST_PX
from coach.overlay.toolkit import pygame
from coach.vocabulary.errors import WorkError
from coach.vocabulary.events import Delta, Event, Moment, Reference, Stream
from coach.vocabulary.trace import LapTrace
from tests.planner.made_circuit import lap_trace

TRACE: LapTrace = lap_trace()


class CountingScreen:
    """A screen without a window. `ended` is why it ended; `failing` is raised when something is shown."""

    def __init__(self) -> None:
        self.scale = 1.0
        self.monitor = Monitor("made", 0, 0, 2560, 1440, None, True)
        self.surface = pygame.Surface((1, 1))
        self.seen = self.surface
        self.rects: list[Sequence[pygame.Rect] | None] = []
        self.ended: str | None = None
        self.failing: Exception | None = None
        self.again = False
        self.looks = self.shown = self.lifted = self.closed = 0

    def fit(self, size: tuple[int, int]) -> None:
        self.surface, self.seen = pygame.Surface(size), pygame.Surface(size)

    def exposed(self) -> bool:
        self.looks += 1
        return self.again

    def show(self, rects: Sequence[pygame.Rect] | None = None) -> None:
        if self.failing is not None:
            raise self.failing
        self.rects.append(rects)
        for rect in [self.surface.get_rect()] if rects is None else rects:
            self.seen.blit(self.surface, rect, rect)
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
    return Overlay(screen, Drawing, keeper or ViewKeeper(), lines.append), screen, lines


def after(seconds: float) -> Callable[[], bool]:
    end = time.monotonic() + seconds
    return lambda: time.monotonic() >= end


def feed(overlay: Overlay, delta: float, t: float = 10.0) -> None:
    overlay.take(Reference(0.0, 1, TRACE.time[-1], "made", TRACE))
    go_on(overlay, delta, t)


def go_on(overlay: Overlay, delta: float, t: float) -> None:
    overlay.take(Delta(t, 1, 520.0, delta))
    overlay.take(Moment(t, 1, 520.0, 25.0, 0.3, 0.0, 20.0))


def test_it_draws_only_when_the_picture_changes() -> None:
    overlay, screen, _ = made()
    for frame in range(5):
        overlay.step(frame / 60)
    assert screen.shown == 1
    feed(overlay, -0.5)
    drawn = []
    for frame in range(5, 240):
        before = screen.shown
        overlay.step(frame / 60)
        drawn.append(screen.shown > before)
    assert sum(drawn[:30]) > 10
    assert not any(drawn[180:])


def test_it_says_whether_something_moves_until_the_picture_is_that_of_the_goal() -> None:
    overlay, screen, _ = made()
    assert overlay.step(0.0), "the first picture is drawn"
    assert not overlay.step(1 / 60)
    feed(overlay, -0.5)
    frame = 2
    while overlay.step(frame / 60):
        frame += 1
        assert frame < 240
    settled = screen.surface.copy()
    for later in range(frame + 1, frame + 60):
        assert not overlay.step(later / 60)
    assert pygame.image.tobytes(settled, "RGB") == pygame.image.tobytes(screen.surface, "RGB")


def test_only_what_changed_goes_to_the_screen_and_it_is_all_that_changed() -> None:
    overlay, screen, _ = made()
    for frame in range(120):
        go_on(overlay, -0.005 * frame, 10.0 + frame / 60)
        overlay.step(frame / 60)
        assert pygame.image.tobytes(screen.seen, "RGB") == pygame.image.tobytes(screen.surface, "RGB")
    whole = screen.surface.get_rect()
    parts = [rects for rects in screen.rects[2:] if rects is not None and whole not in rects]
    assert len(parts) > 40, "most frames change a part"
    share = sum(rect.width * rect.height for rects in parts for rect in rects) / len(parts)
    assert share < 0.5 * whole.width * whole.height


def test_a_change_after_a_rest_begins_slowly_too() -> None:
    tops = []
    for rest in (1 / FPS, 5.0):
        overlay, screen, _ = made()
        feed(overlay, 0.0)
        for frame in range(300):
            overlay.step(frame / 60)
        feed(overlay, -0.9)
        overlay.step(299 / 60 + rest)
        tops.append(pygame.image.tobytes(screen.surface, "RGB"))
    assert tops[0] == tops[1]


def test_it_draws_again_what_was_uncovered() -> None:
    overlay, screen, _ = made()
    overlay.step(0.0)
    screen.surface.fill((9, 9, 9))
    screen.again = True
    overlay.step(0.1)
    assert screen.shown == 2
    assert screen.surface.get_at((9, 9))[:3] != (9, 9, 9), "all of it"
    screen.again = False
    overlay.step(0.2)
    assert screen.shown == 2


def test_it_takes_the_size_that_the_screen_asks_for() -> None:
    overlay, screen, _ = made()
    overlay.step(0.0)
    screen.scale = 2.0
    overlay.step(0.1)
    assert screen.surface.get_size() == Drawing(2.0).size
    assert screen.shown == 2
    overlay.step(0.2)
    assert screen.shown == 2


def test_while_nothing_moves_it_looks_rarely_and_lifts_the_window_twice_a_second() -> None:
    overlay, screen, lines = made()
    spent = time.thread_time()
    overlay.run(after(1.2))
    assert screen.looks <= 1.2 / IDLE + 4
    assert screen.lifted == 2
    assert time.thread_time() - spent < 0.3
    assert (screen.closed, lines) == (1, [])


def test_while_something_moves_it_draws_sixty_times_a_second_and_no_more() -> None:
    overlay, screen, _ = made()
    feed(overlay, 0.0)
    over = after(1.5)
    began = time.monotonic()

    def until() -> bool:
        feed(overlay, -0.9 if int((time.monotonic() - began) * 4) % 2 else 0.9, 10.0 + time.monotonic() - began)
        return over()

    overlay.run(until)
    assert 0.6 * 1.5 * 60 <= screen.looks <= 1.5 * 60 + 4, "at least most of them, on a busy machine"


def test_a_change_is_seen_at_once_though_nothing_moved() -> None:
    """Between two looks, that is, and not at the next one; the median of several is held, for busy machines."""
    overlay, screen, _ = made()
    waited: list[float] = []
    over = threading.Event()

    def engine() -> None:
        for change in range(9):
            time.sleep(0.3 + 0.003 * change)
            before, began = screen.shown, time.monotonic()
            overlay.take(Stream(0.0, 1, "lost" if change % 2 == 0 else "back", 0.0, None))
            while screen.shown == before and time.monotonic() < began + 1.0:
                time.sleep(0.0005)
            waited.append(time.monotonic() - began)
        over.set()

    thread = threading.Thread(target=engine)
    thread.start()
    overlay.run(over.is_set)
    thread.join()
    assert sorted(waited)[len(waited) // 2] < 1.0 / FPS


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


def without_a_screen() -> WorkError:
    """As Display raises it where another window cannot be opened."""
    error = WorkError("no screen (no video mode): the overlay is off; start it from a desktop, or choose --no-overlay")
    error.__cause__ = pygame.error("no video mode")
    return error


@pytest.mark.parametrize(
    ("failing", "told"),
    [
        (pygame.error("video system not initialized"), "video system not initialized"),
        (ValueError("not a rectangle"), "a bug, ValueError: not a rectangle"),
        (without_a_screen(), "no video mode"),
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


MONITOR = Monitor("made", 0, 0, 2560, 1440, 0.233, True)


@pytest.mark.parametrize(
    ("look", "monitor", "cap_height"),
    [
        # 2 x 700 mm x tan(15 arcmin) = 6.1087 mm; divided by the pitch and rounded up
        (Look(), MONITOR, 27),
        (Look(pitch=0.1), MONITOR, 62),
        (Look(), replace(MONITOR, pitch=0.15), 41),
        (Look(), replace(MONITOR, pitch=None), 27),
        (Look(distance=1.4), MONITOR, 53),
        (Look(pitch=2.0), MONITOR, LEAST_PX),
    ],
)
def test_the_scale_gives_a_digit_its_angle(look: Look, monitor: Monitor, cap_height: int) -> None:
    """Geometry as FHWA-RD-98-057 has it, worked by hand; 27 inches of 2560 x 1440 have pixels of 0.233 mm."""
    assert round(Sizes(look, 30.0).on(monitor) * CAP_HEIGHT, 6) == cap_height


def test_no_plate_is_larger_than_its_monitor() -> None:
    drawing = Drawing(Sizes(Look(distance=9.0), 120.0).on(MONITOR))
    assert drawing.size[0] <= MONITOR.width
    assert drawing.size[1] <= MONITOR.height
    assert drawing.size[1] > 0.98 * MONITOR.height


def test_two_packages_that_write_the_same_files_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    lines: list[str] = []
    monkeypatch.setattr(overlay_module, "OverlayWindow", lambda *_: CountingScreen())
    monkeypatch.setattr("coach.overlay.toolkit.distribution", lambda name: name)
    open_overlay(lines.append)
    (line,) = lines
    assert line.startswith("pygame and pygame-ce are both installed and overwrite each other: run `pip uninstall")
