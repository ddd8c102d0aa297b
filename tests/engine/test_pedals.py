"""Reading pedals: pickup, committed and full throttle, apart from blips, stabs and cuts (contract, section 5)."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from coach.engine.faults.pedals import Throttle, near_upshift, shifts, way_to_power
from tests.engine.handmade import Of, stretch

RATES = [20.0, 60.0, 360.0]
SECONDS = 8.0
SPEED = 20.0


def line(*points: tuple[float, float]) -> Callable[[float], float]:
    """Straight pieces between (s, value) points; constant outside."""

    def value(t: float) -> float:
        if t <= points[0][0]:
            return points[0][1]
        for (a, low), (b, high) in pairwise(points):
            if t < b:
                return low + (high - low) * (t - a) / (b - a)
        return points[-1][1]

    return value


def within(begins: float, ends: float, value: float, other: Of) -> Callable[[float], float]:
    """`value` from `begins` to `ends` s, `other` elsewhere."""
    return lambda t: value if begins <= t < ends else other(t) if callable(other) else other


def rounded(of: Callable[[float], float], steps: int) -> Callable[[float], float]:
    return lambda t: round(of(t) * steps) / steps


BACK_ON = line((0.5, 1.0), (0.7, 0.0), (4.0, 0.0), (5.0, 1.0))
"""Off from 0.7 s on, back on evenly between 4 and 5 s: 20 % at 4.2 s, 50 % at 4.5 s, 95 % at 4.95 s."""


def way(throttle: Of, brake: Of = 0.0, gear: Of = 3.0, rate: float = 60.0, seconds: float = SECONDS) -> Throttle:
    rows = stretch(seconds, rate, SPEED, throttle=throttle, brake=brake, gear=gear)
    return way_to_power(rows, 0.0, SPEED * seconds)


@pytest.mark.parametrize("rate", RATES)
def test_an_even_way_back(rate: float) -> None:
    found = way(BACK_ON, rate=rate)
    assert found.picked_up == pytest.approx((4.2, 84.0), abs=1e-6)  # between two samples, at any rate
    assert found.committed == pytest.approx((4.5, 90.0), abs=1e-6)
    assert found.full is not None
    assert found.full[0] == pytest.approx(4.95, abs=1.0 / rate + 1e-9)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("steps", [100, 255])
def test_pedals_in_whole_per_cents_or_bytes(rate: float, steps: int) -> None:
    found = way(rounded(BACK_ON, steps), rate=rate)
    assert found.picked_up is not None and found.committed is not None
    assert found.picked_up[0] == pytest.approx(4.2, abs=0.02)
    assert found.committed[0] == pytest.approx(4.5, abs=0.02)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("height", [0.45, 1.0])
def test_a_blip_under_brakes_is_no_pickup(rate: float, height: float) -> None:
    blip = within(1.5, 1.65, height, within(2.2, 2.35, height, BACK_ON))
    brake = within(0.8, 3.5, 0.7, 0.0)
    gear = line((1.5, 4.0), (1.5001, 3.0), (2.2, 3.0), (2.2001, 2.0))
    assert way(blip, brake, gear, rate) == way(BACK_ON, brake, gear, rate)


@pytest.mark.parametrize("rate", RATES)
def test_a_blip_on_a_shift_without_brakes_is_no_pickup(rate: float) -> None:
    blip = within(2.0, 2.15, 0.8, BACK_ON)
    found = way(blip, gear=lambda t: 4.0 if t < 2.05 else 3.0, rate=rate)
    assert found.picked_up is not None
    assert found.picked_up[0] == pytest.approx(4.2, abs=1e-6)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("lasts", [0.1, 0.3, 0.45])
def test_a_stab_is_no_pickup(rate: float, lasts: float) -> None:
    # Up and back under 5 % within half a second counts as nothing.
    found = way(within(2.5, 2.5 + lasts, 0.7, BACK_ON), rate=rate)
    assert found.picked_up is not None and found.committed is not None
    assert found.picked_up[0] == pytest.approx(4.2, abs=1e-6)
    assert found.committed[0] == pytest.approx(4.5, abs=1e-6)


@pytest.mark.parametrize("rate", RATES)
def test_more_than_half_a_second_is_no_stab(rate: float) -> None:
    found = way(within(2.0, 2.7, 0.7, BACK_ON), rate=rate)
    assert found.picked_up is not None and found.committed is not None
    assert found.picked_up[0] == pytest.approx(2.0, abs=1.0 / rate + 1e-9)
    assert found.committed[0] == pytest.approx(2.0, abs=1.0 / rate + 1e-9)


@pytest.mark.parametrize("rate", RATES)
def test_two_stages(rate: float) -> None:
    # Some throttle to balance the car, then power: picked up at the first, committed at the second.
    found = way(line((1.0, 0.0), (2.0, 0.0), (2.1, 0.35), (4.0, 0.35), (4.4, 0.65)), rate=rate)
    assert found.picked_up is not None and found.committed is not None
    assert found.picked_up[0] == pytest.approx(2.0 + 0.1 * 0.2 / 0.35, abs=1.0 / rate)
    assert found.committed[0] == pytest.approx(4.2, abs=1e-6)
    assert found.full is None


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("cut_at", [4.26, 4.62, 4.8])
@pytest.mark.parametrize("through", [3.0, 0.0])
def test_the_cut_of_a_shift_up_is_no_lift(rate: float, cut_at: float, through: float) -> None:
    # The gearbox cuts the throttle; what it cuts is neither a stab's end nor a lift. `through`: neutral on the way.
    cut = within(cut_at, cut_at + 0.12, 0.0, BACK_ON)
    gear = within(cut_at, cut_at + 0.06, through, lambda t: 2.0 if t < cut_at else 3.0)
    found = way(cut, gear=gear, rate=rate)
    assert found.picked_up is not None and found.committed is not None and found.full is not None
    assert found.picked_up[0] == pytest.approx(4.2, abs=1.0 / rate)
    assert found.committed[0] == pytest.approx(4.5, abs=1.0 / rate)
    assert found.full[0] == pytest.approx(4.95, abs=1.0 / rate + 1e-9)


@pytest.mark.parametrize("rate", RATES)
def test_half_throttle_with_a_shift_in_it_is_committed(rate: float) -> None:
    # 55 % held from 4 s on; the shift's cut takes an eighth of a second out of it
    foot = line((1.0, 0.0), (4.0, 0.0), (4.0001, 0.55))
    found = way(within(4.2, 4.32, 0.0, foot), gear=lambda t: 2.0 if t < 4.2 else 3.0, rate=rate)
    assert found.committed is not None
    assert found.committed[0] == pytest.approx(4.0, abs=1.0 / rate)


def test_brakes_begin_it_again() -> None:
    found = way(line((0.5, 1.0), (0.7, 0.0), (1.5, 0.0), (1.6, 0.8), (5.0, 0.8)), brake=within(2.5, 3.5, 0.6, 0.0))
    assert found.committed is not None
    assert found.committed[0] == pytest.approx(3.5, abs=0.02)


def test_a_lift_between_pickup_and_power_begins_it_again() -> None:
    found = way(line((1.0, 0.0), (2.0, 0.0), (2.1, 0.4), (3.0, 0.4), (3.1, 0.0), (4.5, 0.0), (5.5, 1.0)))
    assert found.picked_up is not None
    assert found.picked_up[0] == pytest.approx(4.7, abs=1e-6)


def test_a_driver_who_never_came_off_has_nothing_to_come_back_to() -> None:
    stayed = way(line((1.0, 1.0), (2.0, 0.35), (3.0, 0.35), (4.0, 0.85)))
    assert stayed.picked_up == (0.0, 0.0)
    assert stayed.committed == pytest.approx((3.3, 66.0), abs=1e-6)
    flat = way(1.0)
    assert flat.picked_up == flat.committed == (0.0, 0.0)


def test_power_that_does_not_come_is_not_there() -> None:
    off = way(line((0.5, 1.0), (0.7, 0.0)))
    assert off == Throttle(None, None, None)
    part = way(line((0.5, 1.0), (0.7, 0.0), (4.0, 0.0), (4.1, 0.4)))
    assert part.picked_up is not None and part.committed is None and part.full is None


def test_full_is_held_for_three_tenths() -> None:
    short = way(line((0.5, 0.0), (2.0, 0.0), (2.1, 1.0), (2.35, 1.0), (2.4, 0.6), (5.0, 0.6), (5.1, 1.0)))
    assert short.full is not None
    assert short.full[0] > 5.0


def test_without_throttle_nothing_is_read() -> None:
    assert way(float("nan")) == Throttle(None, None, None)


def test_an_empty_piece_reads_as_nothing() -> None:
    rows = stretch(SECONDS, 60.0, SPEED, throttle=1.0)
    assert way_to_power(rows, 500.0, 400.0) == Throttle(None, None, None)


def test_without_a_brake_channel_stabs_and_pickups_still_tell_apart() -> None:
    assert way(within(1.5, 1.65, 1.0, BACK_ON), brake=float("nan")) == way(BACK_ON, brake=float("nan"))


@pytest.mark.parametrize("rate", RATES)
def test_shifts_look_through_neutral(rate: float) -> None:
    gears = [(0.0, 4.0), (1.0, 0.0), (1.1, 3.0), (2.0, 2.0), (3.0, 0.0), (3.2, 3.0), (4.0, -1.0), (5.0, 1.0)]

    def gear(t: float) -> float:
        return [g for begins, g in gears if begins <= t + 1e-9][-1]

    rows = stretch(SECONDS, rate, SPEED, gear=gear)
    found = shifts(rows)
    assert [(old, new) for _, old, new in found] == [(4, 3), (3, 2), (2, 3), (3, 1)]
    assert [rows.t[row] for row, _, _ in found] == pytest.approx([1.1, 2.0, 3.2, 5.0], abs=1.0 / rate)


def test_a_gear_that_is_not_sent_for_a_moment_is_no_shift() -> None:
    rows = stretch(4.0, 60.0, SPEED, gear=within(1.0, 1.5, float("nan"), 3.0))
    assert shifts(rows) == []


def test_only_shifts_up_cut_the_throttle() -> None:
    rows = stretch(6.0, 50.0, SPEED, gear=lambda t: 4.0 if t < 2.0 else 3.0 if t < 4.0 else 4.0)
    near = near_upshift(rows)
    assert {round(rows.t[i], 2) for i, is_near in enumerate(near) if is_near} == {
        round(3.7 + 0.02 * i, 2) for i in range(30)
    }
