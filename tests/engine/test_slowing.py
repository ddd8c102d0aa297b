"""Coasting and corner speed given away, on passes whose every number is chosen; and what is neither."""

from __future__ import annotations

from math import log

import pytest

from coach.engine.faults.base import CornerPass
from coach.engine.faults.slowing import COASTED, SLOWEST, CoastingFamily, SpeedFamily
from coach.engine.scatter import Scatter
from tests.engine.cornering import (
    APEX,
    BRAKE_AT,
    ENTRY,
    EXIT,
    RADIUS,
    RATES,
    SLOW,
    WHERE,
    Leg,
    balance,
    brakes,
    coast,
    drive,
    fast,
    names,
    one,
    passed,
    power,
    usual_legs,
)
from tests.engine.handmade import corner_pass

COASTING, SPEED = CoastingFamily(), SpeedFamily()


def rolled_in(seconds: float, speed: float = SLOW) -> list[Leg]:
    """Brakes so early that the car rolls without pedals for `seconds` s before its turn-in."""
    slowing = brakes(speed)
    at = ENTRY - slowing.metres - seconds * speed
    return [fast(at), slowing, coast(seconds, speed), balance(APEX - ENTRY), power(500.0)]


def idle(seconds: float) -> list[Leg]:
    """As usual up to the turn-in, then neither pedal for `seconds` s before the touch of throttle comes."""
    return [*usual_legs()[:2], coast(seconds), balance(max(APEX - ENTRY - seconds * SLOW, 1.0)), power(500.0)]


def balanced() -> list[Leg]:
    """A reference without throttle before the apex, whose foot is idle all the way from the brakes to the power."""
    return [*usual_legs()[:2], coast((APEX - ENTRY) / SLOW), power(500.0)]


# Coasting.


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("seconds", [0.4, 0.7, 1.2])
def test_as_long_as_the_car_rolls(seconds: float, rate: float, side: float) -> None:
    finding = one(COASTING, passed(rolled_in(seconds), rate, side))
    assert (finding.fault, finding.unit) == ("coasting", "s")
    assert finding.size == pytest.approx(seconds, abs=1.0 / rate + 0.02)
    assert finding.distance == pytest.approx(ENTRY - seconds * SLOW, abs=SLOW / rate + 0.5)
    assert finding.evidence["reference"] < 0.05
    assert finding.phases[:2] == ("braking", "entry")


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("seconds", [0.0, 0.1, 0.2])
def test_a_foot_on_its_way_does_not_coast(seconds: float, rate: float) -> None:
    # From one pedal to the other takes a foot about 0.2 s (choice).
    assert names(COASTING, passed(rolled_in(seconds), rate)) == []


def test_what_the_reference_coasts_too_is_the_corners() -> None:
    still = drive(balanced(), 100.0)
    legs = [*usual_legs()[:2], coast((APEX - ENTRY) / SLOW + 0.1), power(500.0)]
    assert names(COASTING, corner_pass(drive(legs, upto=EXIT + 15.0), still, WHERE)) == []
    longer = [fast(BRAKE_AT - 20.0), brakes(SLOW), coast(1.0 + (APEX - ENTRY) / SLOW), power(500.0)]
    finding = one(COASTING, corner_pass(drive(longer, upto=EXIT + 15.0), still, WHERE))
    assert finding.size == pytest.approx(1.0, abs=0.06)


def test_what_lies_behind_the_throttles_place_is_late_throttle() -> None:
    """The foot stays off for a second beyond the place where the power is due: no coasting."""
    still = drive(balanced(), 100.0)
    legs = [*usual_legs()[:2], coast((APEX - ENTRY) / SLOW + 1.0), power(500.0)]
    assert names(COASTING, corner_pass(drive(legs, upto=EXIT + 40.0), still, WHERE)) == []


def test_coasting_then_late_is_coasting_up_to_the_throttles_place() -> None:
    still = drive(balanced(), 100.0)
    legs = [fast(BRAKE_AT - 16.0), brakes(SLOW), coast(0.8 + (APEX - ENTRY) / SLOW + 1.0), power(500.0)]
    finding = one(COASTING, corner_pass(drive(legs, upto=EXIT + 40.0), still, WHERE))
    assert finding.size == pytest.approx(0.8, abs=0.06)


def test_coasting_of_the_day_and_of_the_driver_is_none() -> None:
    assert names(COASTING, passed(rolled_in(0.6))) == ["coasting"]
    assert names(COASTING, passed(rolled_in(0.6), usual={(1, COASTED): 0.5})) == []
    today = Scatter({(corner, COASTED): 0.1 for corner in range(10)})
    for corner in range(10):
        today.add(corner, COASTED, 0.5)
    assert names(COASTING, passed(rolled_in(0.6), scatter=today)) == []
    wild = Scatter()
    for i in range(20):
        wild.add(1, COASTED, 0.1 + 0.35 * (i % 3))
    assert names(COASTING, passed(rolled_in(0.6), scatter=wild)) == []
    assert names(COASTING, passed(rolled_in(0.6), by_marks=False)) == []


@pytest.mark.parametrize(("before", "found"), [(4.0, []), (5.0, ["coasting"])])
def test_the_cut_of_a_shift_up_is_no_coasting(before: float, found: list[str]) -> None:
    """Throttle off for 0.4 s on the straight before the brakes; with a shift into fifth in its middle, or without."""
    p = passed(usual_legs())
    first = p.own.index(60.0)
    last = p.own.index_at_time(p.own.t[first] + 0.4)
    for i in range(len(p.own)):
        p.own["gear"][i] = before if i < (first + last) // 2 else 5.0
    for i in range(first, last):
        p.own["throttle"][i] = 0.0
    assert names(COASTING, p) == found


@pytest.mark.parametrize("seconds", [0.6, 1.0])
def test_who_rolls_longer_than_early_brakes_explain_has_been_rolling_in(seconds: float) -> None:
    """Brakes e m early at 20 m/s let a car roll for e / 20 s; the foot that stays off for longer means to roll."""
    slowing = brakes(SLOW)
    at = ENTRY - slowing.metres - seconds * SLOW - 5.0  # 5 m more than are rolled
    explained = one(COASTING, passed([fast(at), slowing, coast(seconds), balance(APEX - ENTRY + 5.0), power(500.0)]))
    assert explained.since is None and "early_braking" not in explained.not_from
    at = ENTRY - slowing.metres - 10.0  # 10 m early: half a second at most
    legs = [fast(at), slowing, coast(seconds + 0.5), balance(1.0), power(500.0)]
    rolled = one(COASTING, passed(legs))
    assert rolled.since == pytest.approx(at / 50.0, abs=0.03)
    assert "early_braking" in rolled.not_from


def test_what_was_coasted_is_measured() -> None:
    assert dict(COASTING.measure(passed(rolled_in(0.7))))[COASTED] == pytest.approx(0.7, abs=0.03)
    assert COASTING.settled(passed(usual_legs()))


# Corner speed.


def slow(share: float, exit_pull: float = 4.0, rolls: float = 0.0) -> list[Leg]:
    """The corner at `share` of its speed, braked for where it is due, and out of it at `exit_pull` m/s^2."""
    v = share * SLOW
    slowing = brakes(v)
    at = ENTRY - slowing.metres - rolls
    return [fast(at), slowing, balance(APEX - ENTRY + rolls), power(500.0, exit_pull)]


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("share", [0.92, 0.85, 0.7])
def test_as_slow_as_it_is(share: float, rate: float, side: float) -> None:
    finding = one(SPEED, passed(slow(share), rate, side))
    assert (finding.fault, finding.unit) == ("over_slowed", "m/s")
    assert finding.size == pytest.approx((1.0 - share) * SLOW, abs=10.0 / rate + 0.05)
    assert ENTRY - 1.0 <= finding.distance <= APEX + 1.0
    assert finding.evidence["exit_speed"] < finding.evidence["target_exit"]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("share", [0.96, 0.98, 1.0, 1.05])
def test_a_few_per_cent_cannot_be_placed_by_feel(share: float, rate: float) -> None:
    assert names(SPEED, passed(slow(share), rate)) == []


@pytest.mark.parametrize("share", [0.92, 0.85])
def test_slow_in_and_fast_out_is_no_fault(share: float) -> None:
    assert names(SPEED, passed(slow(share, exit_pull=8.0))) == []


@pytest.mark.parametrize("share", [0.92, 0.85])
def test_slow_on_a_tighter_line_is_the_lines(share: float) -> None:
    """The same lateral acceleration at a lower speed: R = v^2 / a. The line is the fault, and not the foot."""
    assert names(SPEED, passed(slow(share), radius=RADIUS)) == ["over_slowed"]
    assert names(SPEED, passed(slow(share), radius=share**2 * RADIUS)) == []


def test_the_days_grip_slows_every_corner() -> None:
    """10 % slower everywhere today."""
    today = Scatter({(corner, SLOWEST): log(30.0) for corner in range(10)})
    for corner in range(10):
        today.add(corner, SLOWEST, log(30.0) + log(0.9))
    assert names(SPEED, passed(slow(0.88), scatter=today)) == []
    assert names(SPEED, passed(slow(0.8), scatter=today)) == ["over_slowed"]


def test_one_lucky_corner_is_no_mark() -> None:
    assert names(SPEED, passed(slow(0.9), usual={(1, SLOWEST): log(0.93 * SLOW)})) == []


def test_speed_that_costs_nothing_or_is_lost_all_over_is_no_fault() -> None:
    p = passed(slow(0.9))
    assert names(SPEED, p) == ["over_slowed"] and p.losses is not None
    p.pace = p.losses.of(("entry", "exit", "straight")) / p.losses.target_of(("entry", "exit", "straight"))
    assert names(SPEED, p) == [], "as much is lost wherever one looks today"
    assert names(SPEED, passed(slow(0.8), by_marks=False)) == []
    alone = corner_pass(drive(slow(0.8), upto=EXIT + 15.0), None, WHERE)
    assert names(SPEED, alone) == []


def test_a_dip_before_the_turn_in_is_another_matter() -> None:
    """10 m/s^2 down to 17 m/s before the bend and back at 20 m/s in it."""
    dip = brakes(17.0)
    back = Leg((SLOW**2 - 17.0**2) / 10.0, 5.0, 0.8)
    at = ENTRY - dip.metres - back.metres
    assert names(SPEED, passed([fast(at), dip, back, balance(APEX - ENTRY), power(500.0)])) == []


def test_the_least_speed_is_measured_by_its_logarithm() -> None:
    def measured(p: CornerPass) -> float:
        return dict(SPEED.measure(p))[SLOWEST]

    assert measured(passed(slow(0.9))) - measured(passed(slow(1.0))) == pytest.approx(log(0.9), abs=0.01)
    assert SPEED.settled(passed(slow(0.9)))
