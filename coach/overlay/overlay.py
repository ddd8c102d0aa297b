"""The overlay as a whole: takes events from the engine's thread, and draws on the main one."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol

from coach.overlay.drawing import Drawing, Frame
from coach.overlay.easing import Easing
from coach.overlay.keeper import ViewKeeper
from coach.overlay.toolkit import installed_twice, pygame
from coach.overlay.window import OverlayWindow
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Event

FPS = 30.0
"""frames a second at most; what moves is eased over 0.15 s"""
_LIFT = 0.5
"""s between two times that the window is put on top"""
_SCALES = (0.5, 6.0)
_GOES_ON = "the overlay is off, the session goes on"


class Screen(Protocol):
    """What the overlay draws on: see OverlayWindow."""

    surface: pygame.Surface

    @property
    def ended(self) -> str | None:
        """Why there is nothing to draw on any more."""
        ...

    def exposed(self) -> bool:
        """Whether the picture must be drawn again."""
        ...

    def show(self) -> None:
        """Bring the surface to the screen."""
        ...

    def lift(self) -> None:
        """Put the window on top."""
        ...

    def close(self) -> None:
        """Close it."""
        ...


class Overlay:
    """A sink with a window. `take` is for the engine's thread, `run` for the main one; neither waits for the other.

    What goes wrong here ends the overlay with one line (`say`), and nothing else.
    """

    def __init__(self, screen: Screen, drawing: Drawing, keeper: ViewKeeper, say: Callable[[str], None]) -> None:
        self._screen = screen
        self._drawing = drawing
        self._keeper = keeper
        self._say = say
        self._easing = Easing()
        self._drawn: Frame | None = None
        self._failed: str | None = None

    def take(self, event: Event) -> None:
        """Take one event, logged or not: moments too. Only the newest view is kept."""
        if self._failed is None:
            try:
                self._keeper.take(event)
            except Exception as error:  # a sink's edge: the engine must not stop for it
                self._failed = _bug(error)

    def run(self, until: Callable[[], bool], fps: float = FPS) -> None:
        """Draw until `until()` says so, or until there is no window any more; then close it."""
        try:
            ended = self._loop(until, 1.0 / fps)
        except pygame.error as error:
            ended = str(error)
        except Exception as error:  # the overlay's edge: the session must not end for it
            ended = _bug(error)
        finally:
            self._screen.close()
        if ended is not None:
            self._say(f"{ended}: {_GOES_ON}")

    def step(self, now: float) -> bool:
        """One frame at `now` (s of any steady clock); returns whether there was anything to draw."""
        exposed = self._screen.exposed()
        if self._screen.ended is not None:
            return False
        frame = self._drawing.frame(self._easing.at(self._keeper.goal, now))
        if frame == self._drawn and not exposed:
            return False
        self._drawing.draw(self._screen.surface, frame)
        self._screen.show()
        self._drawn = frame
        return True

    def _loop(self, until: Callable[[], bool], period: float) -> str | None:
        """Returns why it ended early, if it did."""
        due = lifted = time.monotonic()
        while not until():
            now = time.monotonic()
            self.step(now)
            if now - lifted >= _LIFT:
                lifted = now
                self._screen.lift()
                self._screen.show()  # not every window system says that what lay above it is gone
            ended = self._screen.ended or self._failed
            if ended is not None:
                return ended
            due = max(due + period, now)
            time.sleep(max(0.0, due - time.monotonic()))
        return None


def _bug(error: Exception) -> str:
    return f"a bug, {type(error).__name__}: {error}"


def open_overlay(
    say: Callable[[str], None],
    place: tuple[int, int] | None = None,
    scale: float = 1.0,
    spoken: bool = True,
) -> Overlay:
    """Open the window at `place` (px, None: top centre). WorkError, one line, where that cannot be, InputError for a
    scale that does not serve.

    `spoken`: cues sound, so a number on a straight gives way to them.
    """
    if not _SCALES[0] <= scale <= _SCALES[1]:
        raise InputError(f"the overlay's scale is {scale:g}: choose one from {_SCALES[0]:g} to {_SCALES[1]:g}")
    twice = installed_twice()
    if twice is not None:
        say(twice)
    drawing = Drawing(scale)
    return Overlay(OverlayWindow(drawing.size, place), drawing, ViewKeeper(spoken), say)
