"""What the overlay shows at one moment, before any pixel: all that a drawing needs to know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

State = Literal["waiting", "driving", "rest", "lost"]
"""waiting: no reference, or no delta to it now; rest: in the pits or paused; lost: the stream went silent."""


@dataclass(frozen=True, slots=True)
class View:
    """One moment of the overlay.

    `offset` -1..1: where the float rides, above 0 = ahead of the reference. `brightness` 0..1. `trend` -1..1: above 0 =
    gaining now. `number`: the text to read, None where there is none, with its `number_alpha` 0..1.
    """

    state: State = "waiting"
    offset: float = 0.0
    brightness: float = 0.0
    trend: float = 0.0
    number: str | None = None
    number_alpha: float = 0.0
