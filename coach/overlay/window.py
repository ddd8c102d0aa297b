"""The overlay's windows: the one at the edge of the eye, and an ordinary one for a second screen or another PC."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Literal, Protocol

from coach.overlay.display import Display
from coach.overlay.monitors import Monitor, pick
from coach.overlay.native import sdl
from coach.overlay.native.edge import edge_of
from coach.overlay.placing import Placing
from coach.overlay.remembered import WindowPlace, read, write
from coach.overlay.toolkit import pygame

Kind = Literal["edge", "window", "screen"]
"""edge: borderless, above all, without mouse and keyboard. window: an ordinary one. screen: full screen."""
CLOSED, GONE = "its window was closed", "the display went away"
_GROUND = (0, 0, 0)
"""What is around the plate in an ordinary window: as dark as a screen can be, so that only the plate is seen."""
_FIRST = (640, 550)
"""px of an ordinary window that is opened for the first time (choice)."""


class Sizing(Protocol):
    """How large the plate is to be: `scale` as Drawing has it."""

    def on(self, monitor: Monitor) -> float:
        """For the edge of the eye on this monitor."""
        ...

    def within(self, size: tuple[int, int]) -> float:
        """The largest that fits into `size` px."""
        ...


class OverlayWindow:
    """The window at the edge of the eye. It stands on the placing's monitor, and moves with it.

    `monitor` is the one that it is on, `scale` what the drawing must have now; `fit` opens the window for the plate
    that was made by it. `opacity` 0..1 of the plate. `say` takes one line for what is not as was asked. WorkError where
    there is no screen.
    """

    def __init__(self, placing: Placing, sizing: Sizing, opacity: float, say: Callable[[str], None]) -> None:
        self._display = Display()
        self._placing, self._sizing, self._say = placing, sizing, say
        self._edge = edge_of(self._display.x11, opacity, say)
        self._missed: str | None = None
        self.monitor = self._choose(self._display.monitors())
        self._closed = self._again = self._told = False
        self.scale = sizing.on(self.monitor)

    @property
    def surface(self) -> pygame.Surface:
        """What is drawn on. Its pixels have alpha where the plate can be seen through."""
        return self._display.surface

    @property
    def ended(self) -> str | None:
        """Why there is nothing to draw on any more, None as long as there is."""
        if self._display.gone:
            return GONE
        return CLOSED if self._closed else None

    def fit(self, size: tuple[int, int]) -> None:
        """Open the window, or another in its place, for a plate of `size` px."""
        at = self.monitor.corner(size, self._placing)
        heard = (pygame.QUIT, pygame.WINDOWCLOSE, pygame.WINDOWEXPOSED)
        self._display.open(size, at, pygame.NOFRAME, self._edge.hints(), heard)
        self._put(at)  # pygame opens a second window where the first one was
        self._edge.adopt()

    def exposed(self) -> bool:
        """Hear what the window system says; returns whether the picture must be drawn again."""
        again, self._again = self._again, False
        for event in pygame.event.get((pygame.QUIT, pygame.WINDOWCLOSE, pygame.WINDOWEXPOSED)):
            if event.type == pygame.WINDOWEXPOSED:
                again = True
            else:
                self._closed = True
        return again

    def show(self, rects: Sequence[pygame.Rect] | None = None) -> None:
        """Bring what was drawn on `surface` to the screen: these rectangles of it, None: all."""
        if rects is None:
            pygame.display.flip()
        else:
            pygame.display.update(list(rects))

    def lift(self) -> None:
        """Put the window on top again, and where it belongs: a simulator that is clicked comes before it otherwise, and
        monitors come and go."""
        if not self._display.gone:
            self._follow(self._display.monitors())
        if not self._display.gone:
            self._edge.lift()

    def close(self) -> None:
        """Close it; a second time does nothing."""
        self._display.close()

    def _choose(self, monitors: Sequence[Monitor]) -> Monitor:
        """The placing's monitor as it is now; one line where another stands in for it."""
        monitor, asked = pick(monitors, self._placing.monitor)
        missed = None if asked else f"no monitor is named {self._placing.monitor}: the overlay is on {monitor.name}"
        if missed is not None and missed != self._missed:
            self._say(missed)
        self._missed = missed
        return monitor

    def _follow(self, monitors: Sequence[Monitor]) -> None:
        if self._display.gone:  # just now: then these are what SDL remembers
            return
        monitor = self._choose(monitors)
        if monitor == self.monitor:
            return
        self.monitor = monitor
        self.scale = self._sizing.on(monitor)
        self._put(monitor.corner(self.surface.get_size(), self._placing))
        self._again = True

    def _put(self, at: tuple[int, int]) -> None:
        try:
            sdl.move_window(*at)
        except OSError as error:
            if not self._told:
                self._say(f"the overlay stays where it opened first: {error}")
            self._told = True


class DeskWindow:
    """An ordinary window, or a full-screen one (`full`): the plate as large as fits, in the middle of a dark ground.

    Methods and attributes are OverlayWindow's. `remember`: where an ordinary one keeps its place and size.
    """

    def __init__(
        self, placing: Placing, sizing: Sizing, full: bool, remember: Path | None, say: Callable[[str], None]
    ) -> None:
        self._display = Display()
        self._sizing, self._say = sizing, say
        self._remember = None if full else remember
        self._closed = self._again = False
        monitors = self._display.monitors()
        monitor, asked = pick(monitors, placing.monitor)
        self.monitor = monitor
        if not asked and full:
            say(f"no monitor is named {placing.monitor}: the overlay is on {monitor.name}")
        heard = [pygame.QUIT, pygame.WINDOWCLOSE, pygame.WINDOWEXPOSED]
        if full:
            size, at, number = (monitor.width, monitor.height), (monitor.left, monitor.top), _number(monitor)
            flags = pygame.NOFRAME if number is None else pygame.FULLSCREEN
            heard.append(pygame.KEYDOWN)
        else:
            place = self._remembered(monitors)
            size, at = ((place.width, place.height), (place.left, place.top)) if place else _usual(monitor)
            flags, number = pygame.RESIZABLE, None
        self._heard = tuple(heard)
        self._display.open(size, at, flags, heard=heard, screen=number or 0)
        if not full:
            with suppress(OSError):  # then it stands where the window manager has put it
                sdl.move_window(*at)  # which took the place for that of its frame, and would let it wander
        self._size = self._display.surface.get_size()
        self.scale = sizing.within(self._size)
        self.surface = pygame.Surface((1, 1))

    @property
    def ended(self) -> str | None:
        """Why there is nothing to draw on any more, None as long as there is."""
        if self._display.gone:
            return GONE
        return CLOSED if self._closed else None

    def fit(self, size: tuple[int, int]) -> None:
        """Take a plate of `size` px."""
        self.surface = pygame.Surface(size)
        self._again = True

    def exposed(self) -> bool:
        """Hear what the window system says, and see whether the window has another size; returns whether the picture
        must be drawn again."""
        again, self._again = self._again, False
        for event in pygame.event.get(self._heard):
            if event.type == pygame.WINDOWEXPOSED:
                again = True
            elif event.type != pygame.KEYDOWN or event.key == pygame.K_ESCAPE:
                self._closed = True
        size = self._display.surface.get_size()
        if size != self._size:
            self._size = size
            self.scale = self._sizing.within(size)
            again = True
        return again

    def show(self, rects: Sequence[pygame.Rect] | None = None) -> None:
        """Bring what was drawn on `surface` to the screen: these rectangles of it, None: all, with the ground."""
        screen = self._display.surface
        left, top = ((room - own) // 2 for room, own in zip(screen.get_size(), self.surface.get_size(), strict=True))
        if rects is None:
            screen.fill(_GROUND)
            screen.blit(self.surface, (left, top))
            pygame.display.flip()
        else:
            pygame.display.update([screen.blit(self.surface, rect.move(left, top), rect) for rect in rects])

    def lift(self) -> None:
        """An ordinary window stands where the person puts it."""

    def close(self) -> None:
        """Remember its place, and close it; a second time does nothing."""
        remember, self._remember = self._remember, None
        if remember is not None and not self._display.gone:
            with suppress(OSError):  # SDL cannot tell its place: then it opens next time as it did this time
                place = WindowPlace(*sdl.window_place(), *self._display.surface.get_size())
                write(remember, place, self._say)
        self._display.close()

    def _remembered(self, monitors: Sequence[Monitor]) -> WindowPlace | None:
        """Where it stood last time, if the middle of its upper edge, where a hand takes it, is on a monitor still."""
        place = None if self._remember is None else read(self._remember, self._say)
        if place is None or not any(one.holds(place.left + place.width // 2, place.top) for one in monitors):
            return None
        return place


def _usual(monitor: Monitor) -> tuple[tuple[int, int], tuple[int, int]]:
    """px of size and place of a window that was never placed: in the middle of the monitor."""
    size = min(_FIRST[0], monitor.width), min(_FIRST[1], monitor.height)
    return size, monitor.corner(size, Placing(across=0.5, down=0.5))


def _number(monitor: Monitor) -> int | None:
    """SDL's number of this monitor, None where it does not know it."""
    with suppress(OSError):
        for number, one in enumerate(sdl.screens()):
            same_corner = (one.left, one.top) == (monitor.left, monitor.top)
            if same_corner and (one.width, one.height) == (monitor.width, monitor.height):
                return number
    return None
