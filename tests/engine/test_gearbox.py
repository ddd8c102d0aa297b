"""Early downshifts, judged on one pass made by hand: by the limit, by the axle's answer, by the reference's shift."""

from __future__ import annotations

import pytest

from coach.engine.faults.base import Finding
from coach.engine.faults.gearbox import GearboxFamily
from coach.engine.scatter import Scatter
from coach.engine.stretch import Stretch
from coach.vocabulary.sample import Sample
from tests.engine.handmade import Of, bounds, corner_pass, geared, stretch

FAMILY = GearboxFamily()
WHERE = bounds(braking=0.0, entry=120.0, apex=150.0, exit_=180.0, end=500.0)
RATIOS = {2: 290.0, 3: 215.0, 4: 170.0, 5: 140.0}
LIMIT = 8000.0
"""Third is at its limit at 37.2 m/s, fourth at 47.1 m/s, second at 27.6 m/s."""


def braking(shift: float, gears: tuple[int, ...] = (4, 3), rate: float = 60.0, **more: Of) -> Stretch:
    """From 50 m/s down at 10 m/s^2 to 20 m/s; the gears are taken 0.3 s apart, the first at `shift` m/s."""
    first = (50.0 - shift) / 10.0

    def speed(t: float) -> float:
        return max(20.0, 50.0 - 10.0 * t)

    def gear(t: float) -> float:
        taken = 0 if t < first - 1e-9 else min(len(gears) - 1, 1 + int((t - first + 1e-9) / 0.3))
        return float(gears[taken])

    return stretch(6.0, rate, speed, throttle=0.0, brake=0.8, **{"gear": gear, **more})


def judged(
    own: Stretch, reference: Stretch | None = None, limit: float | None = LIMIT, **more: object
) -> list[Finding]:
    ratios = more.pop("ratios", RATIOS)
    return FAMILY.judge(corner_pass(own, reference, WHERE, geared(ratios, limit), **more))  # type: ignore[arg-type]


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("shift", [38.0, 41.0, 45.0])
def test_over_the_limit(shift: float, rate: float) -> None:
    found = judged(braking(shift, rate=rate))
    assert [(f.fault, f.unit) for f in found] == [("early_downshift", "rev/min")]
    # at 20 Hz the car has slowed by up to half a metre a second when the new gear is first seen
    assert found[0].size == pytest.approx(215.0 * shift - LIMIT, abs=215.0 * 10.0 / rate + 1.0)
    assert found[0].evidence["gear"] == 3
    assert found[0].evidence["needed"] == pytest.approx(found[0].size + LIMIT)
    assert found[0].begins == pytest.approx((50.0 - shift) / 10.0, abs=1.0 / rate + 1e-9)


@pytest.mark.parametrize("shift", [37.0, 35.0, 25.0])
def test_under_the_limit(shift: float) -> None:
    assert judged(braking(shift)) == []


def test_the_limit_is_in_force_on_the_first_lap_of_a_run() -> None:
    assert len(judged(braking(45.0), by_marks=False)) == 1


def test_a_limit_that_was_learned_is_not_held_against_what_the_reference_does() -> None:
    """Who shifts up at 7,000 rev/min all day has not shown the engine's limit, and blips to 8,000 without harm."""
    gearing = geared(RATIOS, None)
    for i in range(200):
        gearing.watch(Sample(100.0 + 0.2 * i, gear=4, speed=40.0, engine_speed=7000.0, throttle=1.0))
    assert (gearing.limit, gearing.limit_is_sent) == (7000.0, False)
    for reference, told in ((None, 1), (braking(30.0), 1), (braking(38.0), 0)):
        assert len(FAMILY.judge(corner_pass(braking(38.0), reference, WHERE, gearing))) == told
    assert len(judged(braking(38.0), braking(38.0))) == 1  # the limit that is sent is the engine's


def test_a_ratio_that_is_not_known_is_no_ground() -> None:
    assert judged(braking(45.0), ratios={4: 170.0}) == []
    assert judged(braking(45.0), limit=None) == []


def test_a_skipped_gear_is_judged_by_the_gear_taken() -> None:
    found = judged(braking(42.0, (5, 3)))
    assert found[0].evidence["gear"] == 3
    assert found[0].size == pytest.approx(215.0 * 42.0 - LIMIT, abs=40.0)


def test_the_worst_of_several_is_told() -> None:
    # 5-4-3-2, 0.3 s apart from 46 m/s on: fourth is legal, third 1,245 over at 43 m/s, second 3,600 over at 40.
    found = judged(braking(46.0, (5, 4, 3, 2)))
    assert len(found) == 1
    assert found[0].evidence["gear"] == 2
    assert found[0].size == pytest.approx(290.0 * 40.0 - LIMIT, abs=60.0)


def test_a_shift_behind_the_exit_is_another_corners() -> None:
    where = bounds(0.0, 20.0, 30.0, 40.0, 500.0)
    own = braking(40.0)
    assert FAMILY.judge(corner_pass(own, None, where, geared(RATIOS, LIMIT))) == []


def test_shifts_up_are_none() -> None:
    assert judged(braking(45.0, (2, 3))) == []


def test_neutral_on_the_way_is_part_of_the_shift() -> None:
    def gear(t: float) -> float:
        return 4.0 if t < 0.8 else 0.0 if t < 0.9 else 3.0

    found = judged(braking(45.0, gear=gear))
    assert found[0].size == pytest.approx(215.0 * 41.0 - LIMIT, abs=40.0)


def test_a_speed_that_is_missing_just_then_is_no_fault() -> None:
    def speed(t: float) -> float:
        return float("nan") if 0.4 < t < 0.7 else max(20.0, 50.0 - 10.0 * t)

    own = stretch(6.0, 60.0, speed, throttle=0.0, brake=0.8, gear=lambda t: 4.0 if t < 0.5 else 3.0)
    assert judged(own) == []
    assert dict(FAMILY.measure(corner_pass(own, None, WHERE))) == {}


def slipping(from_: float, slip: float, yaw: float) -> dict[str, Of]:
    """From `from_` s on the rear axle drags by `slip` for 0.3 s, and the car turns `yaw` rad/s more than its path."""

    def road(t: float) -> float:
        return max(20.0, 50.0 - 10.0 * t)

    def rear(t: float) -> float:
        return road(t) * (1.0 - 0.02 - (slip if from_ <= t < from_ + 0.3 else 0.0))

    def rate(t: float) -> float:
        return 0.1 + (yaw if from_ <= t < from_ + 0.3 else 0.0)

    return {"rear": rear, "front": road, "yaw_rate": rate, "ay": lambda t: 0.1 * road(t)}


def test_the_axle_answers() -> None:
    found = judged(braking(40.0, **slipping(1.05, 0.2, 0.3)), limit=None)
    assert [(f.fault, f.unit) for f in found] == [("early_downshift", "m/s")]
    assert found[0].evidence["slip"] == pytest.approx(-0.22, abs=0.005)
    assert found[0].size == pytest.approx(0.22 * 40.0, abs=0.4)


def test_a_kerb_shakes_wheels_and_yaw_for_a_moment() -> None:
    def kick(t: float) -> bool:
        return 1.2 <= t < 1.23  # two rows at 60 Hz

    def road(t: float) -> float:
        return max(20.0, 50.0 - 10.0 * t)

    own = braking(
        40.0,
        rear=lambda t: road(t) * (0.75 if kick(t) else 0.98),
        front=road,
        yaw_rate=lambda t: 0.5 if kick(t) else 0.1,
        ay=lambda t: 0.1 * road(t),
    )
    assert judged(own, limit=None) == []


def test_wheels_that_dragged_before_the_shift_already_are_the_brakes() -> None:
    own = braking(40.0, **slipping(0.0, 0.0, 0.3) | {"rear": lambda t: 0.83 * max(20.0, 50.0 - 10.0 * t)})
    assert judged(own, limit=None) == []


def test_a_shift_at_the_references_speed_is_not_early_whatever_slips() -> None:
    drag = slipping(1.05, 0.2, 0.3)
    assert judged(braking(40.0, **drag), braking(39.5), limit=None) == []
    assert len(judged(braking(40.0, **drag), braking(36.0), limit=None)) == 1


def test_far_above_the_references_speed() -> None:
    # 36.5 m/s instead of 28: within the limit (7,848 rev/min of 8,000), but a whole step too early.
    found = judged(braking(36.5), braking(28.0))
    assert [(f.unit, f.evidence["gear"]) for f in found] == [("m/s", 3)]
    assert found[0].size == pytest.approx(8.5, abs=0.4)
    assert judged(braking(36.5), braking(33.0)) == []
    assert judged(braking(36.5), braking(28.0), by_marks=False) == []


def test_a_shift_that_strains_nothing_is_a_choice_of_gear() -> None:
    # 30 m/s in third is 6,450 rev/min, far from the limit, however late the reference takes that gear.
    assert judged(braking(30.0), braking(21.0)) == []


def test_the_drivers_own_scatter_of_the_shift_is_no_fault() -> None:
    wild = Scatter()
    for i in range(15):
        wild.add(1, "downshift_3_speed", 30.0 + 4.0 * (i % 3 - 1))
    assert judged(braking(36.5), braking(28.0), scatter=wild) == []


def test_a_gear_that_the_reference_does_not_take_is_left_to_the_limit() -> None:
    assert judged(braking(36.5), braking(28.0, (4, 4))) == []
    assert len(judged(braking(45.0), braking(28.0, (4, 4)))) == 1


def test_what_is_measured_is_the_road_speed_of_each_shift() -> None:
    measured = dict(FAMILY.measure(corner_pass(braking(44.0, (5, 4, 3)), None, WHERE)))
    assert measured == pytest.approx({"downshift_4_speed": 44.0, "downshift_3_speed": 41.0}, abs=0.2)
