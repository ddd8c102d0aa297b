"""The monitors there are, as the window system tells them."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace

from coach.overlay.native import sdl
from coach.overlay.native.randr import Output
from coach.overlay.native.windows import panel_pitch
from coach.overlay.native.x11 import X11
from coach.overlay.placing import Placing
from coach.overlay.toolkit import pygame

FINEST, COARSEST = 0.05, 2.0
"""mm of a pixel that are believed: 0.06 is a phone's, 2 a video wall's (choice)."""
_SQUARE = 0.1
"""Share by which a pixel may be wider than high, or the other way: beyond, the size is not the panel's (choice)."""
_RATIOS = {(160, 90), (160, 100), (16, 9), (16, 10), (1600, 900), (1600, 1000)}
"""mm that stand for a ratio of width to height: VESA's E-EDID 1.4 lets projectors say it in place of a size, and others
do so by mistake (from memory)."""


@dataclass(frozen=True, slots=True)
class Monitor:
    """In px of the whole desktop; `pitch` mm of a pixel, None where the monitor does not say, or lies."""

    name: str
    left: int
    top: int
    width: int
    height: int
    pitch: float | None
    main: bool

    def holds(self, left: int, top: int) -> bool:
        """Whether this place of the desktop (px) is on it."""
        return 0 <= left - self.left < self.width and 0 <= top - self.top < self.height

    def corner(self, size: tuple[int, int], placing: Placing) -> tuple[int, int]:
        """px of the desktop: where a plate of `size` (px) has its upper left corner."""
        across, down = max(0, self.width - size[0]), max(0, self.height - size[1])
        return self.left + round(placing.across * across), self.top + round(placing.down * down)


def found(x11: X11 | None = None) -> list[Monitor]:
    """All monitors, at least one, each with a name of its own; after `pygame.display.init()`.

    On X11 by RandR, which knows what changed since; elsewhere, or where that is missing, by SDL. `x11`: an open
    connection to use; one is opened for the moment otherwise. pygame.error where no display is open.
    """
    with suppress(OSError):
        if pygame.display.get_driver() == "x11":
            if x11 is not None:
                return of_outputs(x11.monitors())
            with closing(X11()) as opened:
                return of_outputs(opened.monitors())
    with suppress(OSError):
        screens = sdl.screens()
        if screens:
            return of_screens(screens)
    width, height = pygame.display.get_desktop_sizes()[0]
    return [Monitor("1", 0, 0, width, height, None, True)]


def of_outputs(outputs: Sequence[Output]) -> list[Monitor]:
    """As X11's monitors tell. OSError where there is none."""
    if not outputs:
        raise OSError("no monitor is on")
    main = next((number for number, output in enumerate(outputs) if output.main), 0)
    return _named(
        Monitor(one.name, one.left, one.top, one.width, one.height, _pitch(one), number == main)
        for number, one in enumerate(outputs)
    )


def of_screens(screens: Iterable[sdl.Screen]) -> list[Monitor]:
    """As SDL tells. On Windows its pitch is the person's choice of scale, so the panel's own is asked for."""
    told = []
    for number, one in enumerate(screens):
        pitch = one.pitch
        if sys.platform == "win32":
            pitch = None
            with suppress(OSError):
                pitch = panel_pitch(one.left, one.top)
        told.append(Monitor(one.name, one.left, one.top, one.width, one.height, believed(pitch), number == 0))
    return _named(told)


def pick(monitors: Sequence[Monitor], name: str | None) -> tuple[Monitor, bool]:
    """The monitor of this name; where there is none, the main one. And whether it is as was asked."""
    named = next((monitor for monitor in monitors if monitor.name == name), None)
    if named is not None:
        return named, True
    return next((monitor for monitor in monitors if monitor.main), monitors[0]), name is None


def believed(pitch: float | None) -> float | None:
    """mm of a pixel, None where no monitor can be so."""
    return pitch if pitch is not None and FINEST <= pitch <= COARSEST else None


def _pitch(output: Output) -> float | None:
    if min(output.width_mm, output.height_mm, output.width, output.height) <= 0:
        return None
    if (output.width_mm, output.height_mm) in _RATIOS:
        return None
    across, down = output.width_mm / output.width, output.height_mm / output.height
    return believed(across) if abs(across / down - 1.0) <= _SQUARE else None


def _named(monitors: Iterable[Monitor]) -> list[Monitor]:
    """Two monitors of one kind have one name: the second is `name 2`. One without a name is called by its number."""
    named: list[Monitor] = []
    for number, monitor in enumerate(monitors, 1):
        name = stem = monitor.name or str(number)
        count = 1
        while any(other.name == name for other in named):
            count += 1
            name = f"{stem} {count}"
        named.append(replace(monitor, name=name))
    return named
