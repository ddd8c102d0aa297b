"""What a list of the memory shows, without reading what is behind it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One kept session: `laps` that ended, `clean` of them, `best` s of the clean ones; `whole`: it was ended in good
    order, not killed."""

    id: int
    begun: float
    ended: float | None
    track: str | None
    car: str | None
    driver: str | None
    setup: str | None
    stage: str
    note: str
    laps: int
    clean: int
    best: float | None
    whole: bool


@dataclass(frozen=True, slots=True)
class LapRow:
    """One kept lap by its number in the memory. `session` None: it was handed on by somebody else. `chosen`: it is the
    reference of its car and circuit; `whole`: its channels are kept."""

    id: int
    session: int | None
    number: int
    time: float | None
    clean: bool
    why_not: tuple[str, ...]
    track: str | None
    car: str | None
    driver: str | None
    name: str | None
    chosen: bool
    whole: bool
