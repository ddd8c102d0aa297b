"""What a driver knows of a circuit with a car, and the laps that come of it: scatter and mistakes are put in here."""

from __future__ import annotations

import random
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from coach.vocabulary.errors import InputError
from feeds.car.braking import brake_earlier, brake_later, coasting
from feeds.car.circuit import Circuit
from feeds.car.detour import HALF_CAR, detour
from feeds.car.intention import Habit, Intention
from feeds.car.line import racing_line, shifted, smooth_bump
from feeds.car.marks import WAY_IN, Marks, read_marks
from feeds.car.mistakes import Mistake
from feeds.car.person import Person
from feeds.car.plan import SpeedPlan, Table, Use

Floats = NDArray[np.float64]

CALM = 20.0
"""m before and behind a bend in which another speed than the plan's fades in and out."""
OUTLIER = 2.5
"""standard deviations: no lap is further away."""
SWERVE = 60.0
"""m before and behind a bend in which another line fades in and out (choice)."""
LATEST = 0.15
"""of the braking: scatter brakes no later than this, for later there is no corner any more; see `leeway.SHARE`."""
ROLLS = -1.0
"""m/s^2 of plan: a car that is slowed no more than this needs no brake."""
FOOT = 0.1
"""s in which the throttle comes up when it is left."""
PRESS, SHORT = 0.2, 1.0
"""s that the brake takes, and m/s^2 by which it is pressed less than planned: the car comes to it a little slower."""


class Mind:
    """Makes each lap's intention.

    Raises InputError for a mistake at a bend that the circuit does not have or that is flat out, or given twice.
    """

    def __init__(self, circuit: Circuit, table: Table, person: Person, mistakes: Iterable[Mistake], seed: int) -> None:
        self.circuit, self.person, self._table, self._seed = circuit, person, table, seed
        self._use = Use(person.cornering, person.braking, person.driving, person.mixing)
        self.line = racing_line(circuit, HALF_CAR + person.room)
        self.plan = SpeedPlan(circuit, self.line, table, self._use)
        self.marks = read_marks(self.plan)
        self._mistakes: dict[int, list[Mistake]] = {}
        for mistake in mistakes:
            self._check(mistake)
            self._mistakes.setdefault(mistake.lap, []).append(mistake)

    def lap(self, number: int) -> Intention:
        """Lap `number`: the same each time it is asked for."""
        circuit, person = self.circuit, self.person
        dice = random.Random(f"{self._seed} {number}")
        shift, slower = np.zeros_like(circuit.station), np.ones_like(circuit.station)
        hardest = np.full_like(circuit.station, np.inf)
        habits = {n: Habit(marks, sure=person.sure) for n, marks in self.marks.items()}
        earlier: dict[int, float] = {}
        for n, marks in self.marks.items():
            scatter = [max(-OUTLIER, min(OUTLIER, dice.gauss(0.0, 1.0))) for _ in range(5)]
            slower *= 1.0 + person.speed_spread * scatter[0] * self._around(marks)
            earlier[n] = self._earlier(marks, scatter[1])
            shift += self._inward(scatter[2]) * marks.corner.side * self._across(marks)
            habits[n].delay = abs(person.pickup_spread * scatter[3])
            habits[n].shift_down = person.shift_spread * scatter[4]
        wrong = self._mistakes.get(number, [])
        for mistake in wrong:
            marks, habit = self.marks[mistake.corner], habits[mistake.corner]
            _as_habit(mistake, habit)
            shift += detour(circuit, self.line, marks.corner, mistake)
            if mistake.kind == "over_slowed":
                slower *= 1.0 - mistake.size / marks.slowest * self._around(marks)
            elif mistake.kind == "soft_braking":
                habit.hardest = self.hardest(marks) - mistake.size
                self._soften(hardest, marks, habit.hardest)
            elif mistake.kind == "early_braking":
                earlier[mistake.corner] += mistake.size
            elif mistake.kind == "coasting" and person.rolls_in:
                earlier[mistake.corner] += mistake.size * marks.slowest
            elif mistake.kind == "late_braking":
                earlier[mistake.corner] -= mistake.size
            elif mistake.kind == "late_turn_in":
                earlier[mistake.corner] += mistake.size  # the brakes stay where they are
        path = shifted(circuit, self.line, shift)
        plan = SpeedPlan(circuit, path, self._table, self._use, slower, hardest)
        for n, metres in earlier.items():
            before = self.last_slow(n)
            if metres >= 0.0:
                brake_earlier(plan, self.marks[n], metres, before)
            else:
                brake_later(plan, self.marks[n], -metres, before)
        plan.settle()
        for mistake in wrong:
            if mistake.kind == "coasting":
                habits[mistake.corner].coast = self._rolls(plan, mistake)
        lists = (path.offset.tolist(), path.course.tolist(), path.curvature.tolist())
        return Intention(circuit.step, *lists, plan, habits)

    def before(self, number: int) -> Marks | None:
        """The marks of the bend that is braked for before bend `number` on the same lap."""
        return next((marks for n, marks in reversed(self.marks.items()) if n < number), None)

    def last_slow(self, number: int) -> float:
        """m: the slowest place of the bend that is braked for before bend `number`, or the line."""
        before = self.before(number)
        return 0.0 if before is None else before.slow

    def hardest(self, marks: Marks) -> float:
        """m/s^2: the most that the corner is braked with as ever."""
        plan = self.plan
        first, last = int((marks.brake + PRESS * plan.at(marks.brake)) / plan.step), int(marks.slow / plan.step)
        return max((-a for a in plan.acceleration[first : last + 1]), default=0.0) - SHORT

    def _soften(self, hardest: Floats, marks: Marks, most: float) -> None:
        """No more than `most` m/s^2 of brakes on the way to the corner."""
        station, begins = self.circuit.station, self.last_slow(marks.corner.number)
        hardest[(station > begins) & (station <= marks.slow)] = most

    def _around(self, marks: Marks) -> Floats:
        """1 in the bend, fading out before and behind it."""
        begins, ends, circuit = min(marks.corner.begins, marks.slow), marks.corner.ends, self.circuit
        within: NDArray[np.bool_] = (circuit.station - begins) % circuit.length <= (ends - begins) % circuit.length
        before = smooth_bump(circuit.station, begins - CALM, begins, begins, circuit.length)
        behind = smooth_bump(circuit.station, ends, ends, ends + CALM, circuit.length)
        return np.maximum(within.astype(np.float64), np.maximum(before, behind))

    def _across(self, marks: Marks) -> Floats:
        """1 at the slowest place, nothing before and behind the bend; for who scatters both ways 1 all through it."""
        corner, station, length = marks.corner, self.circuit.station, self.circuit.length
        if not self.person.both_ways:
            return smooth_bump(station, corner.begins, marks.slow, corner.ends, length)
        within: NDArray[np.bool_] = (station >= corner.begins) & (station <= corner.ends)
        before = smooth_bump(station, corner.begins - SWERVE, corner.begins, corner.begins, length)
        behind = smooth_bump(station, corner.ends, corner.ends, corner.ends + SWERVE, length)
        return np.maximum(within.astype(np.float64), np.maximum(before, behind))

    def _earlier(self, marks: Marks, scatter: float) -> float:
        """m before its mark that a corner is braked for, `scatter` in standard deviations."""
        metres = self.person.brake_spread * scatter
        if not self.person.both_ways:
            return abs(metres)
        return max(metres, -LATEST * ((marks.slow - marks.brake) % self.circuit.length))

    def _inward(self, scatter: float) -> float:
        """m to the inside of the line, `scatter` in standard deviations."""
        return self.person.line_spread * (scatter if self.person.both_ways else scatter - 1.0)

    def _rolls(self, plan: SpeedPlan, mistake: Mistake) -> tuple[float, float]:
        """From where to where (m) the car rolls for the seconds of the mistake, before the brake or behind it."""
        marks = self.marks[mistake.corner]
        if self.person.rolls_in:
            begins = marks.slow
            while marks.slow - begins < WAY_IN and plan.acceleration_at(begins - plan.step) > ROLLS:
                begins -= plan.step
            return begins, marks.slow
        return coasting(plan, marks, mistake.size + FOOT, self.last_slow(mistake.corner))

    def _check(self, mistake: Mistake) -> None:
        if mistake.corner > len(self.circuit.corners):
            raise InputError(f"{mistake}: {self.circuit.name} has corners 1 to {len(self.circuit.corners)}")
        if mistake.corner not in self.marks:
            slowed = ", ".join(str(n) for n in self.marks)
            raise InputError(f"{mistake}: corner {mistake.corner} is driven flat out; choose from {slowed}")
        for other in self._mistakes.get(mistake.lap, []):
            if (other.kind, other.corner) == (mistake.kind, mistake.corner):
                raise InputError(f"{mistake}: {other} is the same kind at the same place; give one of them")


def _as_habit(mistake: Mistake, habit: Habit) -> None:
    """Put what feet and hand do wrong into the habit."""
    size = mistake.size
    if mistake.kind == "late_throttle":
        habit.late = size
    elif mistake.kind == "throttle_lift":
        habit.lift = size
    elif mistake.kind == "early_downshift":
        habit.over_limit = size
    elif mistake.kind == "early_upshift":
        habit.shift_up = -size
    elif mistake.kind == "late_upshift":
        habit.shift_up = size
    elif mistake.kind == "lock_up":
        habit.lock = size
    elif mistake.kind == "wheelspin":
        habit.spin = size
