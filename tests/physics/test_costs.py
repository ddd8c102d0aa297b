"""What a fault costs, against closed forms: laps of constant acceleration, driven through the real engine.

Each case is algebra (integral of (1/v - 1/v_ref) ds over pieces of constant acceleration) and comes out within 5 % as
the cost of the fault that was driven, or as the parts of the ledger where it is too small to be a fault.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterator
from functools import cache
from itertools import accumulate

import pytest

from coach.engine.engine import Engine
from coach.engine.start import EngineStart
from coach.engine.study import Studied, study
from coach.vocabulary.events import Event, Fault, Lap, Loss
from coach.vocabulary.sample import Sample
from tests.physics.motion import Motion, drive, ledger_of, reference_of

WITHIN = 0.05
"""of the closed form"""
SLOW, PULL, BRAKES = 20.0, 4.0, 10.0
"""m/s in the bends, m/s^2 out of them, m/s^2 into them"""
RADIUS = 40.0
BEND = math.pi * RADIUS
STRAIGHT = 500.0
"""m of power behind each bend, to a second before the brakes: as far as a corner's straight goes in the ledger."""
LINE = 100.0
"""m of the straight that lie before the start line"""
Leg = tuple[float, float]
"""m, m/s^2"""


def up_and_down(
    bend: float = SLOW, late: float = 0.0, top: float | None = None, early: float = 0.0
) -> tuple[list[Leg], list[Leg]]:
    """The way out of a bend and the way into the next: coasting for `late` s, power, a hold, the brakes.

    `bend` m/s at its exit; `top` m/s ends the pull sooner; `early` m that the brakes come too soon.
    """
    pulled = STRAIGHT - SLOW * late if top is None else (top**2 - bend**2) / (2.0 * PULL)
    reached = math.sqrt(bend**2 + 2.0 * PULL * pulled)
    usual = math.sqrt(SLOW**2 + 2.0 * PULL * STRAIGHT) if top is None else top
    whole = STRAIGHT + usual + (usual**2 - SLOW**2) / (2.0 * BRAKES)
    down = (usual**2 - SLOW**2) / (2.0 * BRAKES)
    held = whole - SLOW * late - pulled - down - early
    slowing = (reached**2 - SLOW**2) / (2.0 * down)
    return [(SLOW * late, 0.0), (pulled, PULL)], [(held, 0.0), (down, -slowing), (early, 0.0)]


def length_of_straight(top: float | None = None) -> float:
    out, into = up_and_down(top=top)
    return sum(metres for metres, _ in out + into)


def lap(first: list[Leg], second: list[Leg] | None = None, bend: float = SLOW, top: float | None = None) -> Motion:
    """From `LINE` m behind the second bend on: into the first bend at its usual speed, `first` is all that lies between
    the two bends; `second` what lies between the line and the first bend.
    """
    out, into = up_and_down(top=top)
    begins = math.sqrt(SLOW**2 + 2.0 * PULL * LINE)
    to_first = [(out[1][0] - LINE, PULL), *into] if second is None else second
    return Motion(begins, [*to_first, (BEND, 0.0), *first, (BEND, 0.0), (LINE, PULL)])


def usual(top: float | None = None) -> Motion:
    out, into = up_and_down(top=top)
    return lap(out + into, top=top)


def path_of(straight: float, radius: float, line: float) -> Callable[[float], tuple[float, float]]:
    """Two straights and two left half circles, from `line` m into the first straight on."""
    half = math.pi * radius

    def path(place: float) -> tuple[float, float]:
        turn, along = divmod((place + line) % (2.0 * (straight + half)), straight + half)
        if along <= straight:
            x, y = along, 0.0
        else:
            angle = (along - straight) / radius
            x, y = straight + radius * math.sin(angle), radius - radius * math.cos(angle)
        return (x, y) if turn == 0 else (straight - x, 2.0 * radius - y)

    return path


PATH = path_of(length_of_straight(), RADIUS, LINE)


@cache
def known(rate: float) -> Studied:
    return reference_of(usual(), rate, PATH)


def faults(events: list[Event], lap_number: int = 1) -> list[Fault]:
    return [e for e in events if isinstance(e, Fault) and e.lap == lap_number]


def loss_one(events: list[Event]) -> Loss:
    return next(e for e in events if isinstance(e, Loss) and e.lap == 1)


def lap_one(events: list[Event]) -> Lap:
    return next(e for e in events if isinstance(e, Lap) and e.lap == 1)


def lost(events: list[Event], corner: int, *phases: str) -> float:
    return sum(p.seconds for p in loss_one(events).parts if p.corner == corner and p.phase in phases)


def test_the_usual_lap_loses_nothing() -> None:
    events = drive(usual(), known(60.0), usual(), 60.0, PATH)
    assert faults(events) == []
    assert lap_one(events).delta == pytest.approx(0.0, abs=0.003)
    assert [mark.direction for mark in known(60.0).circuit.marks] == ["left", "left"]
    assert all(mark.coached for mark in known(60.0).circuit.marks)


# Throttle late by tau: coast at 20 m/s, then 4 m/s^2, to the end of 500 m.


@pytest.mark.parametrize(
    ("late", "costs", "rate"), [(0.2, 0.13959, 60.0), (0.2, 0.13959, 120.0), (0.5, 0.34855, 25.0), (0.5, 0.34855, 60.0)]
)
def test_late_throttle(late: float, costs: float, rate: float) -> None:
    out, into = up_and_down(late=late)
    events = drive(lap(out + into), known(rate), usual(), rate, PATH)
    (fault,) = faults(events)
    assert fault.fault == "late_throttle"
    assert fault.size == pytest.approx(late, abs=0.03)
    assert fault.cost == pytest.approx(costs, rel=WITHIN)
    assert fault.net == pytest.approx(costs, rel=WITHIN)
    assert fault.corner is not None
    assert lost(events, fault.corner, "exit", "straight") == pytest.approx(costs, rel=WITHIN)


def test_a_tenth_late_is_no_fault_and_in_the_ledger_all_the_same() -> None:
    out, into = up_and_down(late=0.1)
    events = drive(lap(out + into), known(60.0), usual(), 60.0, PATH)
    assert faults(events) == []
    assert lost(events, 1, "exit", "straight") == pytest.approx(0.06982, rel=WITHIN)


# An exit speed of 19 rather than 20 m/s: (sqrt(v^2 + 2 a L) - v) / a on the 500 m behind it.


def slow_bend(speed: float) -> Motion:
    """The first bend at `speed` m/s, braked for at the same deceleration, so a little sooner."""
    out, into = up_and_down()
    (held, _), (down, slowing), _ = into
    top = math.sqrt(SLOW**2 + 2.0 * -slowing * down)
    longer = (top**2 - speed**2) / (2.0 * BRAKES)
    before = [(out[1][0] - LINE, PULL), (held + down - longer, 0.0), (longer, -BRAKES)]
    begins = math.sqrt(SLOW**2 + 2.0 * PULL * LINE)
    reached = math.sqrt(speed**2 + 2.0 * PULL * STRAIGHT)
    after = [(STRAIGHT, PULL), (held, 0.0), (down, -(reached**2 - SLOW**2) / (2.0 * down))]
    return Motion(begins, [*before, (BEND, 0.0), *after, (BEND, 0.0), (LINE, PULL)])


def pulling(speed: float, metres: float = STRAIGHT) -> float:
    return (math.sqrt(speed**2 + 2.0 * PULL * metres) - speed) / PULL


def test_one_metre_a_second_less_at_the_exit() -> None:
    assert pulling(19.0) - pulling(20.0) == pytest.approx(0.17634, abs=1e-5)
    events = drive(slow_bend(19.0), known(60.0), usual(), 60.0, PATH)
    out, into = up_and_down()
    bend_ends = out[1][0] - LINE + sum(metres for metres, _ in into) + BEND
    beyond = known(60.0).circuit.marks[0].exit - bend_ends
    assert 0.0 <= beyond < 8.0  # where the path is straight, seen through the smoothing of the curvature
    before = pulling(19.0, beyond) - pulling(20.0, beyond)  # of the straight, but the ledger's exit still
    assert lost(events, 1, "straight") + before == pytest.approx(0.17634, rel=WITHIN)
    assert lost(events, 1, "entry", "exit") - before == pytest.approx(BEND * (1 / 19.0 - 1 / 20.0), rel=WITHIN)
    explained = next(p.from_exit for p in loss_one(events).parts if p.corner == 1 and p.phase == "straight")
    assert explained is not None and explained + before == pytest.approx(0.17634, rel=WITHIN)


@pytest.mark.parametrize("speed", [15.0, 18.0])
def test_a_bend_driven_too_slowly(speed: float) -> None:
    events = drive(slow_bend(speed), known(60.0), usual(), 60.0, PATH)
    exact = BEND * (1 / speed - 1 / SLOW) + pulling(speed) - pulling(SLOW)
    (fault,) = faults(events)
    assert fault.fault == "over_slowed"
    assert fault.size == pytest.approx(SLOW - speed, abs=0.1)
    assert fault.cost == pytest.approx(exact, rel=WITHIN)


# Brakes 10 m early from 60 to 20 m/s, then rolling at 20: 10 (1/20 - 1/60).


@pytest.mark.parametrize(("early", "costs"), [(10.0, 0.33333), (15.0, 0.5)])
def test_early_brakes(early: float, costs: float) -> None:
    rate, top = 120.0, 60.0
    assert early * (1 / 20.0 - 1 / 60.0) == pytest.approx(costs, abs=1e-5)
    path = path_of(length_of_straight(top), RADIUS, LINE)
    known_ = reference_of(usual(top), rate, path)
    out, into = up_and_down(top=top)
    before = [(out[1][0] - LINE, PULL), *up_and_down(top=top, early=early)[1]]
    events = drive(lap(out + into, before, top=top), known_, usual(top), rate, path)
    (fault,) = faults(events)
    assert fault.fault == "early_braking"
    assert fault.size == pytest.approx(early, abs=1.0)
    assert fault.cost == pytest.approx(costs, rel=WITHIN)
    assert fault.corner is not None
    assert lost(events, fault.corner, "braking") == pytest.approx(costs, rel=WITHIN)
    assert lap_one(events).delta == pytest.approx(costs, rel=WITHIN)


# A tenth in and a tenth out of 14 corners (common practice): 2.8 s.

CORNERS, TURN = 14, math.tau / 14
BENT, BETWEEN = 90.0 * TURN, 200.0
"""m: bends of 90 m radius, and the straights between them"""


def round_fourteen() -> Motion:
    """Each corner from 40 m/s down to 30 at 10 m/s^2 and back at 4 m/s^2; the line lies in a straight's middle."""
    up, down = (40.0**2 - 30.0**2) / 8.0, (40.0**2 - 30.0**2) / 20.0
    one = [(BETWEEN - up - down, 0.0), (down, -BRAKES), (BENT, 0.0), (up, PULL)]
    return Motion(40.0, one * CORNERS)


def fourteen(late: Callable[[float], float], laps: int = 3) -> Iterator[Sample]:
    """Laps of `round_fourteen`, of which lap 1 is at each place later by `late(m)` s; sampled at 60 Hz."""
    motion, rate = round_fourteen(), 60.0
    places = [i / 4.0 for i in range(math.ceil(4.0 * motion.length))]
    lagging = [motion.time(place) + late(place) for place in places]
    totals = [motion.total + (late(motion.length) if number == 1 else 0.0) for number in range(laps)]
    begins = [0.0, *accumulate(totals)]
    along = BETWEEN - (40.0**2 - 30.0**2) / 8.0
    pitch = BETWEEN + BENT
    for count in range(int(begins[-1] * rate)):
        t = count / rate
        number = bisect_right(begins, t) - 1
        since = t - begins[number]
        place = motion.place(min(since, motion.total))
        speed = motion.speed(place)
        if number == 1:
            i = max(1, min(bisect_right(lagging, since), len(places) - 1))
            gap = lagging[i] - lagging[i - 1]
            place = places[i - 1] + (places[i] - places[i - 1]) * (since - lagging[i - 1]) / gap
            speed = (places[i] - places[i - 1]) / gap
        place = min(place, motion.length - 1e-6)
        pull = motion.accelerations[motion.leg(place)]
        bent = along <= place % pitch <= along + BENT
        yield Sample(
            t,
            lap=number,
            lap_distance=place,
            track_length=motion.length,
            speed=speed,
            yaw_rate=speed / 90.0 if bent else 0.0,
            throttle=1.0 if pull > 0.0 or speed > 35.0 else 0.3 if pull == 0.0 else 0.0,
            brake=-pull / 15.0 if pull < 0.0 else 0.0,
        )


def test_a_tenth_in_and_a_tenth_out_of_fourteen_corners() -> None:
    known_ = study(fourteen(lambda place: 0.0), "made")
    bounds = ledger_of(known_).bounds
    assert len(bounds) == CORNERS

    def late(place: float) -> float:
        def share(a: float, b: float) -> float:
            return 0.1 * min(max((place - a) / (b - a), 0.0), 1.0)

        return sum(share(b.braking, b.apex) + share(b.apex, b.exit) for b in bounds)

    begin = EngineStart("0", "made", "none", known_.reference, "made", known_.circuit, known_.scatter, known_.usual)
    engine = Engine(begin)
    events = [e for sample in fourteen(late) for e in engine.push(sample)] + engine.finish()
    assert lap_one(events).delta == pytest.approx(2.8, abs=0.01)
    parts = loss_one(events).parts
    assert sum(p.seconds for p in parts) == pytest.approx(2.8, abs=0.01)
    for corner in range(1, CORNERS + 1):
        assert lost(events, corner, "braking", "entry") == pytest.approx(0.1, rel=WITHIN)
        assert lost(events, corner, "exit") == pytest.approx(0.1, rel=WITHIN)
        assert lost(events, corner, "straight") == pytest.approx(0.0, abs=0.005)


# The stadium lap: 400 m straights, half circles of 50 m, friction 1.2; all its corners 5 % slower.


def stadium(speed: float) -> Motion:
    brakes = 1.2 * 9.81
    pushed, half = brakes * 400.0 / (5.0 + brakes), math.pi * 50.0
    legs = [(pushed, 5.0), (400.0 - pushed, -brakes), (half, 0.0)] * 2
    begins = math.sqrt(speed**2 + 2.0 * 5.0 * LINE)
    return Motion(begins, [(pushed - LINE, 5.0), *legs[1:], (LINE, 5.0)])


def test_five_per_cent_slower_corners_are_lost_in_the_corners_and_on_the_straights() -> None:
    speed, path = math.sqrt(1.2 * 9.81 * 50.0), path_of(400.0, 50.0, LINE)
    fast, slow = stadium(speed), stadium(0.95 * speed)
    known_ = reference_of(fast, 60.0, path)
    events = drive(slow, known_, slow, 60.0, path)
    assert lap_one(events).delta == pytest.approx(1.09104, rel=WITHIN)
    parts = loss_one(events).parts
    bends = sum(p.seconds for p in parts if p.phase in ("entry", "exit"))
    straights = sum(p.seconds for p in parts if p.phase in ("straight", "braking"))
    # The ledger's corners reach a few metres further than the half circles; there the two laps differ by algebra too.
    half, moved = math.pi * 50.0, 0.0
    for i, b in enumerate(ledger_of(known_).bounds):
        begins, ends = (i + 1) * 400.0 + i * half - LINE, (i + 1) * (400.0 + half) - LINE
        assert 0.0 <= begins - b.entry < 8.0 and 0.0 <= b.exit - ends < 8.0
        for near, far in ((b.entry, begins), (ends, b.exit)):
            moved += (slow.time(far) - slow.time(near)) - (fast.time(far) - fast.time(near))
    assert bends - moved == pytest.approx(0.68153, rel=WITHIN)
    assert straights + moved == pytest.approx(0.40951, rel=WITHIN)
