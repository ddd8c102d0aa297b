"""What a lap left behind and what laps are held against, for whoever keeps it: events that are never logged."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.engine.scatter import Scatter
from coach.vocabulary.events import Event


@dataclass(slots=True)
class Learned(Event):
    """Never logged: the lap `lap` has ended, and comes right behind its `Lap` event.

    `grid`: its channels by distance, None where it was not whole; the rest is what is known by now for the next start,
    as in `Known`: the passes of earlier days with today's behind them, and what they usually came to.
    """

    type: ClassVar[str] = "learned"
    logged: ClassVar[bool] = False
    grid: GridLap | None = field(compare=False)
    circuit: Circuit | None
    scatter: Scatter = field(compare=False)
    usual: dict[tuple[int, str], float] = field(default_factory=dict)
    warm: float | None = None


@dataclass(slots=True)
class Measure(Event):
    """Never logged: the lap that the session measures by from now on; it comes right behind its `Reference` event.

    `grid`: its channels by distance; `origin`: where it came from, as there. `lap` is the running one.
    """

    type: ClassVar[str] = "measure"
    logged: ClassVar[bool] = False
    grid: GridLap = field(compare=False)
    origin: str
