"""How the layout mode's window stands: the plate where it was put, and a strip of words beside it."""

from __future__ import annotations

from typing import NamedTuple

from coach.overlay.monitors import Monitor
from coach.overlay.placer import Rect


class Stand(NamedTuple):
    """`window` in px of the desktop; `plate` and `strip` in px of the window."""

    window: Rect
    plate: Rect
    strip: Rect


def stand_of(plate: Rect, monitor: Monitor, height: int) -> Stand:
    """For a plate in px of the desktop, on this monitor, and a strip `height` px high: under the plate; above it where
    there is no room below; on its lower edge where there is none at all, so that the window stays on the monitor."""
    below = plate.top + plate.height
    if below + height <= monitor.top + monitor.height:
        strip = below
    elif plate.top - height >= monitor.top:
        strip = plate.top - height
    else:
        strip = below - height
    top = min(plate.top, strip)
    return Stand(
        Rect(plate.left, top, plate.width, max(below, strip + height) - top),
        Rect(0, plate.top - top, plate.width, plate.height),
        Rect(0, strip - top, plate.width, height),
    )
