"""The overlay as a whole: takes events from the engine's thread, and draws on the main one."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from coach.overlay.drawing import CAP_HEIGHT, Drawing, Frame
from coach.overlay.easing import Easing
from coach.overlay.grounds import HEIGHT, WIDTH
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.monitors import Monitor
from coach.overlay.placing import Placing
from coach.overlay.sight import LEAST, LEAST_PX, height_px
from coach.overlay.toolkit import installed_twice, pygame
from coach.overlay.window import DeskWindow, Kind, OverlayWindow
from coach.vocabulary.errors import WorkError
from coach.vocabulary.events import Event

FPS = 60.0
"""frames a second at most, while something moves"""
IDLE = 0.1
"""s between two looks at the window while nothing moves; a change of the view is seen to at once (choice)."""
_LIFT = 0.5
"""s between two times that the window is put on top, and the monitors are looked at"""
_SMALLEST = LEAST_PX / CAP_HEIGHT
"""The least scale: letters need their pixels, whatever the room."""
_LOOK, _PLACING = Look(), Placing()
_GOES_ON = "the overlay is off, the session goes on"


class Screen(Protocol):
    """What the overlay draws on: see OverlayWindow."""

    @property
    def surface(self) -> pygame.Surface:
        """Where to draw. Another one after `fit`."""
        ...

    @property
    def scale(self) -> float:
        """The scale that the drawing must have now."""
        ...

    @property
    def ended(self) -> str | None:
        """Why there is nothing to draw on any more."""
        ...

    def fit(self, size: tuple[int, int]) -> None:
        """Take a picture of `size` px from now on."""
        ...

    def exposed(self) -> bool:
        """Whether the picture must be drawn again."""
        ...

    def show(self, rects: Sequence[pygame.Rect] | None = None) -> None:
        """Bring these rectangles of the surface to the screen, None: all."""
        ...

    def lift(self) -> None:
        """Put the window on top."""
        ...

    def close(self) -> None:
        """Close it."""
        ...


@dataclass(frozen=True, slots=True)
class Sizes:
    """The scale for a person's eyes, `size` arcmin of a character's height, and for what there is room for."""

    look: Look
    size: float

    def on(self, monitor: Monitor) -> float:
        """By the angle that a digit is seen under, and never larger than the monitor."""
        wanted = self._px(self.size, monitor) / CAP_HEIGHT
        return max(_SMALLEST, min(wanted, self.within((monitor.width, monitor.height))))

    def least(self, monitor: Monitor) -> int:
        """px that text must have to be read there."""
        return max(LEAST_PX, self._px(LEAST, monitor))

    def within(self, size: tuple[int, int]) -> float:
        """The largest plate that fits into `size` px."""
        return max(_SMALLEST, min(size[0] / WIDTH, size[1] / HEIGHT))

    def _px(self, arcmin: float, monitor: Monitor) -> int:
        return height_px(arcmin, self.look.distance, self.look.pitch_on(monitor.pitch))


class Overlay:
    """A sink with a window. `take` is for the engine's thread, `run` for the main one; neither waits for the other.

    `make` makes the drawing for a scale. What goes wrong here ends the overlay with one line (`say`), and nothing else.
    """

    def __init__(
        self, screen: Screen, make: Callable[[float], Drawing], keeper: ViewKeeper, say: Callable[[str], None]
    ) -> None:
        self._screen = screen
        self._make = make
        self._keeper = keeper
        self._say = say
        self._easing = Easing()
        self._goal = keeper.goal
        self._stepped = float("-inf")
        self._period = 1.0 / FPS
        self._news = threading.Event()
        self._drawn: Frame | None = None
        self._failed: str | None = None
        self._fit()

    def take(self, event: Event) -> None:
        """Take one event, logged or not: moments too. Only the newest view is kept."""
        if self._failed is None:
            before = self._keeper.goal
            try:
                self._keeper.take(event)
            except Exception as error:  # a sink's edge: the engine must not stop for it
                self._failed = _bug(error)
            if self._keeper.goal is not before or self._failed is not None:
                self._news.set()

    def run(self, until: Callable[[], bool], fps: float = FPS) -> None:
        """Draw until `until()` says so, or until there is no window any more; then close it."""
        self._period = 1.0 / fps
        try:
            ended = self._loop(until)
        except (pygame.error, WorkError) as error:
            ended = str(error.__cause__ or error)  # of no screen for another window: why there is none
        except Exception as error:  # the overlay's edge: the session must not end for it
            ended = _bug(error)
        finally:
            self._screen.close()
        if ended is not None:
            self._say(f"{ended}: {_GOES_ON}")

    def step(self, now: float) -> bool:
        """One frame at `now` (s of any steady clock); returns whether something moves still."""
        exposed = self._screen.exposed()
        if self._screen.ended is not None:
            return False
        if self._screen.scale != self._drawing.scale:
            self._fit()
        if exposed:
            self._drawing.forget()
            self._drawn = None
        goal = self._keeper.goal
        if goal is not self._goal:  # it changed since: a frame ago at most, however long nothing was to be drawn
            self._easing.at(self._goal, max(self._stepped, now - self._period))
            self._goal = goal
        frame = self._drawing.frame(self._easing.at(goal, now))
        self._stepped = now
        if frame != self._drawn:
            rects = self._drawing.draw(self._screen.surface, frame)
            self._screen.show(rects)
            self._drawn = frame
            return True
        return frame != self._drawing.frame(goal)

    def _loop(self, until: Callable[[], bool]) -> str | None:
        """Returns why it ended early, if it did."""
        due = lifted = time.monotonic()
        while not until():
            now = time.monotonic()
            self._news.clear()
            moves = self.step(now)
            if now - lifted >= _LIFT and self._screen.ended is None:
                lifted = now
                self._screen.lift()
                if self._screen.ended is None:
                    self._screen.show()  # not every window system says that what lay above it is gone
            ended = self._screen.ended or self._failed
            if ended is not None:
                return ended
            due = max(due + self._period, now)
            if moves:
                time.sleep(max(0.0, due - time.monotonic()))
            else:
                self._news.wait(IDLE)
        return None

    def _fit(self) -> None:
        self._drawing = self._make(self._screen.scale)
        self._screen.fit(self._drawing.size)
        self._drawn = None


def _bug(error: Exception) -> str:
    return f"a bug, {type(error).__name__}: {error}"


def open_overlay(
    say: Callable[[str], None],
    look: Look = _LOOK,
    placing: Placing = _PLACING,
    kind: Kind = "edge",
    remember: Path | None = None,
) -> Overlay:
    """Open the window as `look` and `placing` have it. WorkError, one line, where that cannot be.

    `kind`: "edge" above the simulator's window, without mouse and keyboard; "window" an ordinary one, for a second
    screen or another PC, that keeps its place and size in the file `remember`; "screen" full screen on the placing's
    monitor, closed by Escape.
    """
    twice = installed_twice()
    if twice is not None:
        say(twice)
    sizes = Sizes(look, placing.size)
    screen: OverlayWindow | DeskWindow
    if kind == "edge":
        screen = OverlayWindow(placing, sizes, look.opacity, say)
    else:
        screen = DeskWindow(placing, sizes, kind == "screen", remember, say)

    def drawing(scale: float) -> Drawing:
        return Drawing(scale, look.palette, look.opacity, sizes.least(screen.monitor))

    return Overlay(screen, drawing, ViewKeeper(look), say)
