"""A made season: six sessions of the built-in car on a short circuit, with habits that mend, return, stay and begin.

Driven once and kept: it takes some seconds. Every session has the same reference, as a memory would give it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from coach.engine.start import EngineStart
from coach.review.model import KeptSession
from coach.vocabulary.sample import Sample
from feeds.car.circuit import Bend, Circuit, Straight
from feeds.car.drive import Drive, DriveSpec
from feeds.car.mistakes import Mistake
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from tests.review.collecting import begun, collected

RATE = 25
"""Hz"""
RUN_OUT = 5.0
"""s behind the line: the last corner's pass is over by then."""
REFERENCE_LAPS = 1


@dataclass(frozen=True, slots=True)
class Planted:
    """A habit: a mistake of this size at this bend, made on every lap of the sessions `when` (from 1)."""

    fault: str
    corner: int
    size: float
    when: tuple[int, ...]
    story: tuple[str, ...]
    """What a view of the season has to tell of it."""


SEASON = (
    Planted("late_throttle", 2, 0.6, (1, 2, 5, 6), ("there", "there", "mended", "gone", "back", "there")),
    Planted("early_braking", 3, 14.0, (1, 2, 3), ("there", "there", "there", "mended", "gone", "gone")),
    Planted("throttle_lift", 4, 0.5, (1, 2, 3, 4, 5, 6), ("there",) * 6),
    Planted("narrow_exit", 1, 3.0, (6,), ("", "", "", "", "", "new")),
)
SESSIONS = 6


def teasel_ring() -> Circuit:
    """Clockwise, four bends with straights between; 11 m wide. Short, since driving it is what takes time."""
    turn = math.radians
    return Circuit(
        "Teasel Ring",
        [
            Straight(80.0),
            Bend(turn(-80), 28.0),
            Straight(70.0),
            Bend(turn(-110), 30.0),
            Straight(90.0, fit=True),
            Bend(turn(-75), 24.0),
            Straight(90.0, fit=True),
            Bend(turn(-95), 28.0),
            Straight(60.0),
        ],
        width=11.0,
    )


def drive(
    circuit: Circuit, laps: int, seed: int, mistakes: Iterable[Mistake] = (), driver: str = "dana"
) -> list[Sample]:
    """The samples of one drive of the steady driver."""
    spec = DriveSpec(
        circuit, CARS["Pellow R"], PERSONS["steady"], laps, RATE, seed, mistakes=tuple(mistakes), run_out=RUN_OUT
    )
    return [_sample({**row, "driver": driver}) for row in Drive(spec)]


def season(circuit: Circuit, laps: int, planted: Iterable[Planted] = SEASON, seed: int = 1) -> list[KeptSession]:
    """Six sessions of `laps` laps each, in order, each held against one clean lap."""
    start = begin(circuit)
    sessions = []
    for number in range(1, SESSIONS + 1):
        mistakes = [
            Mistake(habit.fault, lap, habit.corner, habit.size)
            for habit in planted
            if number in habit.when
            for lap in range(1, laps + 1)
        ]
        (session,) = collected(drive(circuit, laps, seed + number, mistakes), start)
        session.id, session.begun = number, 86400.0 * number
        sessions.append(session)
    return sessions


def begin(circuit: Circuit) -> EngineStart:
    """A start with a clean lap as reference."""
    return begun(drive(circuit, REFERENCE_LAPS, 100))


@cache
def short_season() -> tuple[KeptSession, ...]:
    """The season of three laps a session; the same objects each time, so leave them as they are."""
    return tuple(season(teasel_ring(), 3))


def _sample(row: dict[str, Any]) -> Sample:
    return Sample(**{key: _tuple(value) for key, value in row.items()})


def _tuple(value: Any) -> Any:
    return tuple(map(_tuple, value)) if isinstance(value, list) else value
