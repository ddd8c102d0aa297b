"""Which mistakes a drive has: kinds and sizes that a driver can feel, at corners that are never neighbours."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from functools import lru_cache

from coach.vocabulary.errors import InputError
from feeds.car.circuit import Circuit
from feeds.car.drive import DriveSpec
from feeds.car.envelope import Envelope
from feeds.car.leeway import Leeway
from feeds.car.mind import Mind
from feeds.car.mistakes import Mistake
from feeds.car.person import Person
from feeds.car.plan import Table

from .cast import BENCH_CARS
from .circuits import CIRCUITS

A_LAP = 3
"""mistakes on each even lap, at most"""
TRIES = 40
"""kinds and sizes that are tried at one place before it is left alone"""

TO_LIFT = 0.15
"""s that a foot needs besides"""

Sizes = Mapping[str, tuple[float, float]]

SIZES: dict[str, tuple[float, float]] = {
    "late_throttle": (0.4, 0.8),
    "early_braking": (10.0, 22.0),
    "coasting": (0.4, 0.6),
    "throttle_lift": (0.35, 0.6),
    "early_downshift": (0.09, 0.17),
    "narrow_entry": (2.5, 3.2),
    "narrow_exit": (2.5, 3.2),
    "late_braking": (7.0, 16.0),
    "off_track": (0.5, 1.0),
}
"""Planted sizes, least and most, in the fault's unit; early_downshift as a share of the limiter, more than it
will be: the driven wheels slip."""
OTHER_SIZES: dict[str, tuple[float, float]] = {
    "soft_braking": (2.0, 4.0),
    "lock_up": (0.35, 0.8),
    "over_slowed": (1.5, 3.0),
    "wheelspin": (0.2, 0.35),
    "missed_apex": (2.0, 3.5),
    "early_upshift": (900.0, 1800.0),
    "late_upshift": (150.0, 300.0),
}
"""The kinds that have a table of their own."""
SHARES = {"late_braking": 0.5, "off_track": 0.35}
"""How often a kind is planted, against 1: these disturb what follows and their lap with it."""


def planted(circuit: int, car: int, person: Person, laps: int, seed: int, sizes: Sizes) -> list[Mistake]:
    """Mistakes on even laps, never at neighbouring corners; what the car or the corner has no room for is left out."""
    dice = random.Random(f"planted {seed}")
    mind, leeway = _mind(circuit, car, person)
    limit = BENCH_CARS[car].engine.limit
    kinds = _endless(dice, sizes)
    waiting: list[str] = []
    out: list[Mistake] = []
    corners = list(mind.marks)
    for lap in range(2, laps + 1, 2):
        for corner in _apart(dice, corners)[:A_LAP]:
            for tried in range(TRIES):
                kind = waiting.pop(0) if waiting and tried == 0 else next(kinds)
                least, most = sizes[kind]
                size = round(dice.uniform(least, most), 3) * (limit if kind == "early_downshift" else 1.0)
                mistake = Mistake(kind, lap, corner, size)
                if kind == "throttle_lift" and not _powers(mind, corner):
                    continue
                try:
                    leeway.check(mistake)
                except InputError:
                    if len(waiting) < A_LAP and kind not in waiting:
                        waiting.append(kind)
                    continue
                out.append(mistake)
                break
    return out


def _powers(mind: Mind, corner: int) -> bool:
    """Whether there is power for long enough before the bend's end to lift from it there."""
    marks = mind.marks[corner]
    return marks.committed + (mind.person.sure + TO_LIFT) * mind.plan.at(marks.committed) < marks.corner.ends


def _endless(dice: random.Random, sizes: Sizes) -> Iterator[str]:
    while True:
        kinds = [kind for kind in sizes if dice.random() < SHARES.get(kind, 1.0)]
        dice.shuffle(kinds)
        yield from kinds


def _apart(dice: random.Random, corners: list[int]) -> list[int]:
    """Corners in random order, none the neighbour of another."""
    order = corners[:]
    dice.shuffle(order)
    out: list[int] = []
    count = len(corners)
    for corner in order:
        place = corners.index(corner)
        if all((place - corners.index(other)) % count not in (1, count - 1) for other in out):
            out.append(corner)
    return out


@lru_cache(maxsize=8)
def circuit_at(place: int) -> Circuit:
    return CIRCUITS[place]()


@lru_cache(maxsize=64)
def _mind(circuit: int, car: int, person: Person) -> tuple[Mind, Leeway]:
    spec = BENCH_CARS[car]
    table = Table(Envelope(spec, spec.mass_with(DriveSpec.fuel)))
    mind = Mind(circuit_at(circuit), table, person, [], 0)
    return mind, Leeway(spec, mind)
