"""How much of a mistake there is room for at a corner: so that what is asked for is what happens."""

from __future__ import annotations

import math
from collections.abc import Callable

from coach.vocabulary.errors import InputError
from feeds.car.braking import coasting
from feeds.car.detour import HALF_CAR, room_inside
from feeds.car.driver import SHIFT_UP
from feeds.car.engine import Engine
from feeds.car.lapses import SLIPS_FOR, SURE
from feeds.car.marks import Marks
from feeds.car.mind import Mind
from feeds.car.mistakes import KINDS, Mistake
from feeds.car.spec import RPM, CarSpec

UNLUCKY = 2.0
"""standard deviations of scatter that may take from the speed before a corner."""
BRAKED = 3.0
"""m/s: a brake point has to be so much faster than the corner."""
SHARE = 0.15
"""of the braking that it may begin too late: more is no corner any more."""
HARD = 5.0
"""m/s^2: what is braked with less locks no wheel."""
LEFT = 1.0
"""m/s^2 of braking that must be left."""
CREEPS = 6.0
"""m/s: no corner is driven slower."""
JUDGED = 0.5
"""s of power before the next brake point: less is none."""
OVERPOWERS, FIRST_PUSH = 1.55, 0.4
"""times the grip that the engine must have to spin the wheels, and s behind the throttle's place when it is asked."""
FINE = 2.0
"""m between two places that are tried."""


class Leeway:
    """What one driver in one car can do wrong where."""

    def __init__(self, car: CarSpec, mind: Mind) -> None:
        self._car, self._mind, self._plan = car, mind, mind.plan
        self._limit = car.engine.limit

    def check(self, mistake: Mistake) -> None:
        """Raises InputError, with the most that there is room for, where it is less than the size."""
        marks = self._mind.marks[mistake.corner]
        found = self._most(mistake, marks)
        if found is None:
            return
        most, why = found
        if most >= mistake.size:
            return
        where = f"at corner {mistake.corner}"
        if most < KINDS[mistake.kind].least:
            raise InputError(f"{mistake}: there is no room for it {where}, {why}; choose another corner")
        raise InputError(f"{mistake}: {_down(most)} {mistake.unit} is the most {where}, {why}")

    def _most(self, mistake: Mistake, marks: Marks) -> tuple[float, str] | None:
        if mistake.kind == "coasting":
            return self._coasting(marks, mistake.size)
        if mistake.kind == "early_upshift":
            return self._early_upshift(marks, mistake.size)
        kinds: dict[str, Callable[[Marks], tuple[float, str]]] = {
            "early_braking": self._early_braking,
            "late_braking": self._late_braking,
            "soft_braking": self._soft_braking,
            "early_downshift": self._early_downshift,
            "lock_up": self._lock_up,
            "over_slowed": lambda marks: (marks.slowest - CREEPS, "which is that slow already"),
            "late_throttle": self._late_throttle,
            "throttle_lift": self._throttle_lift,
            "wheelspin": self._wheelspin,
            "narrow_entry": lambda marks: self._narrow(marks, marks.corner.begins),
            "narrow_exit": lambda marks: self._narrow(marks, marks.corner.ends),
            "missed_apex": self._missed_apex,
            "late_upshift": self._late_upshift,
        }
        return kinds[mistake.kind](marks) if mistake.kind in kinds else None

    def _earliest(self, marks: Marks) -> tuple[float, str]:
        """m: the first place on the way to the corner, and what is there."""
        before = self._mind.before(marks.corner.number)
        return (0.0, "the line is") if before is None else (before.committed, f"corner {before.corner.number} is")

    def _early_braking(self, marks: Marks) -> tuple[float, str]:
        place, what = self._earliest(marks)
        slowest = marks.slowest + BRAKED
        begins = marks.brake
        while begins - FINE >= place and self._plan.at(begins - FINE) >= slowest:
            begins -= FINE
        return marks.brake - begins, f"{what} before it"

    def _late_braking(self, marks: Marks) -> tuple[float, str]:
        return SHARE * (marks.slow - marks.brake), "with so short a braking"

    def _soft_braking(self, marks: Marks) -> tuple[float, str]:
        hardest, (place, what) = self._mind.hardest(marks), self._earliest(marks)
        longest, usual = marks.slow - place, marks.slow - marks.brake
        if hardest <= 0.0 or longest <= usual:
            return 0.0, f"{what} before it"
        return min(hardest - LEFT, hardest * (1.0 - usual / longest)), "where it is not braked harder or longer"

    def _coasting(self, marks: Marks, seconds: float) -> tuple[float, str]:
        place, what = self._earliest(marks)
        most = seconds
        while most > 0.0:
            begins, ends = coasting(self._plan, marks, most, self._mind.last_slow(marks.corner.number))
            if begins >= place and ends < marks.slow:
                break
            most -= 0.1
        return most, f"{what} before it"

    def _early_downshift(self, marks: Marks) -> tuple[float, str]:
        fast, slow, car = self._reached(marks.brake), self._exit_gear(marks), self._car
        fits = next((g for g in range(1, len(car.gears)) if car.engine_speed(fast, g) < SHIFT_UP * self._limit), None)
        top = len(car.gears) if fits is None else fits
        most = max((car.engine_speed(fast, gear) for gear in range(slow, top)), default=0.0)
        return most - self._limit, "with the gears and the speed before it"

    def _lock_up(self, marks: Marks) -> tuple[float, str]:
        hard = self._mind.hardest(marks) >= HARD
        return math.inf if hard else 0.0, "which is braked too lightly"

    def _late_throttle(self, marks: Marks) -> tuple[float, str]:
        return self._power(marks) - JUDGED, "with the next braking so near"

    def _throttle_lift(self, marks: Marks) -> tuple[float, str]:
        return self._power(marks) - SURE - JUDGED, "with the next braking so near"

    def _wheelspin(self, marks: Marks) -> tuple[float, str]:
        car, plan, gear = self._car, self._plan, self._exit_gear(marks)
        place = marks.pickup + FIRST_PUSH * marks.slowest
        speed = plan.at(place)
        cornering = min(abs(plan.bend_at(place)) * speed * speed / plan.table.read(plan.table.lateral, speed), 1.0)
        grip = plan.table.traction * math.sqrt(max(1.0 - cornering * cornering, 0.05))
        torque = Engine(car.engine).full(car.engine_speed(speed, gear) / RPM) * car.ratio(gear)
        if torque / car.tyre_radius / car.mass < OVERPOWERS * grip or self._power(marks) < SLIPS_FOR:
            return 0.0, "where the engine has too little power for it"
        turns = car.engine_speed(plan.at(marks.committed), gear)
        return self._limit / turns - 1.0, "where the engine comes to its limit"

    def _narrow(self, marks: Marks, place: float) -> tuple[float, str]:
        return room_inside(self._mind.circuit, self._mind.line, marks.corner, place), "up to the inner edge"

    def _missed_apex(self, marks: Marks) -> tuple[float, str]:
        circuit, corner = self._mind.circuit, marks.corner
        inside = min(room_inside(circuit, self._mind.line, corner, s) for s in _every(corner.begins, corner.ends))
        return circuit.width - 2.0 * HALF_CAR - inside, "up to the outer edge"

    def _early_upshift(self, marks: Marks, wanted: float) -> tuple[float, str]:
        mark, (least, most) = SHIFT_UP * self._limit, self._turns(marks)
        if most < mark - wanted:
            return 0.0, "where no gear is shifted up"
        return mark - least, "where the power comes"

    def _late_upshift(self, marks: Marks) -> tuple[float, str]:
        return self._turns(marks)[1] - SHIFT_UP * self._limit, "before the next braking"

    def _turns(self, marks: Marks) -> tuple[float, float]:
        """rev/min in the corner's gear, from where there is power to where it is braked again; none in the top gear."""
        car, gear = self._car, self._exit_gear(marks)
        if gear == len(car.gears):
            return 0.0, 0.0
        ends = self._next_brake(marks) % self._plan.circuit.length
        return car.engine_speed(self._plan.at(marks.committed), gear), car.engine_speed(self._reached(ends), gear)

    def _reached(self, brake: float) -> float:
        """m/s that the car has at least where it is braked."""
        person = self._mind.person
        place = (brake - UNLUCKY * person.brake_spread) % self._plan.circuit.length
        return self._plan.at(place) * (1.0 - UNLUCKY * person.speed_spread)

    def _exit_gear(self, marks: Marks) -> int:
        """The gear that the corner's slowest place is driven in."""
        car, allowed = self._car, self._mind.person.shift_down * self._limit
        gears = range(1, len(car.gears) + 1)
        return next((g for g in gears if car.engine_speed(marks.slowest, g) < allowed), len(car.gears))

    def _next_brake(self, marks: Marks) -> float:
        """m, may lie behind the line: where it is braked again."""
        numbers = list(self._mind.marks)
        place = numbers.index(marks.corner.number) + 1
        if place < len(numbers):
            return self._mind.marks[numbers[place]].brake
        return self._mind.marks[numbers[0]].brake + self._plan.circuit.length

    def _power(self, marks: Marks) -> float:
        """s from the place of power to where it is braked again."""
        return self._plan.seconds(marks.committed, self._next_brake(marks))


def _every(begins: float, ends: float) -> list[float]:
    return [begins + FINE * i for i in range(int((ends - begins) / FINE) + 1)]


def _down(number: float) -> str:
    """Two figures, rounded down so that it is accepted when it is given."""
    digits = 1 - math.floor(math.log10(number))
    return f"{math.floor(number * 10**digits) / 10**digits:g}"
