"""A lap to measure by, with all that is read from it once: the map, the ledger, the rows of each corner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.engine.circuit import Circuit, survey
from coach.engine.lap import GridLap
from coach.engine.ledger import Bounds, Ledger
from coach.engine.path import ClosedPath
from coach.engine.stretch import Stretch, from_lap
from coach.vocabulary.trace import LapTrace

APPROACH = 300.0
"""m before the braking that belong to a corner's pass too: who shifts down too early may do so long before it."""
BEFORE, BEHIND = 40.0, 60.0
"""m of the lap kept before a corner's braking and behind its end, so that lookups at the seams have rows."""


@dataclass(slots=True, frozen=True)
class Course:
    """`rows`: the lap's own driving through each corner of the ledger's bounds, in their order.

    They begin `APPROACH` m before the braking, as the driver's own do.
    """

    lap: GridLap
    circuit: Circuit
    ledger: Ledger
    rows: tuple[Stretch, ...]
    trace: LapTrace

    def path(self) -> ClosedPath | None:
        """The lap's way round, to project onto; None where it has no positions. Each call gives one of its own."""
        path = self.lap.closed_path()
        return None if path is None else ClosedPath(path[0][:-1].tolist(), path[1][:-1].tolist(), self.lap.length)


def read_course(lap: GridLap, known: Circuit | None = None) -> Course:
    """Reads `lap`; bends that `known` has keep their numbers. About 10 ms, so it is done once a reference."""
    circuit = survey(lap, known)
    ledger = Ledger(circuit, lap)
    return Course(lap, circuit, ledger, rows_of(lap, ledger.bounds), lap.trace())


def rows_of(lap: GridLap, bounds: Sequence[Bounds]) -> tuple[Stretch, ...]:
    """The driving of `lap` through each corner of `bounds`, which may be another lap's."""
    return tuple(from_lap(lap, max(b.behind, b.braking - APPROACH) - BEFORE, b.end + BEHIND) for b in bounds)
