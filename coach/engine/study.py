"""Reads a run for the lap to compare with: its best clean lap, the map, and the scatter shown on the way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from coach.engine.circuit import Circuit, survey
from coach.engine.engine import Engine
from coach.engine.lap import GridLap
from coach.engine.scatter import Scatter
from coach.engine.start import EngineStart
from coach.vocabulary.errors import InputError
from coach.vocabulary.events import Lap
from coach.vocabulary.sample import Sample


@dataclass(slots=True)
class Studied:
    """What a run gives a session to start from; fields as in `EngineStart`."""

    reference: GridLap
    circuit: Circuit
    scatter: Scatter
    usual: dict[tuple[int, str], float]
    driver: str | None = None
    warm: float | None = None


def study(samples: Iterable[Sample], origin: str) -> Studied:
    """The best clean lap of the run `samples`, with the circuit's map and the scatter of its passes.

    `origin` names the run in an error. Raises InputError where no clean lap is in it, and says what spoiled the laps.
    """
    engine = Engine(EngineStart(version="", source=origin, phrases=""))
    laps: list[Lap] = []
    for sample in samples:
        laps += (event for event in engine.push(sample) if isinstance(event, Lap))
    laps += (event for event in engine.finish() if isinstance(event, Lap))
    session = engine.session
    best = None if session is None else session.best
    if session is None or best is None:
        spoiled = {reason for lap in laps for reason in lap.why_not}
        why = f"{len(laps)} laps, none clean ({', '.join(sorted(spoiled))})" if laps else "no lap from line to line"
        raise InputError(f"{origin}: no reference lap in it: {why}; give a run with at least one clean flying lap")
    circuit = survey(best, session.circuit)
    return Studied(best, circuit, session.scatter, session.scatter.medians(), session.driver, session.warm)
