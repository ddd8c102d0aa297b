"""Where the overlay stands and how large it is, remembered from one drive to the next."""

from __future__ import annotations

from dataclasses import dataclass

LEAST, USUAL, LARGEST = 20.0, 30.0, 120.0
"""arcmin of a character's height: 20 are preferred by ISO 15008 (number from memory); the others are choices."""


@dataclass(frozen=True, slots=True)
class Placing:
    """`monitor`: its name, None: the main one. `across`, `down`: the share of the free room that lies left of and above
    the plate, 0..1, so that it fits whatever the resolution. `size`: arcmin of a character's height.
    """

    monitor: str | None = None
    across: float = 0.5
    down: float = 0.02
    size: float = USUAL
