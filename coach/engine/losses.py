"""Seconds lost in one corner pass, phase by phase, against a lap to measure by."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from coach.engine.ledger import Bounds
from coach.engine.straight import loss_from_speed
from coach.engine.stretch import Stretch
from coach.vocabulary.events import PHASES


@dataclass(slots=True, frozen=True)
class Losses:
    """Seconds lost by phase in one pass; `straight` holds what is measured of it and what its speed will still cost.

    `targets`: s that the lap to measure by needs for the same phases.
    """

    braking: float
    entry: float
    exit: float
    straight: float
    targets: tuple[float, float, float, float]

    @property
    def net(self) -> float:
        """s from the corner's brake point to the end of the straight behind it."""
        return self.braking + self.entry + self.exit + self.straight

    @property
    def target(self) -> float:
        """s that the whole of it should take."""
        return sum(self.targets)

    def target_of(self, phases: tuple[str, ...]) -> float:
        """s that these phases should take."""
        return sum(self.targets[PHASES.index(phase)] for phase in phases)

    def of(self, phases: tuple[str, ...]) -> float:
        """s lost in these phases."""
        return float(sum(getattr(self, phase) for phase in phases))


def losses_of(own: Stretch, target: Stretch, b: Bounds) -> Losses | None:
    """What the pass `own` lost to `target`, as far as it was driven; None where either was not seen all the way.

    The rest of the straight is priced by the speed at the last row: see `straight.py`.
    """
    here = own.d[-1]
    deltas = []
    for place in (b.braking, b.entry, b.apex, b.exit, min(here, b.end)):
        mine, theirs = own.time_at(place), target.time_at(place)
        if mine is None or theirs is None:
            return None
        deltas.append(mine - theirs)
    straight = deltas[4] - deltas[3]
    speed = own["speed"][-1]
    if here < b.end and speed == speed:
        straight += loss_from_speed(target, here, b.end, speed) or 0.0
    at = [target.time_at(place) for place in (b.braking, b.entry, b.apex, b.exit, b.end)]
    needs = [0.0 if before is None or after is None else after - before for before, after in pairwise(at)]
    targets = (needs[0], needs[1], needs[2], needs[3])
    return Losses(deltas[1] - deltas[0], deltas[2] - deltas[1], deltas[3] - deltas[2], straight, targets)
