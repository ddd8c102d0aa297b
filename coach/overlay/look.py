"""How the overlay is to look: what one person chose, checked before the first frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from coach.overlay.palette import DEFAULT, Palette

DISTANCE = 0.7
"""m from the eye to the screen, if nothing is said: a desk (choice)."""
PITCH = 0.233
"""mm of a pixel where neither the person nor the monitor says: 27 inches of 2560 x 1440."""
OPACITY = 0.9
"""of the plate where a compositor lets it be seen through: all that contrast.py asks then holds over a white ground,
with a seventh to spare. There the float at its dimmest has 3.46:1, a dimmed line 3.44:1, text 11.5:1."""


@dataclass(frozen=True, slots=True)
class Look:
    """`distance` m from the eye to the screen. `pitch` mm of a pixel, None: as the monitor says. `text` False: nothing
    to read, ever. `times` False: lap time is hidden, so neither gain nor loss is shown. `spoken`: cues sound; otherwise
    `words` stand for them, by the name of the fault, none longer than a look (glance.py).
    """

    palette: Palette = DEFAULT
    opacity: float = OPACITY
    distance: float = DISTANCE
    pitch: float | None = None
    text: bool = True
    times: bool = True
    spoken: bool = True
    words: Mapping[str, str] = field(default_factory=dict)

    def pitch_on(self, monitors: float | None) -> float:
        """mm of a pixel on a monitor that says so itself; None: it does not."""
        return self.pitch or monitors or PITCH
