"""The layout mode's window: the overlay as it will stand, with mouse and keyboard, while nobody's drive runs in it."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import lru_cache
from typing import NamedTuple

from coach.overlay.caption import Caption
from coach.overlay.display import Display, hinted
from coach.overlay.drawing import CAP_HEIGHT, HEIGHT, WIDTH, Drawing, Frame
from coach.overlay.easing import Easing
from coach.overlay.gestures import Tick
from coach.overlay.hand import HEARD, Hand
from coach.overlay.keeper import ViewKeeper
from coach.overlay.look import Look
from coach.overlay.monitors import Monitor
from coach.overlay.native import sdl
from coach.overlay.overlay import Sizes
from coach.overlay.placer import LONGEST, Placer, Size
from coach.overlay.placing import LEAST, Placing
from coach.overlay.rehearsal import Rehearsal
from coach.overlay.sight import height_px, readable
from coach.overlay.stand import Stand, stand_of
from coach.overlay.toolkit import installed_twice, pygame
from coach.overlay.window import GONE
from coach.vocabulary.errors import WorkError

FPS = 60.0
"""frames a second: a dragged plate must keep up with the hand"""
_RIM = 2
"""px of the frame that tells of the layout mode (choice)."""
_SOFTWARE = {"SDL_FRAMEBUFFER_ACCELERATION": "0"}
"""As the window was opened: a plain surface."""
_KEPT = 8
"""captions that are kept, one a monitor"""
_LEFT = "the placing is left as it was"


class _Scene(NamedTuple):
    """All that the window is opened, moved and written for."""

    stand: Stand
    monitor: Monitor
    scale: float
    arcmin: float


class PlacerWindow:
    """Opens where `placing` has it, and looks as `look` has it. WorkError where there is no screen.

    Where pixels have alpha on this desktop (X11 with a compositor), the plate is seen through as in a drive.
    """

    def __init__(self, placing: Placing, look: Look, say: Callable[[str], None]) -> None:
        twice = installed_twice()
        if twice is not None:
            say(twice)
        try:
            self._display = Display()
        except WorkError as error:
            raise _no_screen(error) from error
        self._look = look
        self._placer = Placer(self._display.monitors(), self.plate, placing, self._readable)
        self._hand = Hand(say)
        self._keeper, self._easing = ViewKeeper(look), Easing()
        self._show, self._shown = Rehearsal(), 0.0
        self._scene: _Scene | None = None
        self._drawing: Drawing
        self._caption = lru_cache(_KEPT)(lambda cap_height: Caption(cap_height, look.palette))
        self._screen: pygame.Surface
        self._plate: pygame.Surface
        self._drawn: Frame | None = None

    def plate(self, monitor: Monitor, size: float) -> Size:
        """px of the plate on a monitor at a size in arcmin, whether or not it fits."""
        scale = self._height(monitor, size) / CAP_HEIGHT
        return round(WIDTH * scale), round(HEIGHT * scale)

    def run(self, until: Callable[[], bool]) -> Placing | None:
        """Until the person is done, or `until()` says so; then it is closed. What was chosen, None if it is to be left
        as it was. WorkError, one line, where the display goes away."""
        try:
            return self._loop(until)
        except (pygame.error, OSError) as error:
            raise WorkError(f"{error}: {_LEFT}") from error
        finally:
            if not self._display.gone:
                self._hand.close()
            self._display.close()

    def _loop(self, until: Callable[[], bool]) -> Placing | None:
        before = time.monotonic()
        while not until():
            now = time.monotonic()
            self._step(now, now - before)
            before = now
            if self._display.gone:
                raise WorkError(f"{GONE}: {_LEFT}")
            if self._hand.closed or self._placer.outcome == "left":
                return None
            if self._placer.outcome == "done":
                return self._placer.placing
            time.sleep(max(0.0, now + 1.0 / FPS - time.monotonic()))
        return None

    def _step(self, now: float, passed: float) -> None:
        for gesture in self._hand.heard(now):
            self._placer.take(gesture)
        self._placer.take(Tick(passed))
        if self._display.gone or self._placer.outcome != "open":
            return
        self._shown += min(LONGEST, passed)
        for event in self._show.until(self._shown):
            self._keeper.take(event)
        self._set()
        self._draw(now)

    def _height(self, monitor: Monitor, size: float) -> int:
        """px of a character."""
        return height_px(size, self._look.distance, self._pitch(monitor))

    def _readable(self, monitor: Monitor, size: float) -> bool:
        return readable(self._height(monitor, size), self._look.distance, self._pitch(monitor))

    def _pitch(self, monitor: Monitor) -> float:
        return self._look.pitch_on(monitor.pitch)

    def _set(self) -> None:
        """Bring the window to where the placer has the plate."""
        scene, before = self._wanted(), self._scene
        if scene == before:
            return
        (left, top, *size), monitor = scene.stand.window, scene.monitor
        if before is None or scene.scale != before.scale:
            self._drawing = Drawing(scene.scale, self._look.palette, self._look.opacity, self._height(monitor, LEAST))
        if before is None or monitor != before.monitor:
            self._open((size[0], size[1]), (left, top), monitor)
        elif scene.stand.window[2:] != before.stand.window[2:]:
            with hinted(_SOFTWARE):  # not by `open`, which would lose what the hand does meanwhile
                self._screen = pygame.display.set_mode((size[0], size[1]), pygame.NOFRAME, display=_number(monitor))
        if before is not None:
            with suppress(OSError):  # an SDL without the call: it stands where it was, and is kept where it should
                sdl.move_window(left, top)
        self._scene = scene
        self._plate = self._screen.subsurface(scene.stand.plate)
        self._drawing.forget()
        self._drawn = None

    def _open(self, size: Size, at: tuple[int, int], monitor: Monitor) -> None:
        try:
            self._display.open(size, at, pygame.NOFRAME, self._hints(), HEARD, _number(monitor))
        except WorkError as error:
            raise _no_screen(error) from error
        self._screen = self._display.surface
        with suppress(OSError):  # an SDL that cannot: it was just opened, so it is on top for now
            sdl.keep_on_top()

    def _wanted(self) -> _Scene:
        placer = self._placer
        monitor, size = placer.monitor, placer.placing.size
        height = self._caption(self._height(monitor, LEAST)).height
        return _Scene(stand_of(placer.rect, monitor, height), monitor, Sizes(self._look, size).on(monitor), size)

    def _hints(self) -> dict[str, str]:
        """Pixels with alpha where a compositor mixes them; elsewhere they would lie on black."""
        x11 = self._display.x11
        visual = x11.alpha_visual() if x11 is not None and x11.composited() else None
        return {} if visual is None else {"SDL_VIDEO_X11_WINDOW_VISUALID": f"{visual:#x}"}

    def _draw(self, now: float) -> None:
        scene = self._scene
        if scene is None:
            return
        if self._hand.exposed:
            self._drawing.forget()
            self._drawn, self._hand.exposed = None, False
        frame = self._drawing.frame(self._easing.at(self._keeper.goal, now))
        if frame == self._drawn:
            return
        self._drawing.draw(self._plate, frame)
        caption = self._caption(self._height(scene.monitor, LEAST))
        caption.draw(self._screen, pygame.Rect(scene.stand.strip), scene.arcmin)
        pygame.draw.rect(self._screen, self._look.palette.plain, self._screen.get_rect(), _RIM)
        pygame.display.flip()
        self._drawn = frame


def _number(monitor: Monitor) -> int:
    """SDL's number of this monitor, 0 where it does not know it: on another one SDL would open another window."""
    with suppress(OSError):
        screens: Sequence[sdl.Screen] = sdl.screens()
        for number, one in enumerate(screens):
            if (one.left, one.top) == (monitor.left, monitor.top):
                return number
    return 0


def _no_screen(error: WorkError) -> WorkError:
    """As the overlay says it, but for what can be done about it."""
    why = str(error).rpartition(": the overlay is off")[0] or str(error)
    return WorkError(f"{why}: nothing can be placed; start it from a desktop")
