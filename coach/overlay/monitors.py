"""The monitors there are, as the window system tells them."""

from __future__ import annotations

from dataclasses import dataclass


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
