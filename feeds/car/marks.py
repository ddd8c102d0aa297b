"""A driver's marks at each bend, read from the speed plan: brake, slowest place, throttle, power."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from feeds.car.circuit import Corner
from feeds.car.plan import SpeedPlan

BRAKES = -1.5
"""m/s^2 of plan: slower than this is braking."""
PULLS = 0.3
"""m/s^2 of plan: more than this is throttle."""
COMMITTED = 0.5
"""Throttle: more than this is power, less balances the car."""
ONE_BRAKING = 25.0
"""m between two brakings that are one."""
WAY_IN = 350.0
"""m before the slowest part of a bend in which its braking begins."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Places in m from the line: where the brake is pressed, the speed least, the throttle taken, power committed."""

    corner: Corner
    brake: float
    slow: float
    pickup: float
    committed: float
    slowest: float
    """m/s"""


def read_marks(plan: SpeedPlan) -> dict[int, Marks]:
    """The marks of each bend that is braked for, by its number."""
    marks: dict[int, Marks] = {}
    before = -plan.count
    for corner in plan.circuit.corners:
        first, last = (int(place / plan.step) for place in (corner.begins, corner.ends))
        slow = min(range(first, last + 1), key=lambda i: plan.speed[i % plan.count])
        brake = braked_from(plan, slow, max(before, slow - int(WAY_IN / plan.step)))
        before = slow
        if brake is None:
            continue
        pickup = _for_good(slow, last, plan, lambda i: plan.acceleration[i] >= PULLS)
        committed = _for_good(pickup, last, plan, lambda i: _power(plan, i) >= COMMITTED)
        at_brake, at_slow, at_pickup, at_power = (i % plan.count * plan.step for i in (brake, slow, pickup, committed))
        slowest = plan.speed[slow % plan.count]
        marks[corner.number] = Marks(corner, at_brake, at_slow, at_pickup, at_power, slowest)
    return marks


def _power(plan: SpeedPlan, i: int) -> float:
    """The throttle that the tyres take at a place of the plan."""
    speed = plan.speed[i]
    return plan.pedal(speed, plan.pull(speed, plan.curvature[i]))


def _for_good(start: int, bend_ends: int, plan: SpeedPlan, there: Callable[[int], bool]) -> int:
    """From where to the bend's end it is always `there`, not before `start`; else where behind it it first is."""
    found = max(start, bend_ends)
    if there(found % plan.count):
        while found > start and there((found - 1) % plan.count):
            found -= 1
        return found
    return next((i for i in range(found, start + plan.count) if there(i % plan.count)), start)


def braked_from(plan: SpeedPlan, slow: int, earliest: int) -> int | None:
    """Where, in places of the plan, the last braking before `slow` begins; a short pause in it is part of it."""
    found, pause = None, 0.0
    for i in range(slow, earliest, -1):
        if plan.acceleration[i % plan.count] < BRAKES:
            found, pause = i, 0.0
        elif found is not None:
            pause += plan.step
            if pause > ONE_BRAKING:
                break
    return found
