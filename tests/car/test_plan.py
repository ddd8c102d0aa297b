"""The speed plan against the closed-form stadium lap."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feeds.car.circuit import Bend, Circuit, Straight
from feeds.car.line import Path
from feeds.car.plan import SpeedPlan, Table, Use

MU, PULL, BRAKE = 1.2, 5.0, 11.772


class Constant:
    """mu 1.2, 5 m/s^2 of drive and 11.772 of brakes at every speed."""

    def lateral(self, speed: float) -> float:
        return MU * 9.81

    def braking(self, speed: float) -> float:
        return BRAKE

    def drive(self, speed: float) -> float:
        return PULL


def lap(share: float) -> tuple[float, float]:
    """Lap time and top speed of the plan round 2 x 400 m and two half circles of R 50, cornering at `share` of v."""
    turn = math.pi / 2
    ramp = 0.5  # as short as the stations are apart: the closed form has none
    half = [Bend(turn, 50.0, ramp=ramp), Bend(turn, 50.0, ramp=ramp)]
    circuit = Circuit(
        "stadium", [Straight(400.0), half[0], Straight(0.0, fit=True), half[1], Straight(400.0, fit=True), *half], 10.0
    )
    still = np.zeros_like(circuit.station)
    path = Path(circuit, still, still, still)
    slower = np.full_like(still, share)
    plan = SpeedPlan(circuit, path, Table(Constant()), Use(1.0, 1.0, 1.0, 2.0), slower, *soft(still))
    seconds = sum(2 * plan.ahead[i] / (plan.speed[i] + plan.speed[(i + 1) % plan.count]) for i in range(plan.count))
    return seconds, max(plan.speed)


def soft(still: np.ndarray) -> tuple[np.ndarray, ...]:
    return (np.full_like(still, np.inf),)


@pytest.mark.parametrize(("share", "seconds"), [(1.0, 32.33424), (0.95, 33.42529)])
def test_the_stadium_lap(share: float, seconds: float) -> None:
    """Closed form (checks, exact time-loss cases): 32.33424 s, 5 % slower corners 33.42529 s, top speed 58.2764 m/s."""
    found, top = lap(share)
    assert found == pytest.approx(seconds, rel=0.004)
    if share == 1.0:
        assert top == pytest.approx(58.2764, rel=0.004)
