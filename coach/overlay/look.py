"""How the overlay is to look: what one person chose, checked before the first frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coach.overlay.palette import DEFAULT, Palette

DISTANCE = 0.7
"""m from the eye to the screen, if nothing is said: a desk (choice)."""
PITCH = 0.233
"""mm of a pixel where neither the person nor the monitor says: 27 inches of 2560 x 1440."""
OPACITY = 0.86
"""of the plate where a compositor lets it be seen through."""


@dataclass(frozen=True, slots=True)
class Look:
    """`pitch` mm of a pixel, None: as the monitor says. `text` False: nothing to read, ever. `times` False: the practice
    stage hides lap time, so neither gain nor loss is shown. `spoken`: cues sound; otherwise `words` stand for them, by
    the name of the fault, three at most.
    """

    palette: Palette = DEFAULT
    opacity: float = OPACITY
    distance: float = DISTANCE
    pitch: float | None = None
    text: bool = True
    times: bool = True
    spoken: bool = True
    words: Mapping[str, str] = field(default_factory=dict)
