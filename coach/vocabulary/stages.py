"""The stages of practice, in their order, each with what it is about. Nothing is locked: a driver may be in any."""

from __future__ import annotations

LEARN = "learn"
CLEAN = "clean"
PACE = "pace"
REHEARSE = "rehearse"

STAGES: dict[str, str] = {
    LEARN: "know the circuit: whole laps on the road, the same way round each time",
    CLEAN: "clean laps in a row, and every mark hit: lap times are hidden",
    PACE: "the seconds: what costs most, one topic at a time",
    REHEARSE: "the race: its length, its fuel, and clean laps that stay alike",
}
"""Every stage by its name."""


def shows_times(stage: str) -> bool:
    """Whether lap time, delta and prediction are shown and spoken at this stage."""
    return stage != CLEAN


def following(stage: str) -> str | None:
    """The stage behind this one; None behind the last."""
    names = list(STAGES)
    place = names.index(stage) + 1
    return names[place] if place < len(names) else None
