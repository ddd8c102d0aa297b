"""Late throttle and lifts, judged on one pass made by hand: what is one, what is not, and how long."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from coach.engine.faults.base import CornerPass
from coach.engine.faults.throttle import COMMITTED_AT, LIFT, ThrottleFamily
from coach.engine.scatter import Scatter
from coach.engine.stretch import Stretch
from tests.engine.handmade import bounds, corner_pass, stretch

FAMILY = ThrottleFamily()
SPEED = 20.0
WHERE = bounds(braking=20.0, entry=60.0, apex=80.0, exit_=130.0, end=400.0)


def driven(commits: float, seconds: float = 12.0, least: float = 0.0, rate: float = 60.0) -> Stretch:
    """20 m/s all the way: off at 1.5 s (30 m), down to `least`, and back through half throttle at `commits` s."""
    rises = commits - 0.1 * (0.5 - least)

    def throttle(t: float) -> float:
        if t >= rises:
            return min(1.0, least + 10.0 * (t - rises))
        return max(least, 1.0 - 5.0 * max(0.0, t - 1.5))

    return stretch(seconds, rate, SPEED, throttle=throttle, brake=lambda t: 0.8 if 1.8 < t < 3.0 else 0.0, gear=3.0)


def judged(own: Stretch, reference: Stretch | None, **more: object) -> list[float]:
    return [finding.size for finding in FAMILY.judge(corner_pass(own, reference, WHERE, **more))]


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("late", [0.3, 0.5, 1.0, 2.0])
def test_as_late_as_it_is(late: float, rate: float) -> None:
    own = driven(4.5 + late, rate=rate)
    found = FAMILY.judge(corner_pass(own, driven(4.5), WHERE))
    assert len(found) == 1
    finding = found[0]
    assert finding.fault == "late_throttle" and finding.unit == "s"
    assert finding.size == pytest.approx(late, abs=0.02)
    assert finding.distance == pytest.approx(90.0, abs=0.5)  # where it was due
    assert finding.begins == pytest.approx(4.5, abs=0.02)
    assert finding.evidence["committed_at"] == pytest.approx(SPEED * (4.5 + late), abs=0.5)
    assert finding.phases == ("exit", "straight")


@pytest.mark.parametrize("late", [-1.0, -0.2, 0.0, 0.1])
def test_as_soon_as_the_reference_or_within_the_band(late: float) -> None:
    assert judged(driven(4.5 + late), driven(4.5)) == []


def test_the_band_is_the_drivers_own() -> None:
    # 0.5 s at 20 m/s is 10 m; a driver who commits within 6 m of one place one lap like another is not judged by it.
    steady, wild = Scatter(), Scatter()
    for i in range(12):
        steady.add(1, COMMITTED_AT, 90.0 + 0.2 * (i % 3))
        wild.add(1, COMMITTED_AT, 90.0 + 6.0 * (i % 3 - 1))
    assert judged(driven(5.0), driven(4.5), scatter=steady) == pytest.approx([0.5], abs=0.02)
    assert judged(driven(5.0), driven(4.5), scatter=wild) == []


def test_two_late_passes_in_five_do_not_hide_the_next() -> None:
    scatter = Scatter({(corner, COMMITTED_AT): 90.0 for corner in range(8)})
    for lap in range(10):
        for corner in range(8):
            late = 10.0 if corner == 1 and lap % 5 < 2 else 0.0
            scatter.add(corner, COMMITTED_AT, 90.0 + 0.4 * (lap % 3) + late)
    assert judged(driven(5.0), driven(4.5), scatter=scatter) == pytest.approx([0.5], abs=0.02)


def test_it_needs_a_reference_and_a_flying_lap() -> None:
    assert judged(driven(6.0), None) == []
    assert judged(driven(6.0), driven(4.5), by_marks=False) == []


def test_a_touch_of_throttle_between_linked_corners_only_balances() -> None:
    """The reference is off it again 0.6 s later: nothing to be late with. Where it drives on, there is."""
    linked = bounds(20.0, 60.0, 80.0, 130.0, 400.0, linked=True)

    def touch(at: float, lasts: float) -> Stretch:
        return stretch(
            12.0,
            60.0,
            SPEED,
            throttle=lambda t: 1.0 if t < 1.5 else 0.7 if at <= t < at + lasts else 0.0,
            brake=lambda t: 0.6 if 1.5 <= t < 3.5 else 0.0,
            gear=3.0,
        )

    assert FAMILY.judge(corner_pass(driven(6.0), touch(4.5, 0.45), linked)) == []
    assert [f.fault for f in FAMILY.judge(corner_pass(driven(6.0), touch(4.5, 1.5), linked))] == ["late_throttle"]
    assert [f.fault for f in FAMILY.judge(corner_pass(driven(6.0), driven(4.5), linked))] == ["late_throttle"]


def test_hovering_about_half_throttle_is_not_late() -> None:
    """The same foot within a few per cent: the reference at 51 %, this driver at 49 % and then on, a second later."""

    def foot(level: float, on: float) -> Stretch:
        return stretch(
            12.0,
            60.0,
            SPEED,
            throttle=lambda t: 1.0 if t < 1.5 or t >= on else 0.0 if t < 4.5 else level,
            brake=0.0,
            gear=3.0,
        )

    assert judged(foot(0.49, 5.6), foot(0.51, 5.5)) == []
    assert judged(foot(0.3, 5.6), foot(0.51, 5.5)) == pytest.approx([1.1], abs=0.03)


def test_before_the_last_apex_it_is_not_late() -> None:
    # The reference is on power at 60 m, well before the apex at 80 m; so is this driver, a little later.
    assert judged(driven(3.6), driven(3.1)) == []


def test_a_driver_who_hardly_lifted_is_not_late() -> None:
    # The reference came off for the corner, this driver went through on a third of the throttle or more: not late,
    # unless the power comes later than what was given before makes up for.
    assert judged(driven(4.4, least=0.35), driven(4.5)) == []
    assert judged(stretch(12.0, 60.0, SPEED, throttle=0.8, brake=0.0, gear=3.0), driven(4.5)) == []
    assert judged(driven(6.5, least=0.35), driven(4.5)) == pytest.approx([2.0], abs=0.02)


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
def test_throttle_given_before_the_references_place_is_credited(rate: float) -> None:
    """30 % from 3.5 to 4.5 s are 0.3 s of full throttle; the power comes 0.3 or 1 s late."""
    there = footed(stages(4.5, 4.5), rate=100.0)
    assert found(footed(stages(3.5, 4.8), rate=rate), there) == []
    (late,) = FAMILY.judge(corner_pass(footed(stages(3.5, 5.5), rate=rate), there, WHERE))
    assert late.evidence["credit"] == pytest.approx(0.3, abs=0.35 / rate + 0.02)
    assert late.size == pytest.approx(1.0, abs=1.0 / rate + 0.01), "as late as it is, whatever is forgiven"
    assert found(footed(stages(5.0, 5.0), rate=rate), there) == [
        ("late_throttle", pytest.approx(0.5, abs=1.0 / rate + 0.01))
    ]
    both = footed(stages(3.5, 4.5), rate=100.0)
    assert found(footed(stages(3.5, 5.0), rate=rate), both) != [], "the reference gave as much: no credit"


def test_the_evidence_tells_how_the_foot_came() -> None:
    """The pickup by its place, from the apex at 4.0 s; how long it took from there; how often the foot stabbed."""
    there = footed(lift(9.0, 0.0))
    (plain,) = FAMILY.judge(corner_pass(footed(ramp(5.0, 1.0)), there, WHERE))
    assert plain.evidence["picked_up_at"] == pytest.approx(SPEED * 5.2, abs=0.5)
    assert plain.evidence["after_apex_s"] == pytest.approx(1.2, abs=0.03)
    assert plain.evidence["after_apex_m"] == pytest.approx(24.0, abs=0.5)
    assert plain.evidence["rise"] == pytest.approx(0.3, abs=0.03)
    assert plain.evidence["stabs"] == 0
    stabbing = footed(lambda t: 1.0 if t >= 6.0 or 4.9 < t < 4.96 or 5.3 < t < 5.36 else 0.0)
    (stabbed,) = (f for f in FAMILY.judge(corner_pass(stabbing, there, WHERE)) if f.fault == "late_throttle")
    assert stabbed.evidence["stabs"] == 2


def test_power_that_never_came_is_late_by_what_was_seen() -> None:
    own = driven(30.0, seconds=7.5)  # ends at 150 m, 20 m behind the exit
    found = FAMILY.judge(corner_pass(own, driven(4.5), WHERE))
    assert [f.size for f in found] == pytest.approx([3.0], abs=0.02)


def waiting(own: Stretch) -> CornerPass:
    return corner_pass(own, driven(4.5), WHERE)


def test_a_pass_waits_until_power_is_no_stab() -> None:
    assert not FAMILY.settled(waiting(driven(30.0, seconds=6.6)))
    assert not FAMILY.settled(waiting(driven(6.3, seconds=6.6)))
    assert FAMILY.settled(waiting(driven(6.3, seconds=6.9)))
    assert FAMILY.settled(corner_pass(driven(30.0), None, WHERE))


def test_a_stab_at_the_exit_hides_nothing() -> None:
    """Half throttle for 0.2 s where the reference is on power, and power only a second later."""

    def throttle(t: float) -> float:
        return 1.0 if t < 1.5 or t >= 6.2 else 0.6 if 4.6 <= t < 4.8 else 0.0

    own = stretch(12.0, 60.0, SPEED, throttle=throttle, brake=0.0, gear=3.0)
    assert judged(own, driven(4.5)) == pytest.approx([1.7], abs=0.03)


def test_what_is_measured_is_the_place_and_the_longest_lift() -> None:
    assert dict(FAMILY.measure(waiting(driven(5.0)))) == pytest.approx({COMMITTED_AT: 100.0, LIFT: 0.0}, abs=0.5)
    assert dict(FAMILY.measure(waiting(footed(lift(5.2, 0.6)))))[LIFT] == pytest.approx(0.6, abs=0.02)
    assert dict(FAMILY.measure(waiting(driven(30.0, seconds=7.5)))) == {}


def test_the_foot_was_idle_since_the_brakes() -> None:
    """Late from its place on, but the root of it is looked for from where the brakes were left."""
    (late,) = FAMILY.judge(corner_pass(driven(5.0), driven(4.5), WHERE))
    assert late.since == pytest.approx(3.0, abs=0.03) and late.origin == late.since
    assert late.strength == pytest.approx(late.size / late.evidence["allowed"])


def test_late_wherever_everything_is_late_today_is_the_day() -> None:
    today = Scatter({(corner, COMMITTED_AT): 500.0 for corner in range(10)})
    for corner in range(10):
        today.add(corner, COMMITTED_AT, 508.0)
    assert judged(driven(4.9), driven(4.5)) == pytest.approx([0.4], abs=0.02)
    assert judged(driven(4.9), driven(4.5), scatter=today) == []
    assert judged(driven(5.5), driven(4.5), scatter=today) == pytest.approx([0.6], abs=0.03)
    assert judged(driven(4.9), driven(4.5), usual={(1, COMMITTED_AT): 97.0}) == [], "the reference lap was lucky"


def test_late_all_the_way_from_before_the_apex() -> None:
    # The reference commits at 62 m, before the apex at 80 m; this driver only at 100 m.
    assert judged(driven(5.0), driven(3.1)) == pytest.approx([1.9], abs=0.03)


# How the power comes: progressively, in two stages, with a stab.


def footed(throttle: Callable[[float], float], seconds: float = 12.0, rate: float = 60.0) -> Stretch:
    """20 m/s all the way and brakes from 1.8 to 3.0 s, as `driven`; whole per cent, as a source may round."""
    return stretch(
        seconds,
        rate,
        SPEED,
        throttle=lambda t: 1.0 if t < 1.5 else round(throttle(t), 2),
        brake=lambda t: 0.8 if 1.8 < t < 3.0 else 0.0,
        gear=3.0,
    )


def ramp(begins: float, lasts: float) -> Callable[[float], float]:
    """From nothing to full throttle in `lasts` s."""
    return lambda t: min(1.0, max(0.0, (t - begins) / lasts))


def lift(begins: float, lasts: float, commits: float = 4.5, low: float = 0.0) -> Callable[[float], float]:
    """Full throttle from `commits` s on, but `low` for `lasts` s from `begins` on."""
    return lambda t: 0.0 if t < commits else low if begins <= t < begins + lasts else 1.0


def stages(balances: float, commits: float, level: float = 0.3) -> Callable[[float], float]:
    """A balance throttle of `level` from `balances` s on, power from `commits` s on."""
    return lambda t: 0.0 if t < balances else level if t < commits else 1.0


def found(own: Stretch, reference: Stretch, **more: object) -> list[tuple[str, float]]:
    return [(f.fault, f.size) for f in FAMILY.judge(corner_pass(own, reference, WHERE, **more))]  # type: ignore[arg-type]


@pytest.mark.parametrize("lasts", [0.2, 0.6, 1.0])
def test_progressively_is_as_soon_as_half_throttle_is(lasts: float) -> None:
    """Fed in over `lasts` s against put down at once: half throttle at the same time is not late."""
    sudden = footed(ramp(4.5, 0.05))
    assert found(footed(ramp(4.5 - lasts / 2.0, lasts)), sudden) == []
    assert found(footed(ramp(5.1 - lasts / 2.0, lasts)), sudden) == [("late_throttle", pytest.approx(0.58, abs=0.03))]


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("balances", [3.2, 3.8])
def test_in_two_stages_it_is_the_power_that_counts(balances: float, rate: float) -> None:
    there = footed(stages(3.2, 4.5), rate=100.0)
    assert found(footed(stages(balances, 4.55), rate=rate), there) == []
    late = found(footed(stages(balances, 5.1), rate=rate), there)
    assert late == [("late_throttle", pytest.approx(0.6, abs=0.06))], "the balance throttle is no power"


def test_balance_before_the_apex_and_power_in_time_beats_a_reference_that_waits() -> None:
    waits = footed(stages(4.5, 4.5))
    assert found(footed(stages(3.2, 4.5)), waits) == []
    assert found(footed(stages(3.2, 4.2, level=0.45)), waits) == []


def test_nearly_committed_all_the_way_from_there_is_not_late() -> None:
    waits = footed(stages(4.5, 4.5))
    assert found(footed(stages(3.6, 5.2, level=0.45)), waits) == []
    assert found(footed(stages(3.6, 5.2, level=0.25)), waits) == [("late_throttle", pytest.approx(0.7, abs=0.03))]


@pytest.mark.parametrize("stab", [0.05, 0.2])
def test_a_stab_is_no_power(stab: float) -> None:
    """Full throttle for a moment in time, off for a second, then power: the foot did not stay."""
    own = footed(lift(4.5 + stab, 1.0))
    names = [fault for fault, _ in found(own, footed(lift(9.0, 0.0)))]
    assert names == (["throttle_lift"] if stab > 0.1 else ["late_throttle"])


# Lifts.


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
@pytest.mark.parametrize("lasts", [0.4, 0.8])
@pytest.mark.parametrize("begins", [4.8, 5.6])
def test_a_lift_is_as_long_as_it_is(begins: float, lasts: float, rate: float) -> None:
    findings = FAMILY.judge(corner_pass(footed(lift(begins, lasts), rate=rate), footed(lift(9.0, 0.0)), WHERE))
    assert [f.fault for f in findings] == ["throttle_lift"]
    (finding,) = findings
    assert finding.unit == "s" and finding.size == pytest.approx(lasts, abs=1.0 / rate + 0.01)
    assert finding.begins == pytest.approx(begins, abs=1.0 / rate)
    assert finding.distance == pytest.approx(SPEED * begins, abs=SPEED / rate + 0.1)
    assert finding.phases == ("exit", "straight")
    assert finding.strength == pytest.approx(finding.size / finding.evidence["allowed"])


@pytest.mark.parametrize(("lasts", "low"), [(0.1, 0.0), (0.15, 0.0), (1.0, 0.4), (1.0, 0.7)])
def test_a_breath_is_no_lift(lasts: float, low: float) -> None:
    assert found(footed(lift(5.2, lasts, low=low)), footed(lift(9.0, 0.0))) == []


def test_in_time_and_let_go_again_is_a_lift_and_not_late() -> None:
    """The car slides wide, the foot comes off for as long as it takes, and returns."""
    own = footed(lift(4.75, 0.7))
    assert found(own, footed(lift(9.0, 0.0))) == [("throttle_lift", pytest.approx(0.7, abs=0.03))]
    late_and_lifted = footed(lift(5.6, 0.6, commits=5.1))
    assert [fault for fault, _ in found(late_and_lifted, footed(lift(9.0, 0.0)))] == ["late_throttle", "throttle_lift"]


def test_a_lift_that_the_reference_makes_too_is_the_corners() -> None:
    there = footed(lift(5.2, 0.5))
    assert found(footed(lift(5.2, 0.5)), there) == []
    assert found(footed(lift(5.15, 0.6)), there) == []
    assert found(footed(lift(5.2, 1.0)), there) == [("throttle_lift", pytest.approx(0.5, abs=0.04))]


def test_what_is_no_lift() -> None:
    plain = footed(lift(9.0, 0.0))
    assert found(footed(lift(6.8, 1.0)), plain) == [], "behind the exit, on the straight"
    assert found(footed(lift(5.2, 0.6)), plain, by_marks=False) == []
    wild = Scatter()
    for i in range(20):
        wild.add(1, LIFT, 0.3 * (i % 3))
    assert found(footed(lift(5.2, 0.5)), plain, scatter=wild) == []
    braked = footed(lift(5.2, 0.6))
    for i in range(braked.index_at_time(5.25), braked.index_at_time(5.7)):
        braked["brake"][i] = 0.5
    assert "throttle_lift" not in [fault for fault, _ in found(braked, plain)], "the next corner's brakes"


def test_the_cut_of_a_shift_up_is_no_lift() -> None:
    plain = footed(lift(9.0, 0.0))
    assert [fault for fault, _ in found(footed(lift(5.2, 0.3)), plain)] == ["throttle_lift"]
    own = footed(lift(5.2, 0.3))
    for i in range(own.index_at_time(5.3), len(own)):
        own["gear"][i] = 4.0
    assert found(own, plain) == []


def test_a_pass_waits_until_a_lift_is_over() -> None:
    assert not FAMILY.settled(waiting(footed(lift(5.6, 2.0), seconds=6.6)))
    assert FAMILY.settled(waiting(footed(lift(5.2, 0.6), seconds=6.6)))
