"""The table of what mistakes cost, as `losses.py` measured it."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

from coach.vocabulary.events import CornerMark
from coach.vocabulary.trace import LapTrace

FILE = Path(__file__).with_name("losses.json")


@dataclass(frozen=True, slots=True)
class Step:
    """One mistake as it was measured. `size`: the engine's where it `found` it, else as planted, in the fault's unit;
    `net` and `cost` s."""

    size: float
    net: float
    cost: float
    found: bool


@dataclass(frozen=True, slots=True)
class Losses:
    """`table`: kind -> corner of the engine's map -> steps of growing size. `reference_time` s."""

    made: dict[str, str]
    reference_time: float
    corners: tuple[CornerMark, ...]
    trace: LapTrace
    table: dict[str, dict[int, tuple[Step, ...]]]

    def at(self, kind: str, corner: int, size: float) -> Step:
        """Net and cost of a size: linear from nothing through the measured steps, and level beyond the last."""
        steps = self.table[kind][corner]
        before = Step(0.0, 0.0, 0.0, False)
        for after in steps:
            if size <= after.size:
                part = (size - before.size) / (after.size - before.size)
                net = before.net + part * (after.net - before.net)
                cost = before.cost + part * (after.cost - before.cost)
                return Step(size, net, cost, size >= self.least(kind, corner))
            before = after
        return replace(before, found=True)

    def least(self, kind: str, corner: int) -> float:
        """The size from which on the engine found it: halfway between the last that it missed and the first it found,
        half of the first where it missed none."""
        below = 0.0
        for step in self.table[kind][corner]:
            if step.found:
                return (below + step.size) / 2
            below = step.size
        return below

    def most(self, kind: str, corner: int) -> float:
        """The largest size that was driven."""
        return self.table[kind][corner][-1].size


def load(path: Path = FILE) -> Losses:
    """Read what `main` wrote."""
    held = json.loads(path.read_text(encoding="utf-8"))
    corners = tuple(CornerMark(**{**mark, "apexes": tuple(mark["apexes"])}) for mark in held["corners"])
    table = {
        kind: {int(corner): tuple(Step(s, n, c, bool(f)) for s, n, c, f in steps) for corner, steps in places.items()}
        for kind, places in held["losses"].items()
    }
    return Losses(held["made"], held["reference_time"], corners, LapTrace(**held["trace"]), table)
