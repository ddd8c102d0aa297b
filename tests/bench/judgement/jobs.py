"""Which drives the bench makes: a reference, controls and fault runs for each circuit and car."""

from __future__ import annotations

from dataclasses import dataclass, replace

from feeds.car.drive import DriveSpec
from feeds.car.person import Person

from .cast import BENCH_CARS, DRIVERS
from .circuits import CIRCUITS
from .planting import OTHER_SIZES, SIZES, circuit_at, planted

REFERENCE_LAPS, CONTROL_LAPS, FAULT_LAPS = 6, 10, 8
RATES = (50, 60, 30, 100, 20)
"""datagrams a second, in turn"""
RUN_OUT = 20.0
"""s behind the line, so that the last corner's straight is driven and its cue said"""


@dataclass(frozen=True, slots=True)
class Job:
    """One drive; circuit and car by their places in the bench's lists. `kind`: reference, control, faults, others."""

    kind: str
    circuit: int
    car: int
    scatter: str
    laps: int
    rate: int
    seed: int
    rolls_in: bool = False

    @property
    def name(self) -> str:
        """Short and unlike any other job's."""
        return f"{self.kind}-{self.circuit}-{self.car}-{self.scatter}-{self.rate}Hz-{self.seed}"

    @property
    def person(self) -> Person:
        """Who drives."""
        return replace(DRIVERS[self.scatter], rolls_in=self.rolls_in)

    def reference(self) -> Job:
        """The job of this one's reference run, which the steady driver drives."""
        seed = 10_000 + 100 * self.circuit + self.car
        return Job("reference", self.circuit, self.car, "steady", REFERENCE_LAPS, self.rate, seed)

    def spec(self) -> DriveSpec:
        """The drive with its mistakes."""
        sizes = {"faults": SIZES, "others": OTHER_SIZES}.get(self.kind)
        asked = self.circuit, self.car, self.person, self.laps, self.seed
        mistakes = planted(*asked, sizes) if sizes else []
        return DriveSpec(
            circuit_at(self.circuit),
            BENCH_CARS[self.car],
            self.person,
            self.laps,
            self.rate,
            self.seed,
            mistakes=mistakes,
            run_out=RUN_OUT,
        )


def all_jobs(quick: bool) -> list[Job]:
    """The bench's jobs but the references. Quick: one of each kind for some circuits and cars."""
    jobs: list[Job] = []
    seed = 0
    for scatter in DRIVERS:
        for place, (circuit, car) in enumerate(_pairs(quick)):
            rate = RATES[(2 * circuit + place // len(CIRCUITS)) % len(RATES)]
            seed += 10
            jobs.append(Job("control", circuit, car, scatter, CONTROL_LAPS, rate, seed))
            for more in range(1 if quick else 2):
                jobs.append(
                    Job("faults", circuit, car, scatter, FAULT_LAPS, rate, seed + 1 + more, (place + more) % 3 > 0)
                )
            if not quick:
                jobs.append(Job("control", circuit, car, scatter, CONTROL_LAPS, rate, seed + 4))
                if place % 3 == 0:
                    jobs.append(Job("others", circuit, car, scatter, FAULT_LAPS, rate, seed + 5))
    return jobs


def _pairs(quick: bool) -> list[tuple[int, int]]:
    """(circuit, car): every circuit with several cars, the quick ones spread over both."""
    if quick:
        return [(1, 0), (4, 2), (2, 3)]
    return [(circuit, (circuit + step) % len(BENCH_CARS)) for step in range(3) for circuit in range(len(CIRCUITS))]
