"""What the overlay shows at one moment, before any pixel: all that a drawing needs to know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.overlay.signs import Sign

State = Literal["silent", "waiting", "driving", "pit", "paused", "lost"]
"""silent: no telemetry yet; waiting: no reference, or no delta to it now; lost: the stream went silent."""


@dataclass(frozen=True, slots=True)
class View:
    """One moment of the overlay.

    `offset` -1..1: where the float rides, above 0 = ahead of the reference. `brightness` 0..1. `trend` -1..1: above 0 =
    gaining now. `text`: the one number or the few words to read, None where there are none, with its `text_alpha` 0..1;
    it stands above the line if `text_above`, else below, on the side that the float is not on. `sign`: what the topic
    is about. `noted` 0..1: a press of a button was heard, the last of `presses`. `timed` False: lap time is hidden, so
    `offset`, `brightness` and `trend` are not shown.
    """

    state: State = "silent"
    offset: float = 0.0
    brightness: float = 0.0
    trend: float = 0.0
    text: str | None = None
    text_alpha: float = 0.0
    text_above: bool = False
    sign: Sign | None = None
    noted: float = 0.0
    presses: int = 0
    timed: bool = True
