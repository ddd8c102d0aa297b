"""Brakes too early, too late and too soft, each on one pass whose every number is chosen; and what is none of these."""

from __future__ import annotations

import math

import pytest

from coach.engine.faults.base import CornerPass
from coach.engine.faults.braking import HARDEST, POINT, BrakingFamily
from coach.engine.faults.pedals import braking
from coach.engine.scatter import Scatter
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample
from tests.engine.cornering import (
    APEX,
    BRAKE_AT,
    ENTRY,
    EXIT,
    FAST,
    RATES,
    SLOW,
    WHERE,
    Leg,
    balance,
    brakes,
    drive,
    fast,
    names,
    one,
    passed,
    power,
    usual_legs,
)
from tests.engine.handmade import corner_pass, stretch

FAMILY = BrakingFamily()


def early(by: float, to: float = SLOW) -> list[Leg]:
    """As hard as ever, `by` m too early, then on at the corner's speed with a touch of throttle."""
    slowing = brakes(to)
    return [fast(BRAKE_AT - by), slowing, balance(APEX - (BRAKE_AT - by) - slowing.metres), power(500.0)]


def late(by: float, of: float = 10.0, exit_speed: float = SLOW) -> list[Leg]:
    """`by` m too late at `of` m/s^2 down to `exit_speed`."""
    slowing = brakes(exit_speed, of)
    at = BRAKE_AT + by + slowing.metres
    return [fast(BRAKE_AT + by), slowing, balance(max(APEX - at, 1.0)), power(500.0)]


def soft(of: float, by: float) -> list[Leg]:
    """`of` m/s^2 from `by` m too early on."""
    slowing = brakes(SLOW, of)
    return [fast(BRAKE_AT - by), slowing, balance(APEX - (BRAKE_AT - by) - slowing.metres), power(500.0)]


def test_the_brake_distance_is_the_published_one() -> None:
    # (v1^2 - v2^2) / (2 mu g): 50 to 20 m/s at mu 1 takes 107.034 m (any text).
    slowing = brakes(20.0, 9.81)
    assert slowing.metres == pytest.approx(107.034, abs=1e-3)
    read = braking(drive([fast(100.0), slowing, balance(100.0)]), 0.0, 300.0)
    assert read is not None
    assert read.begins[1] == pytest.approx(100.0, abs=50.0 / 60.0)
    assert read.hardest == pytest.approx(9.81, abs=0.01)
    assert read.seconds == pytest.approx(3.0581, abs=0.02)


# Early.


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("by", [12.0, 16.0, 22.0])
def test_as_early_as_it_is(by: float, rate: float, side: float) -> None:
    finding = one(FAMILY, passed(early(by), rate, side))
    assert (finding.fault, finding.unit) == ("early_braking", "m")
    assert finding.size == pytest.approx(by, abs=FAST / rate + 0.6)  # the brakes are seen up to a sample later
    assert finding.distance == pytest.approx(BRAKE_AT - by, abs=FAST / rate + 0.1)
    assert finding.begins == pytest.approx((BRAKE_AT - by) / FAST, abs=1.0 / rate + 1e-3)
    assert finding.phases == ("braking", "entry")
    assert finding.strength == pytest.approx(finding.size / finding.evidence["allowed"]) and finding.strength > 1.0


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("by", [0.0, 2.0, 5.0, 7.0])
def test_within_what_a_foot_can_place_it_is_none(by: float, rate: float) -> None:
    # 0.15 s at 50 m/s are 7.5 m (choice, beside a simple reaction to sound of about as long).
    assert names(FAMILY, passed(early(by), rate)) == []


def test_early_where_everything_is_early_today_is_the_day() -> None:
    today = Scatter({(corner, POINT): 500.0 for corner in range(10)})
    for corner in range(10):
        today.add(corner, POINT, 488.0)
    assert names(FAMILY, passed(early(16.0))) == ["early_braking"]
    assert names(FAMILY, passed(early(16.0), scatter=today)) == []
    assert one(FAMILY, passed(early(24.0), scatter=today)).size == pytest.approx(12.0, abs=1.0)


def test_one_lucky_late_brake_point_is_no_mark() -> None:
    """The reference lap braked 8 m later than its driver usually does."""
    assert names(FAMILY, passed(early(14.0))) == ["early_braking"]
    assert names(FAMILY, passed(early(14.0), usual={(1, POINT): BRAKE_AT - 8.0})) == []
    assert names(FAMILY, passed(early(14.0), usual={(1, POINT): BRAKE_AT + 8.0})) == ["early_braking"]


def wild(width: float) -> Scatter:
    scatter = Scatter()
    for i in range(20):
        scatter.add(1, POINT, BRAKE_AT + width * (i % 3 - 1))
    return scatter


def test_the_band_is_the_drivers_own_until_it_costs() -> None:
    """10 m early and no time lost: within this driver's scatter. 15 m early and a third of a second: a fault."""
    free = early(10.0)
    free[2] = Leg(free[2].metres, 2.0, 0.6)  # the speed comes back before the corner
    assert names(FAMILY, passed(free)) == ["early_braking"]
    assert names(FAMILY, passed(free, scatter=wild(6.0))) == []
    assert names(FAMILY, passed(early(8.0), scatter=wild(6.0))) == []
    assert names(FAMILY, passed(early(15.0), scatter=wild(6.0))) == ["early_braking"]
    assert names(FAMILY, passed(early(8.5), scatter=wild(0.5))) == ["early_braking"]


def test_no_marks_no_early_brakes() -> None:
    assert names(FAMILY, passed(early(20.0), by_marks=False)) == []
    assert names(FAMILY, corner_pass(drive(early(20.0), upto=EXIT + 15.0), None, WHERE)) == []


def test_a_corner_without_brakes_has_no_brake_point() -> None:
    through = [fast(BRAKE_AT), Leg(105.0, -1.0, 0.0), balance(30.0), power(500.0)]
    assert names(FAMILY, passed(through)) == [] and list(FAMILY.measure(passed(through))) == []
    lifted = corner_pass(drive(early(20.0), upto=EXIT + 15.0), drive(through), WHERE)
    assert names(FAMILY, lifted) == [], "the reference does not brake: there is no point to be early to"


def noisy(legs: list[Leg], place: float, seconds: float, by_marks: bool = True) -> CornerPass:
    """The pass with a touch of brake from `place` m on."""
    p = passed(legs, by_marks=by_marks)
    first = p.own.index(place)
    for i in range(first, p.own.index_at_time(p.own.t[first] + seconds)):
        p.own["brake"][i] = 0.3
    return p


def test_a_flicker_or_a_touch_long_before_is_not_the_brake_point() -> None:
    assert names(FAMILY, noisy(usual_legs(), 70.0, 0.02)) == []
    assert names(FAMILY, noisy(usual_legs(), 60.0, 0.05)) == []
    assert names(FAMILY, noisy(usual_legs(), 52.0, 0.2)) == ["early_braking"], "half a second before: it is"
    far = stretch(
        8.0, speed=50.0, throttle=1.0, brake=lambda t: 0.3 if 1.0 < t < 1.3 else 0.8 if 4.0 < t < 6.0 else 0.0
    )
    read = braking(far, 0.0, 400.0)
    assert read is not None and read.begins[0] == pytest.approx(4.0, abs=0.02)


def test_brakes_that_are_on_where_the_pass_begins_are_another_corners() -> None:
    rows = stretch(8.0, speed=30.0, throttle=0.0, brake=lambda t: 0.5 if t < 1.5 or 4.0 < t < 5.0 else 0.0)
    read = braking(rows, 15.0, 240.0)
    assert read is not None and read.begins[0] == pytest.approx(4.0, abs=0.02)
    assert braking(rows, 15.0, 100.0) is None


# Late.


@pytest.mark.parametrize("rate", RATES)
def test_late_where_the_corner_suffers(rate: float) -> None:
    """15 m over: the car needs 25 m more of the corner to slow down, goes wide and comes out of it at 15 m/s."""
    legs = late(15.0, exit_speed=15.0)
    finding = one(FAMILY, passed(legs, rate))
    assert finding.fault == "late_braking"
    assert finding.size == pytest.approx(15.0, abs=FAST / rate + 0.6)
    assert finding.evidence["lost"] > 0.05
    assert finding.phases == ("entry", "exit", "straight")


@pytest.mark.parametrize("by", [10.0, 15.0, 25.0])
def test_late_and_none_the_worse_is_well_done(by: float) -> None:
    harder = (FAST**2 - SLOW**2) / (2.0 * (ENTRY - BRAKE_AT - by))
    assert names(FAMILY, passed(late(by, of=harder))) == []


def test_late_within_the_band_is_not_why_the_corner_suffered() -> None:
    assert names(FAMILY, passed(late(3.0, exit_speed=15.0))) == []
    assert names(FAMILY, passed(late(10.0, exit_speed=15.0))) == ["late_braking"]
    assert names(FAMILY, passed(late(15.0, exit_speed=15.0), by_marks=False)) == []


# Soft.


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("of", [5.6, 6.0, 6.6])
def test_softer_than_the_reference_and_therefore_early(of: float, rate: float, side: float) -> None:
    by = (FAST**2 - SLOW**2) / (2.0 * of) - (ENTRY - BRAKE_AT)
    finding = one(FAMILY, passed(soft(of, by), rate, side))
    assert (finding.fault, finding.unit) == ("soft_braking", "m/s2")
    assert finding.size == pytest.approx(10.0 - of, abs=0.15)
    assert finding.also == ("early_braking",), "who brakes softly must begin early for it"
    assert finding.distance == pytest.approx(BRAKE_AT - by, abs=FAST / rate + 0.1)


@pytest.mark.parametrize("of", [7.8, 8.2])
def test_early_and_a_little_softer_for_it_is_early(of: float) -> None:
    by = (FAST**2 - SLOW**2) / (2.0 * of) - (ENTRY - BRAKE_AT)
    assert names(FAMILY, passed(soft(of, by))) == ["early_braking"]


@pytest.mark.parametrize("of", [9.0, 9.5, 11.0])
def test_nearly_as_hard_is_not_soft(of: float) -> None:
    by = (FAST**2 - SLOW**2) / (2.0 * of) - (ENTRY - BRAKE_AT)
    assert "soft_braking" not in names(FAMILY, passed(soft(of, by)))


def test_softer_and_no_time_lost_is_not_soft() -> None:
    """A corner that is taken quicker needs less braking."""
    slowing = brakes(28.0, 7.0)
    legs = [fast(ENTRY - slowing.metres), slowing, balance(APEX - ENTRY), power(500.0)]
    assert "soft_braking" not in names(FAMILY, passed(legs))


def test_who_arrives_slower_need_not_brake_as_hard() -> None:
    """0.81 of the deceleration at 0.9 of the speed: as hard by the square of the speed, and no softer."""
    v = 45.0

    def own(of: float) -> CornerPass:
        slowing = brakes(SLOW, of, v)
        motion_in = Leg(40.0, -(FAST**2 - v**2) / 80.0, 0.6)  # off a little, long before
        legs = [motion_in, Leg(ENTRY - 40.0 - slowing.metres, 0.0, 0.6), slowing, balance(APEX - ENTRY), power(500.0)]
        return passed(legs)

    assert "soft_braking" not in names(FAMILY, own(8.1))
    assert "soft_braking" in names(FAMILY, own(5.0))


def taught(of: float, times: int, begins: float = FAST) -> Shown:
    """A car that was slowed `times` times at `of` m/s^2."""
    shown, t = Shown(), 0.0
    for _ in range(times):
        speed = begins
        while speed > 20.0:
            shown.watch(Sample(t, speed=speed, brake=0.9, throttle=0.0))
            t, speed = t + 0.02, speed - 0.02 * of
        for _ in range(50):
            shown.watch(Sample(t, speed=speed, brake=0.0, throttle=1.0))
            t += 0.02
    return shown


def test_without_a_reference_it_is_soft_against_what_was_shown() -> None:
    own = drive(soft(7.0, 45.0), upto=EXIT + 15.0)
    (finding,) = FAMILY.judge(corner_pass(own, None, WHERE, shown=taught(10.0, 6)))
    assert finding.fault == "soft_braking" and finding.size == pytest.approx(3.0, abs=0.1)
    assert finding.evidence["shown"] == pytest.approx(10.0, abs=0.1)
    assert FAMILY.judge(corner_pass(own, None, WHERE, shown=taught(7.5, 6))) == []
    assert FAMILY.judge(corner_pass(own, None, WHERE, shown=taught(10.0, 4))) == [], "seen too seldom"
    assert FAMILY.judge(corner_pass(own, None, WHERE, shown=taught(10.0, 6, 80.0))) == [], "from another speed"


def test_soft_brakes_are_no_fault_where_the_reference_has_none_or_nobody_brakes_hard() -> None:
    own, shown = drive(soft(7.0, 45.0), upto=EXIT + 15.0), taught(10.0, 6)
    rolling = drive([fast(BRAKE_AT), balance(APEX - BRAKE_AT), power(500.0)])
    assert FAMILY.judge(corner_pass(own, rolling, WHERE, shown=shown)) == []
    assert FAMILY.judge(corner_pass(own, drive(usual_legs()), WHERE, by_marks=False, shown=shown)) == [], "an out-lap"


def test_softer_in_every_corner_alike_is_the_day() -> None:
    """0.6 of the deceleration, on a day that is as much softer everywhere: the corner is no softer than the rest."""
    p = passed(soft(6.0, (FAST**2 - SLOW**2) / 12.0 - (ENTRY - BRAKE_AT)))
    assert "soft_braking" in names(FAMILY, p)
    for corner in range(2, 14):
        for _ in range(4):
            p.scatter.add(corner, HARDEST, 10.0)
    assert "soft_braking" in names(FAMILY, p)
    for corner in range(2, 14):
        p.scatter.add(corner, HARDEST, 6.0)
    assert "soft_braking" not in names(FAMILY, p)


def test_a_short_dab_says_nothing_of_what_the_driver_dares() -> None:
    dab = [fast(BRAKE_AT), brakes(46.0, 5.0), balance(APEX - BRAKE_AT - 38.4), power(500.0)]
    assert "soft_braking" not in names(FAMILY, passed(dab))


# What is measured.


@pytest.mark.parametrize("rate", RATES)
def test_the_brake_point_and_the_hardest_are_measured(rate: float) -> None:
    measured = dict(FAMILY.measure(passed(early(4.0), rate)))
    assert measured[POINT] == pytest.approx(96.0, abs=FAST / rate)
    assert measured[HARDEST] == pytest.approx(10.0, abs=0.1)
    assert set(measured) == {POINT, HARDEST}
    assert all(math.isfinite(value) for value in measured.values())
    assert FAMILY.settled(passed(usual_legs()))
    assert names(FAMILY, passed(usual_legs(), rate)) == []
