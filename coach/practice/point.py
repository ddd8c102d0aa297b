"""One thing that a stage asks, and whether it is there."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Point:
    """`met`: it is there; `text`: the evidence, one plain sentence without a full stop.

    `early`: it is not there for want of laps alone, and nothing that was driven speaks against it.
    """

    met: bool
    text: str
    early: bool = False


def counted(number: int, thing: str) -> str:
    """`1 clean lap`, `3 clean laps`."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
