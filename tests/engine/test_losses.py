"""Seconds lost by phase in one pass: measured as far as it was seen, foreseen from there, in closed form."""

from __future__ import annotations

import math

import pytest

from coach.engine.losses import Losses, losses_of
from coach.vocabulary.events import PHASES
from tests.engine.cornering import (
    APEX,
    BRAKE_AT,
    END,
    ENTRY,
    EXIT,
    FAST,
    PULL,
    RATES,
    SLOW,
    WHERE,
    Leg,
    balance,
    brakes,
    drive,
    fast,
    power,
    reference,
    usual_legs,
)
from tests.engine.handmade import stretch


def lost(legs: list[Leg], rate: float = 60.0, upto: float = EXIT + 15.0) -> Losses:
    found = losses_of(drive(legs, rate, upto=upto), reference(), WHERE)
    assert found is not None
    return found


@pytest.mark.parametrize("rate", RATES)
def test_the_same_driving_loses_nothing(rate: float) -> None:
    found = lost(usual_legs(), rate)
    assert all(abs(found.of((phase,))) < 0.003 for phase in PHASES)
    assert found.net == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize("rate", RATES)
def test_targets_are_the_times_of_the_lap_to_measure_by(rate: float) -> None:
    # 50 m at 50 m/s and 105 m down at 10 m/s^2: 1 + 3 s; 30 m at 20 m/s: 1.5 s; 50 m and 450 m at 4 m/s^2.
    def pulled(metres: float) -> float:
        return (math.sqrt(SLOW**2 + 2.0 * PULL * metres) - SLOW) / PULL

    exact = (1.0 + (FAST - SLOW) / 10.0, 1.5, pulled(50.0), pulled(END - APEX) - pulled(50.0))
    found = lost(usual_legs(), rate)
    assert found.targets == pytest.approx(exact, abs=0.005)
    assert found.target == pytest.approx(sum(exact), abs=0.01)
    assert found.target_of(("entry", "exit")) == pytest.approx(exact[1] + exact[2], abs=0.01)
    assert found.target_of(()) == 0.0


@pytest.mark.parametrize("rate", RATES)
def test_early_brakes_are_lost_in_the_braking(rate: float) -> None:
    # 10 m at 20 rather than at 50 m/s: 10 (1/20 - 1/50) = 0.3 s.
    early = [fast(BRAKE_AT - 10.0), brakes(SLOW), balance(APEX - ENTRY + 10.0), power(500.0)]
    found = lost(early, rate)
    assert found.braking == pytest.approx(0.3, abs=0.005)
    assert found.entry == pytest.approx(0.0, abs=0.003)
    assert found.net == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize("seen", [EXIT, EXIT + 15.0, EXIT + 200.0, END])
@pytest.mark.parametrize("late", [0.1, 0.2, 0.5])
def test_what_late_power_costs_is_foreseen_wherever_the_pass_ends(late: float, seen: float) -> None:
    # The same closed form as in the physics tests: coasting at 20 m/s, then 4 m/s^2 for the rest of the 500 m.
    legs = [*usual_legs()[:2], balance(APEX - ENTRY + SLOW * late), power(500.0)]
    exact = {0.1: 0.06982, 0.2: 0.13959, 0.5: 0.34855}[late]
    found = lost(legs, upto=seen + 1.0)
    assert found.braking + found.entry == pytest.approx(0.0, abs=0.003)
    assert found.exit + found.straight == pytest.approx(exact, rel=0.05)


def test_the_phases_add_up_to_the_net() -> None:
    found = Losses(0.1, 0.2, -0.05, 0.4, (1.0, 2.0, 3.0, 4.0))
    assert found.net == pytest.approx(0.65) == found.of(PHASES)
    assert found.of(("braking", "straight")) == pytest.approx(0.5)
    assert found.of(()) == 0.0
    assert found.target == 10.0


def test_a_faster_exit_gains_on_the_straight() -> None:
    found = lost([*usual_legs()[:3], power(500.0, 6.0)])
    assert found.exit < 0.0 and found.straight < -0.1


def test_what_was_not_seen_is_not_known() -> None:
    own = drive(usual_legs(), upto=EXIT + 15.0)
    assert losses_of(own, drive(usual_legs(), upto=APEX), WHERE) is None
    begun_late = stretch(20.0, speed=20.0, start=WHERE.braking + 5.0, throttle=0.5, brake=0.0)
    assert losses_of(begun_late, reference(), WHERE) is None
    assert losses_of(drive(usual_legs(), upto=EXIT - 10.0), reference(), WHERE) is None
