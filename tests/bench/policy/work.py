"""Drives the pupils of one set of traits with one coach."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from .drive import Course, drive
from .policies import POLICIES, VARIANTS
from .pupil import make_pupil
from .results import Season
from .table import load
from .traits import SETS


@dataclass(frozen=True, slots=True)
class Task:
    """`pupils` of a `seed`, each `laps` laps with the coach `policy` and `uncued` without, of the set of traits
    `traits`."""

    traits: str
    policy: str
    pupils: int
    laps: int
    uncued: int
    seed: int


def work(task: Task) -> Season:
    """All their laps."""
    course = _course()
    policy = {**POLICIES, **VARIANTS}[task.policy]
    driven = []
    for number in range(task.pupils):
        pupil = make_pupil(course.losses, task.seed, number, SETS[task.traits])
        driven.append(drive(course, pupil, policy.make(), task.laps, task.uncued))
    return Season.of(driven, task.uncued)


@lru_cache(maxsize=1)
def _course() -> Course:
    return Course(load())
