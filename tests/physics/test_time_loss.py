"""Time losses that have a closed form, driven as sampled laps through the real engine.

dt(s) = integral of (1/v - 1/v_ref) ds; each piece has constant acceleration, so every figure here is algebra.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise

import pytest

from coach.engine.circuit import Circuit
from coach.engine.ledger import Ledger
from coach.engine.straight import loss_from_speed
from coach.engine.stretch import from_lap
from coach.engine.study import Studied
from coach.engine.tape import Tape
from coach.vocabulary.events import CornerMark, Delta, Event, Lap, Loss
from coach.vocabulary.sample import Sample
from tests.physics.motion import Motion, drive, ledger_of, reference_of

SAMPLED = 0.005
"""s: what sampling at 60 Hz may cost"""

# The stadium: two straights of 400 m, two half circles of 50 m radius, friction 1.2, 9.81 m/s^2.
STRAIGHT, RADIUS, PULL, BRAKES = 400.0, 50.0, 5.0, 1.2 * 9.81
HALF = math.pi * RADIUS
CORNER_SPEED = math.sqrt(1.2 * 9.81 * RADIUS)
PUSHED = BRAKES * STRAIGHT / (PULL + BRAKES)


def stadium(corner_speed: float) -> Motion:
    """From the middle of the first straight's driving on: the line lies where the straight begins."""
    half = [(PUSHED, PULL), (STRAIGHT - PUSHED, -BRAKES), (HALF, 0.0)]
    return Motion(corner_speed, half * 2)


def stadium_path(place: float) -> tuple[float, float]:
    """Left round: along the x axis, round (400, 50), back, round (0, 50)."""
    back, along = divmod(place, STRAIGHT + HALF)
    if along <= STRAIGHT:
        x, y = along, 0.0
    else:
        turned = (along - STRAIGHT) / RADIUS
        x, y = STRAIGHT + RADIUS * math.sin(turned), RADIUS - RADIUS * math.cos(turned)
    return (x, y) if back == 0 else (STRAIGHT - x, 2 * RADIUS - y)


def tape_of(motion: Motion, rate: float) -> Tape:
    """The lap's tape, from line to line."""
    tape = Tape()
    for count in range(math.ceil(motion.total * rate)):
        place = motion.place(count / rate)
        tape.append(count / rate, place, Sample(count / rate, speed=motion.speed(place)))
    tape.append(motion.total, motion.length, Sample(motion.total, speed=motion.speed(motion.length)))
    return tape


def lap_one(events: list[Event]) -> Lap:
    return next(e for e in events if isinstance(e, Lap) and e.lap == 1)


def loss_one(events: list[Event]) -> Loss:
    return next(e for e in events if isinstance(e, Loss) and e.lap == 1)


def test_the_stadium_is_the_published_one() -> None:
    # Closed form: v_c = sqrt(mu g R) (any text), and constant acceleration on the straights.
    fast, slow = stadium(CORNER_SPEED), stadium(0.95 * CORNER_SPEED)
    assert abs(CORNER_SPEED - 24.2611) < 1e-4
    assert abs(PUSHED - 280.754) < 1e-3
    assert fast.speed(PUSHED) == pytest.approx(58.2764, abs=1e-4)
    assert fast.length == pytest.approx(1114.159, abs=1e-3)
    assert fast.total == pytest.approx(32.33424, abs=1e-5)
    assert slow.total == pytest.approx(33.42529, abs=1e-5)


@pytest.mark.parametrize(("rate", "within"), [(60.0, SAMPLED), (120.0, 0.002)])
def test_stadium_five_per_cent_slow_in_its_corners(rate: float, within: float) -> None:
    fast, slow = stadium(CORNER_SPEED), stadium(0.95 * CORNER_SPEED)
    known = reference_of(fast, rate, stadium_path)
    assert known.reference.total == pytest.approx(32.33424, abs=within)
    events = drive(slow, known, slow, rate, stadium_path)
    assert lap_one(events).time == pytest.approx(33.42529, abs=within)
    assert lap_one(events).delta == pytest.approx(1.09104, abs=within)

    parts = loss_one(events).parts
    assert sum(part.seconds for part in parts) == pytest.approx(1.09104, abs=within)
    for own, part in zip(parts, ledger_of(known).parts, strict=True):
        exact = (slow.time(part.end) - slow.time(part.start)) - (fast.time(part.end) - fast.time(part.start))
        assert own.seconds == pytest.approx(exact, abs=within), part

    # The running delta, wherever it is told, is the closed form at that place.
    told = [e for e in events if isinstance(e, Delta) and e.lap == 1]
    assert len(told) > 300
    for e in told:
        assert e.delta == pytest.approx(slow.time(e.distance) - fast.time(e.distance), abs=within)


def test_stadium_split_between_corners_and_straights() -> None:
    """With the bounds of the half circles themselves: .68153 s in the corners, .40951 s on the straights."""
    fast, slow = stadium(CORNER_SPEED), stadium(0.95 * CORNER_SPEED)
    reference = reference_of(fast, 60.0, stadium_path).reference
    marks = []
    for number, begins in ((1, STRAIGHT), (2, 2 * STRAIGHT + HALF)):
        middle, ends = begins + HALF / 2, min(begins + HALF, reference.length)
        brake = begins - (STRAIGHT - PUSHED)
        marks.append(CornerMark(number, "left", brake, begins, middle, ends, (middle,)))
    ledger = Ledger(Circuit("stadium", reference.length, tuple(marks)), reference)
    tape = tape_of(slow, 60.0)
    parts = ledger.losses(tape, 0.0, slow.total - fast.total)
    corners = sum(part.seconds for part in parts if part.phase in ("entry", "exit"))
    straights = sum(part.seconds for part in parts if part.phase in ("straight", "braking"))
    assert corners == pytest.approx(0.68153, abs=SAMPLED)
    assert straights == pytest.approx(0.40951, abs=SAMPLED)


def test_one_per_cent_slower_everywhere_grows_evenly() -> None:
    # 90 s at constant speed, 1 % slower: 90 (1 / 0.99 - 1) = +0.90909 s, linear in the distance.
    quick, slow = Motion(40.0, [(3600.0, 0.0)]), Motion(39.6, [(3600.0, 0.0)])
    events = drive(slow, reference_of(quick, 60.0), slow, 60.0)
    assert lap_one(events).delta == pytest.approx(0.90909, abs=1e-4)
    told = [e for e in events if isinstance(e, Delta) and e.lap == 1]
    assert len(told) > 850
    for e in told:
        assert e.delta == pytest.approx(0.90909 * e.distance / 3600.0, abs=1e-3)
        assert e.predicted == pytest.approx(90.0 + e.delta, abs=1e-3)
    assert all(b.delta > a.delta for a, b in pairwise(told))


def delta_at(events: list[Event], place: float) -> float:
    """s: the running delta at `place` m of lap 1, between the two events beside it."""
    told = [e for e in events if isinstance(e, Delta) and e.lap == 1]
    low, high = next((a, b) for a, b in pairwise(told) if a.distance <= place <= b.distance)
    return low.delta + (high.delta - low.delta) * (place - low.distance) / (high.distance - low.distance)


def out_and_back(exit_speed: float, coasts: float = 0.0) -> Motion:
    """500 m at 4 m/s^2 from `exit_speed`, of which the first `coasts` m without power, then down to it again."""
    top = math.sqrt(exit_speed**2 + 2 * 4.0 * (500.0 - coasts))
    slowing = (top**2 - exit_speed**2) / (2 * 300.0)
    return Motion(exit_speed, [(coasts, 0.0), (500.0 - coasts, 4.0), (300.0, -slowing), (100.0, 0.0)])


@cache
def out_known() -> Studied:
    return reference_of(out_and_back(20.0), 60.0)


def test_one_metre_a_second_of_exit_speed() -> None:
    # t = (sqrt(v^2 + 2 a L) - v) / a: 11.75947 s from 19 m/s, 11.58312 s from 20 m/s: +0.17634 s on the straight.
    known, slow = out_known(), out_and_back(19.0)
    assert delta_at(drive(slow, known, slow, 60.0), 500.0) == pytest.approx(0.17634, abs=SAMPLED)
    explained = loss_from_speed(from_lap(known.reference, 0.0, 500.0), 0.0, 500.0, 19.0)
    assert explained == pytest.approx(0.17634, abs=0.002)


@pytest.mark.parametrize("speed", [14.0, 17.0, 19.0, 19.9, 20.0, 20.1, 21.0, 23.0, 26.0])
@pytest.mark.parametrize("length", [30.0, 120.0, 500.0])
def test_what_an_exit_speed_explains(speed: float, length: float) -> None:
    # The same closed form, slower and faster, on short and long straights.
    known = out_known()

    def straight(v: float) -> float:
        return (math.sqrt(v * v + 2 * 4.0 * length) - v) / 4.0

    explained = loss_from_speed(from_lap(known.reference, 0.0, length), 0.0, length, speed)
    assert explained == pytest.approx(straight(speed) - straight(20.0), abs=0.003)


@pytest.mark.parametrize(("late", "costs"), [(0.1, 0.06982), (0.2, 0.13959), (0.5, 0.34855)])
def test_late_throttle_costs_to_the_end_of_the_straight(late: float, costs: float) -> None:
    # Coasting at 20 m/s for `late` s, then 4 m/s^2: t = late + time for the rest of the 500 m.
    slow = out_and_back(20.0, coasts=20.0 * late)
    events = drive(slow, out_known(), slow, 60.0)
    assert delta_at(events, 500.0) == pytest.approx(costs, abs=SAMPLED)


def test_braking_ten_metres_early() -> None:
    # 60 to 20 m/s, then rolling at 20: 10 (1/20 - 1/60) = +0.33333 s, all of it before the corner.
    def lap(early: float) -> Motion:
        pull = (60.0**2 - 20.0**2) / (2 * 390.0)
        return Motion(60.0, [(400.0 - early, 0.0), (160.0, -10.0), (50.0 + early, 0.0), (390.0, pull)])

    quick, slow = lap(0.0), lap(10.0)
    known = reference_of(quick, 60.0)
    assert lap_one(drive(slow, known, quick, 60.0)).delta == pytest.approx(0.33333, abs=SAMPLED)

    mark = CornerMark(1, "left", 400.0, 560.0, 585.0, 610.0, (585.0,))
    ledger = Ledger(Circuit("one", quick.length, (mark,)), known.reference)
    lost = {
        (p.phase, q.start): p.seconds
        for p, q in zip(ledger.losses(tape_of(slow, 60.0), 0.0, 1 / 3), ledger.parts, strict=True)
    }
    assert lost.pop(("braking", next(p.start for p in ledger.parts if p.phase == "braking"))) == pytest.approx(
        0.33333, abs=SAMPLED
    )
    assert all(abs(seconds) < SAMPLED for seconds in lost.values())


def test_a_tenth_in_and_a_tenth_out_of_fourteen_corners() -> None:
    # Common practice: 0.1 s in + 0.1 s out x 14 corners = 2.8 s.
    length, corners = 4200.0, 14
    pitch = length / corners
    marks, losing = [], []
    for number in range(1, corners + 1):
        entry = (number - 1) * pitch + 150.0
        marks.append(CornerMark(number, "left", entry - 50.0, entry, entry + 40.0, entry + 90.0, (entry + 40.0,)))
        losing += [(entry - 50.0, entry + 40.0), (entry + 40.0, entry + 90.0)]
    reference = reference_of(Motion(50.0, [(length, 0.0)]), 60.0).reference

    def lost_at(place: float) -> float:
        return sum(0.1 * min(max((place - a) / (b - a), 0.0), 1.0) for a, b in losing)

    tape = Tape()
    for count in range(2 * int(length) + 1):
        place = count / 2
        tape.append(place / 50.0 + lost_at(place), place, Sample(0.0, speed=50.0))
    ledger = Ledger(Circuit("fourteen", length, tuple(marks)), reference)
    parts = ledger.losses(tape, 0.0, 2.8)
    assert sum(part.seconds for part in parts) == pytest.approx(2.8, abs=1e-9)
    for number in range(1, corners + 1):
        way_in = sum(p.seconds for p in parts if p.corner == number and p.phase in ("braking", "entry"))
        way_out = sum(p.seconds for p in parts if p.corner == number and p.phase == "exit")
        assert way_in == pytest.approx(0.1, abs=0.001)
        assert way_out == pytest.approx(0.1, abs=0.001)
