"""What a driver means to do on one lap: the line, the speeds, and what is done differently at some corners.

Scatter and mistakes change the line, the speed plan, or what the feet and the hand do in a window of the lap; what
comes of it is up to the car.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.vocabulary.errors import InputError
from feeds.car.circuit import Circuit
from feeds.car.line import racing_line, shifted, smooth_bump
from feeds.car.marks import Marks, read_marks
from feeds.car.mistakes import Mistake
from feeds.car.person import Person
from feeds.car.plan import SpeedPlan, Table, Use

Floats = NDArray[np.float64]

HALF_CAR = 0.95
"""m"""


@dataclass(slots=True)
class Habit:
    """How feet and hand treat one corner on one lap; what is 0 or None is done as ever."""

    marks: Marks
    delay: float = 0.0
    """s that the foot stays as it is behind the throttle's place"""
    late: float = 0.0
    """s that no more than balance throttle is given behind the place of power"""
    coast: float = 0.0
    """s before the brake mark"""
    lift: float = 0.0
    """s, on the way out"""
    shift_down: float = 0.0
    """rev/min that the lower gear may need more than usual"""
    over_limit: float | None = None
    """rev/min over the limit at which the lower gear is taken"""
    shift_up: float = 0.0
    """rev/min later than usual, negative earlier"""
    lock: float = 0.0
    """slip of the front wheels"""
    spin: float = 0.0
    """slip of the driven wheels"""


@dataclass(slots=True)
class Intention:
    """One lap as it is meant: path by the circuit's stations, speeds by the plan's places, habits by corner."""

    step: float
    offset: list[float]
    course: list[float]
    curvature: list[float]
    plan: SpeedPlan
    habits: dict[int, Habit]

    def nearing(self, station: float) -> Habit | None:
        """The habit at the corner whose slowest part comes next on this lap."""
        return next((habit for habit in self.habits.values() if station < habit.marks.slow), None)

    def leaving(self, station: float) -> Habit | None:
        """The habit at the corner whose slowest part was passed last on this lap."""
        passed = [habit for habit in self.habits.values() if station >= habit.marks.slow]
        return passed[-1] if passed else None

    def offset_at(self, station: float) -> float:
        """m to the left of the centre line."""
        return self._read(self.offset, station)

    def course_at(self, station: float) -> float:
        """rad to the left of the centre line's heading."""
        return self._read(self.course, station)

    def bend_at(self, station: float) -> float:
        """1/m, curvature of the path."""
        return self._read(self.curvature, station)

    def _read(self, values: list[float], station: float) -> float:
        index = station / self.step
        low = int(index)
        share, count = index - low, len(values) - 1
        return values[low % count] * (1.0 - share) + values[(low + 1) % count] * share


class Mind:
    """Knows a circuit with a car, and makes each lap's intention.

    Raises InputError for a mistake at a bend that the circuit does not have or that is flat out.
    """

    def __init__(self, circuit: Circuit, table: Table, person: Person, mistakes: Iterable[Mistake], seed: int) -> None:
        self.circuit, self.person, self._table, self._seed = circuit, person, table, seed
        self._use = Use(person.cornering, person.braking, person.driving, person.mixing)
        self._line = racing_line(circuit, HALF_CAR + person.room)
        self.plan = SpeedPlan(circuit, self._line, table, self._use, self._ones(), self._ones())
        self.marks = read_marks(self.plan)
        self._mistakes: dict[int, list[Mistake]] = {}
        for mistake in mistakes:
            self._check(mistake)
            self._mistakes.setdefault(mistake.lap, []).append(mistake)

    def lap(self, number: int) -> Intention:
        """Lap `number`: the same each time it is asked for."""
        dice = random.Random(f"{self._seed} {number}")
        station = self.circuit.station
        shift, slower, softer = np.zeros_like(station), self._ones(), self._ones()
        habits = {n: Habit(marks) for n, marks in self.marks.items()}
        longer: list[tuple[Marks, float]] = []
        for n, marks in self.marks.items():
            scatter = [max(-2.5, min(2.5, dice.gauss(0.0, 1.0))) for _ in range(5)]
            person = self.person
            slower *= 1 + person.speed_spread * scatter[0] * self._around(marks, 20.0)
            longer.append((marks, abs(person.brake_spread * scatter[1])))
            inward = person.line_spread * scatter[2] - person.line_spread
            shift += inward * marks.corner.side * self._bump(marks.corner.begins, marks.slow, marks.corner.ends)
            habits[n].delay = abs(person.pickup_spread * scatter[3])
            habits[n].shift_down = person.shift_spread * scatter[4]
        for mistake in self._mistakes.get(number, ()):
            marks, habit = self.marks[mistake.corner], habits[mistake.corner]
            longer += self._planned(mistake, marks, habit, slower, softer)
            shift += self._moved(mistake, marks)
        path = shifted(self.circuit, self._line, shift)
        plan = SpeedPlan(self.circuit, path, self._table, self._use, slower, softer)
        for marks, metres in longer:
            _brake_earlier(plan, marks, metres)
        plan.settle()
        lists = (path.offset.tolist(), path.course.tolist(), path.curvature.tolist())
        return Intention(self.circuit.step, *lists, plan, habits)

    def _planned(
        self, mistake: Mistake, marks: Marks, habit: Habit, slower: Floats, softer: Floats
    ) -> list[tuple[Marks, float]]:
        """Change the plans or the habit; returns by how many m the braking is moved."""
        kind, size = mistake.kind, mistake.size
        if kind == "early_braking":
            return [(marks, size)]
        if kind == "late_braking":
            return [(marks, -size)]
        if kind == "soft_braking":
            full = self._use.braking * self._table.read(self._table.braking, self.plan.at(marks.brake))
            softer *= 1 - min(size / full, 0.8) * self._between(marks.brake - 150.0, marks.slow)
        elif kind == "over_slowed":
            slower *= 1 - size / marks.slowest * self._around(marks, 15.0)
        elif kind == "coasting":
            habit.coast = size
        elif kind == "late_throttle":
            habit.late = size
        elif kind == "throttle_lift":
            habit.lift = size
        elif kind == "early_downshift":
            habit.over_limit = size
        elif kind in ("early_upshift", "late_upshift"):
            habit.shift_up = size if kind == "late_upshift" else -size
        elif kind == "lock_up":
            habit.lock = size
        elif kind == "wheelspin":
            habit.spin = size
        return []

    def _moved(self, mistake: Mistake, marks: Marks) -> Floats:
        """m to the left that the mistake moves the line."""
        corner, size = marks.corner, mistake.size
        entry, apex, exit_ = corner.begins, self._apex(marks), corner.ends
        if mistake.kind == "missed_apex":
            return -size * corner.side * self._bump(entry - 30.0, apex, exit_ + 30.0)
        if mistake.kind == "narrow_entry":
            return size * corner.side * self._bump(entry - 120.0, entry, apex)
        if mistake.kind == "narrow_exit":
            return size * corner.side * self._bump(apex, exit_, exit_ + 120.0)
        if mistake.kind == "off_track":
            outer = -corner.side * (self.circuit.width / 2 + HALF_CAR + size)
            return (outer - self._offset_at(exit_)) * self._bump(apex, exit_, exit_ + 60.0)
        return np.zeros_like(self.circuit.station)

    def _apex(self, marks: Marks) -> float:
        """m: where the line is nearest the inside edge."""
        first, last = (int(p / self.circuit.step) for p in (marks.corner.begins, marks.corner.ends))
        inside = self._line.offset[first : last + 1] * marks.corner.side
        return (first + int(np.argmax(inside))) * self.circuit.step

    def _offset_at(self, place: float) -> float:
        return float(self._line.offset[int(place / self.circuit.step) % (len(self.circuit.station) - 1)])

    def _around(self, marks: Marks, reach: float) -> Floats:
        """1 from `reach` m before the bend's slowest part to its end, fading out over as much again."""
        begins, ends = min(marks.corner.begins, marks.slow), marks.corner.ends
        before, behind = self._bump(begins - reach, begins, begins), self._bump(ends, ends, ends + reach)
        return np.maximum(self._between(begins, ends), np.maximum(before, behind))

    def _between(self, begins: float, ends: float) -> Floats:
        length = self.circuit.length
        return (((self.circuit.station - begins) % length) <= (ends - begins) % length).astype(float)

    def _bump(self, begins: float, peak: float, ends: float) -> Floats:
        return smooth_bump(self.circuit.station, begins, peak, ends, self.circuit.length)

    def _ones(self) -> Floats:
        return np.ones_like(self.circuit.station)

    def _check(self, mistake: Mistake) -> None:
        name = f"mistake {mistake.kind} at corner {mistake.corner}"
        if mistake.corner > len(self.circuit.corners):
            raise InputError(f"{name}: {self.circuit.name} has corners 1 to {len(self.circuit.corners)}")
        if mistake.corner not in self.marks:
            slowed = ", ".join(str(n) for n in self.marks)
            raise InputError(f"{name}: it is driven flat out; choose from {slowed}")


def _brake_earlier(plan: SpeedPlan, marks: Marks, metres: float) -> None:
    """Move the braking of one corner by `metres` (negative: later); the slowest speed stays."""
    count, step = plan.count, plan.step
    before = list(plan.speed)
    steps = round(abs(metres) / step)
    reach = math.ceil(((marks.slow - marks.brake) % plan.circuit.length) / step)
    slow = round(marks.slow / step)
    if metres > 0.0:
        for i in range(slow - reach - steps - 2, slow + 1):
            plan.speed[i % count] = min(before[i % count], before[min(i + steps, slow) % count])
    else:
        for i in range(slow - reach, slow + 1):
            plan.speed[i % count] = max(before[i % count], before[(i - steps) % count])
