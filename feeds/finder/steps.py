"""The guided steps: what a person does in turn while the unknown packets are kept."""

from __future__ import annotations

from dataclasses import dataclass

STEPS = ("still", "rev", "brake", "clutch", "left", "right", "gears", "drive")
"""In the order in which they are asked for. still: no pedal, neutral. rev: neutral, full throttle twice. brake:
standing, fully, twice. clutch: fully, twice. left, right: the wheel to its stop and back. gears: standing, up through
the gears and back. drive: drive off, one whole lap and a bit past the line. clutch and gears may be missing."""


@dataclass(frozen=True, slots=True)
class Step:
    """`name` of STEPS, and when it was done: s of the packets' receive time."""

    name: str
    begins: float
    ends: float
