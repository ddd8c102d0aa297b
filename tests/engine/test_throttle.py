"""Late throttle, judged on one pass made by hand: what is late, what is not, and how late."""

from __future__ import annotations

import pytest

from coach.engine.faults.base import CornerPass
from coach.engine.faults.throttle import COMMITTED_AT, ThrottleFamily
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
    # Two passes in five may be late without hiding the next.
    for _ in range(7):
        steady.add(1, COMMITTED_AT, 100.0)
    assert judged(driven(5.0), driven(4.5), scatter=steady) == pytest.approx([0.5], abs=0.02)


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
    # unless the power comes late.
    assert judged(driven(4.4, least=0.35), driven(4.5)) == []
    assert judged(stretch(12.0, 60.0, SPEED, throttle=0.8, brake=0.0, gear=3.0), driven(4.5)) == []
    assert judged(driven(5.5, least=0.35), driven(4.5)) == pytest.approx([1.0], abs=0.02)


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


def test_what_is_measured_is_the_place() -> None:
    assert dict(FAMILY.measure(waiting(driven(5.0)))) == pytest.approx({COMMITTED_AT: 100.0}, abs=0.5)
    assert dict(FAMILY.measure(waiting(driven(30.0, seconds=7.5)))) == {}
