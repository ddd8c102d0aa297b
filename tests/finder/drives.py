"""Drives to try the finder on: the built-in cars and, where they are, the recorded runs."""

from __future__ import annotations

import math
from pathlib import Path

from feeds.car.circuit import Bend, Circuit, Straight, Wave, brack_mere
from feeds.car.drive import Drive, DriveSpec
from feeds.car.person import PERSONS
from feeds.car.spec import CARS
from tests.finder.columns import Columns, columns_of, recorded

RUNS = Path("/work/shared/runs")


def short_circuit() -> Circuit:
    """About 650 m: a lap of 21 s."""
    turn = math.radians
    return Circuit(
        "Short Loop",
        [
            *(Straight(160.0, fit=True), Bend(turn(90), 30.0), Straight(80.0, fit=True), Bend(turn(60), 45.0)),
            *(Straight(60.0), Bend(turn(120), 25.0, ramp=15.0), Straight(100.0), Bend(turn(90), 40.0)),
        ],
        width=10.0,
        hills=(Wave(2.0, 1, 0.0),),
    )


def built_in(car: str, person: str, circuit: Circuit, rate: int = 60, seed: int = 1) -> Columns:
    """One lap and a bit of a built-in car."""
    spec = DriveSpec(circuit, CARS[car], PERSONS[person], laps=1, rate=rate, seed=seed, run_out=4.0)
    return columns_of(Drive(spec))


def drives(runs: bool) -> dict[str, Columns]:
    """By name: both cars and drivers on the built-in circuit and on a short one; with `runs` the recorded ones."""
    found = {}
    for car in CARS:
        for person in PERSONS:
            found[f"{car} {person}"] = built_in(car, person, brack_mere())
    found["short R"] = built_in("Pellow R", "steady", short_circuit(), rate=100)
    found["short S"] = built_in("Pellow S", "beginner", short_circuit(), rate=36)
    if runs:
        for path in sorted(RUNS.glob("*.jsonl.gz")):
            name = path.name.removesuffix(".jsonl.gz")
            found[name] = recorded(path)
            found[f"{name} lap 3"] = recorded(path, 3)
    return found
