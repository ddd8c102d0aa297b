"""A kept lap as something to drive against, or to hand on."""

from __future__ import annotations

from coach.app.remembering.lapfile import HandedLap
from coach.app.remembering.which import described
from coach.engine.circuit import survey
from coach.engine.known import Known
from coach.store.memory import Memory
from coach.store.reading import CLOCKS
from coach.store.recalling import origin_of
from coach.store.rows import LapRow
from coach.vocabulary.errors import InputError


def kept_lap(memory: Memory, row: LapRow) -> tuple[HandedLap, str]:
    """The lap with its channels, the map that keeps the corners' numbers and its driver's habits; and what it is called
    as a reference. InputError where no channels are kept."""
    if not row.whole:
        raise InputError(f"{described(row)} has no channels, as it was not whole or was forgotten: choose another")
    grid = memory.grid(row.id)
    came = memory.came_with(row.id)
    if came is not None:
        lap = HandedLap(grid, came.circuit, row.driver, row.name, row.clean, None, came.scatter, came.usual, came.warm)
        return lap, origin_of(row.number, row.name, row.driver, None)
    known = memory.recall(row.driver, row.car, row.track).known or Known()
    begun = next((session.begun for session in memory.sessions() if session.id == row.session), None)
    when = begun if begun is not None and begun >= CLOCKS else None
    lap = HandedLap(grid, survey(grid, known.circuit), row.driver, row.name, row.clean, when)
    if row.driver is not None:
        lap.scatter = known.scatter
        if known.driver == row.driver:  # else the chosen reference is another's, and so is what its driver usually did
            lap.usual, lap.warm = known.usual, known.warm
    return lap, origin_of(row.number, row.name, row.driver, begun)
