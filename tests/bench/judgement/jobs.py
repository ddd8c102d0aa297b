"""Which drives the bench makes: a reference, controls and fault runs for each circuit and car."""

from __future__ import annotations

from dataclasses import dataclass, replace

from feeds.car.drive import DriveSpec
from feeds.car.person import Person

from .cast import BENCH_CARS, DRIVERS
from .circuits import CIRCUITS
from .planting import OTHER_SIZES, SIZES, circuit_at, planted

REFERENCE_LAPS, CONTROL_LAPS, FAULT_LAPS = 6, 10, 8
RATES = (20, 100, 30, 60, 50)
"""datagrams a second, in turn"""
QUICK = ((1, 2), (4, 0), (2, 3))
"""Circuit and car of the quick run, at 50, 60 and 30 datagrams a second"""
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
        seed = 1000 * self.circuit + 100 * self.car + 99
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
    """The bench's jobs but the references. Quick: those of three circuits with a car each, one of a kind."""
    # one control and one fault run of each first, so that a run that is cut short has seen all
    jobs: list[Job] = []
    for number, scatter in enumerate(DRIVERS):
        for circuit, car in QUICK if quick else _pairs():
            rate = RATES[(2 * circuit + car) % len(RATES)]
            seed = 1000 * circuit + 100 * car + 10 * number
            rolls = [(circuit + car + more) % 3 > 0 for more in range(2)]
            jobs.append(Job("control", circuit, car, scatter, CONTROL_LAPS, rate, seed))
            jobs.append(Job("faults", circuit, car, scatter, FAULT_LAPS, rate, seed + 1, rolls[0]))
            if not quick:
                jobs.append(Job("control", circuit, car, scatter, CONTROL_LAPS, rate, seed + 2))
                jobs.append(Job("faults", circuit, car, scatter, FAULT_LAPS, rate, seed + 3, rolls[1]))
            if not quick and car == (circuit + number) % len(BENCH_CARS):
                jobs.append(Job("others", circuit, car, scatter, FAULT_LAPS, rate, seed + 4))
    return sorted(jobs, key=lambda job: job.seed % 10 // 2)


def _pairs() -> list[tuple[int, int]]:
    """(circuit, car): each circuit with three cars."""
    return [(circuit, (circuit + step) % len(BENCH_CARS)) for step in range(3) for circuit in range(len(CIRCUITS))]
