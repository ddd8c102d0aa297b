"""The grip lap's three passes against closed forms and against an independent library."""

from __future__ import annotations

import importlib.util
import math
import os
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from coach.engine.grip import FASTEST, Envelope, GripShown, even
from coach.engine.griplap import grip_lap, speed_profile
from tests.physics.motion import Motion, reference_of
from tests.physics.test_time_loss import BRAKES, CORNER_SPEED, HALF, PULL, PUSHED, RADIUS, STRAIGHT, stadium_path
from tests.physics.test_time_loss import stadium as stadium_motion

Array = NDArray[np.float64]

FIELD = 0.003
"""share by which two programs of one method may differ on a grid of 1 m (choice; the library itself is 0.15 % off)"""
STADIUM = even(lateral=1.2 * 9.81, braking=BRAKES, pull=PULL)


def lap_time(speed: Array, ways: Array) -> float:
    return float((2.0 * ways / (speed + np.roll(speed, -1))).sum())


def stadium(step: float) -> tuple[Array, Array]:
    """Curvature at each place and the way to the next: 400 m straight, half a circle of 50 m, and again."""
    straight, bend = round(STRAIGHT / step), round(HALF / step)
    ways = np.concatenate([np.full(straight, STRAIGHT / straight), np.full(bend, HALF / bend)])
    turn = np.concatenate([np.zeros(straight), np.full(bend, 1.0 / RADIUS)])
    return np.tile(turn, 2), np.tile(ways, 2)


def wild(seed: int) -> tuple[Array, Array]:
    """A closed path of random harmonics: curvature (1/m) and the length of each element of about 1 m."""
    chance = np.random.default_rng(seed)
    turned = np.linspace(0.0, 2.0 * math.pi, 2400, endpoint=False)
    radius = 330.0 + sum(
        chance.normal(0.0, 90.0 / k) * np.cos(k * turned + chance.uniform(0.0, 6.3)) for k in (2, 3, 5)
    )
    x, y = radius * np.cos(turned), radius * np.sin(turned)
    dx, dy = np.roll(x, -1) - x, np.roll(y, -1) - y
    ways = np.hypot(dx, dy)
    heading = np.arctan2(dy, dx)
    bent = np.remainder(heading - np.roll(heading, 1) + math.pi, 2.0 * math.pi) - math.pi
    return bent / (0.5 * (ways + np.roll(ways, 1))), ways


def test_stadium_in_closed_form() -> None:
    # v_c = sqrt(mu g R) = 24.2611; v_peak^2 = v_c^2 + 2 a s with s = b L / (a + b): common practice.
    turn, ways = stadium(0.1)
    speed = speed_profile(turn, ways, STADIUM)
    assert float(speed.min()) == pytest.approx(24.2611, abs=1e-4)
    assert float(speed.max()) == pytest.approx(58.2764, abs=0.01)
    peak = int(speed[: len(speed) // 2].argmax())
    assert float(ways[:peak].sum()) == pytest.approx(280.754, abs=0.2)
    assert pytest.approx(280.754, abs=0.001) == PUSHED
    assert lap_time(speed, ways) == pytest.approx(32.33424, abs=0.005)


def test_stadium_five_per_cent_slow_in_its_corners() -> None:
    # The whole lap, since a slow corner costs the straight too: 33.42529 - 32.33424 = 1.09104 s.
    turn, ways = stadium(0.25)
    slow = even(lateral=0.95**2 * 1.2 * 9.81, braking=BRAKES, pull=PULL)
    lost = lap_time(speed_profile(turn, ways, slow), ways) - lap_time(speed_profile(turn, ways, STADIUM), ways)
    assert lost == pytest.approx(1.09104, abs=0.002)


def test_finer_grids_go_towards_the_closed_form() -> None:
    """Where the grid meets the sudden end of an arc it is half a step off, and half as much on half the grid."""
    off = []
    for step in (4.0, 2.0, 1.0, 0.5):
        turn, ways = stadium(step)
        off.append(abs(lap_time(speed_profile(turn, ways, STADIUM), ways) - 32.33424))
    assert off[2] < 0.0015 * 32.33424
    assert all(fine == pytest.approx(0.5 * coarse, rel=0.1) for coarse, fine in pairwise(off))


@pytest.mark.parametrize(("radius", "mu", "speed"), [(50.0, 1.0, 22.1472), (50.0, 1.2, 24.2611)])
def test_a_circle_is_driven_at_its_cornering_speed(radius: float, mu: float, speed: float) -> None:
    # v = sqrt(mu g R) (any text); the lap of the circle at mu 1: 14.1850 s.
    ways = np.full(314, 2.0 * math.pi * radius / 314)
    driven = speed_profile(np.full(314, -1.0 / radius), ways, even(9.81 * mu, 9.81 * mu, 5.0))
    assert np.allclose(driven, speed, atol=1e-4)
    assert lap_time(driven, ways) == pytest.approx(2.0 * math.pi * radius / speed, abs=1e-3)


def test_downforce_and_drag_count_by_speed() -> None:
    # v^2 / R = a + b v^2 gives v = sqrt(a / (1/R - b)): algebra.
    grid = np.arange(FASTEST + 1.0)
    lateral = 10.0 + 0.004 * grid**2
    flat = np.full(FASTEST + 1, 10.0)
    ways = np.full(628, 1.0)
    driven = speed_profile(np.full(628, 0.01), ways, Envelope(lateral, flat, flat, flat, flat))
    assert np.allclose(driven, math.sqrt(10.0 / (0.01 - 0.004)), rtol=1e-3)


@pytest.mark.parametrize(("exponent", "left"), [(2.0, 0.6), (1.0, 0.2)])
def test_braking_beside_cornering(exponent: float, left: float) -> None:
    # Friction circle (Milliken & Milliken, RCVD, ch. 9, from memory): at ay = 0.8 of the limit, ax <= 0.6; with the
    # exponent 1, 0.2. The bend tightens by less and less, so that the car brakes on the limit in it all the way.
    envelope = Envelope(*(np.full(FASTEST + 1, 10.0),) * 5, exponent=exponent)
    count = 4000
    turn = np.concatenate([np.full(count, 1.0 / 200.0), np.full(50, 1.0 / 20.0)])
    ways = np.full(len(turn), 0.1)
    speed = speed_profile(turn, ways, envelope)
    braking = (speed[:-1] ** 2 - speed[1:] ** 2) / (2.0 * ways[:-1])
    share = turn[1:] * speed[1:] ** 2 / 10.0
    at = int(np.where(braking[:count] > 0.1, np.abs(share[:count] - 0.8), 1.0).argmin())
    assert share[at] == pytest.approx(0.8, abs=0.005)
    assert braking[at] / 10.0 == pytest.approx(left, abs=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_no_place_asks_for_more_than_the_limits(seed: int) -> None:
    turn, ways = wild(seed)
    envelope = even(11.0, 10.0, 6.0)
    speed = speed_profile(turn, ways, envelope)
    across = np.abs(turn) * speed**2
    along = (np.roll(speed, -1) ** 2 - speed**2) / (2.0 * ways)
    assert float(across.max()) <= 11.0 + 1e-6
    assert float(along.max()) <= 6.0 + 1e-9
    assert float(along.min()) >= -10.0 - 1e-9
    # And each place is at one of the limits: the lap is the quickest of its kind.
    limited = (across > 11.0 * 0.999) | (along > 5.999)
    braked = np.roll(along, 1) < -9.99 * np.sqrt(np.maximum(0.0, 1.0 - (across / 11.0) ** 2)) + 0.3
    powered = along > 0.97 * np.minimum(6.0, 10.0 * np.sqrt(np.maximum(0.0, 1.0 - (across / 11.0) ** 2)))
    before = np.roll(along, 1) > 0.97 * np.minimum(
        6.0, 10.0 * np.sqrt(np.maximum(0.0, 1.0 - (np.roll(across, 1) / 11.0) ** 2))
    )
    assert float(np.mean(limited | braked | powered | before | (across > 10.9))) > 0.99


def library() -> Callable[..., Any]:
    """`calc_vel_profile` of trajectory-planning-helpers 0.79 (LGPL-3), a library of another team, from the registry.

    It pins a quadprog that no longer imports: `quadprog>=0.1.13` first, then it with `--no-deps`, as .ci/run does.
    """
    if importlib.util.find_spec("trajectory_planning_helpers") is None:
        assert os.environ.get("CI_PROFILES") != "1", "trajectory-planning-helpers is not installed: see .ci/run"
        pytest.skip("trajectory-planning-helpers is not installed: pip cannot resolve its pins, see .ci/run")
    from trajectory_planning_helpers.calc_vel_profile import calc_vel_profile

    found: Callable[..., Any] = calc_vel_profile
    return found


def theirs(turn: Array, ways: Array, lateral: float, braking: float, pull: float, exponent: float = 2.0) -> Array:
    found: Array = library()(
        ax_max_machines=np.array([[0.0, pull], [float(FASTEST), pull]]),
        ggv=np.array([[0.0, braking, lateral], [float(FASTEST), braking, lateral]]),
        kappa=np.where(turn == 0.0, 1e-9, turn),  # it divides by it
        el_lengths=ways,
        closed=True,
        drag_coeff=0.0,
        m_veh=1.0,
        dyn_model_exp=exponent,
    )
    return found


def test_stadium_as_the_library_has_it() -> None:
    turn, ways = stadium(1.0)
    profile = theirs(turn, ways, 1.2 * 9.81, BRAKES, PULL)
    own = speed_profile(turn, ways, STADIUM)
    assert lap_time(profile, ways) == pytest.approx(32.3821, rel=0.001)  # what the library gave when it was looked up
    assert lap_time(own, ways) == pytest.approx(lap_time(profile, ways), rel=FIELD)
    assert float(own.max()) == pytest.approx(float(profile.max()), rel=FIELD)


@pytest.mark.parametrize("exponent", [2.0, 1.4, 1.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_random_paths_as_the_library_has_them(seed: int, exponent: float) -> None:
    turn, ways = wild(seed)
    flat = np.ones(FASTEST + 1)
    own = speed_profile(turn, ways, Envelope(12.0 * flat, 10.0 * flat, 10.0 * flat, 5.0 * flat, 5.0 * flat, exponent))
    profile = theirs(turn, ways, 12.0, 10.0, 5.0, exponent)
    assert lap_time(own, ways) == pytest.approx(lap_time(profile, ways), rel=FIELD)
    assert float(np.abs(own - profile).mean()) < 0.005 * float(profile.mean())


def test_the_grip_lap_of_a_lap_that_left_nothing_is_that_lap() -> None:
    """The stadium at its limit, driven and sampled: what it shows is what it was driven with."""
    known = reference_of(stadium_motion(CORNER_SPEED), 60.0, stadium_path)
    shown = GripShown()
    shown.add(known.reference)
    envelope = shown.envelope()
    assert envelope is not None
    at = round(CORNER_SPEED)
    assert envelope.lateral[at] == pytest.approx(11.772, rel=0.01)
    assert envelope.braking[40] == pytest.approx(BRAKES, rel=0.01)
    assert envelope.pull[40] == pytest.approx(PULL, rel=0.01)
    found = grip_lap(known.reference, envelope)
    assert found is not None
    assert found.total <= known.reference.total + 1e-6
    # The arcs begin and end at once, which the smoothed path (4 m) rounds off: 0.4 s that a real road does not give.
    assert found.total == pytest.approx(32.33424, rel=0.015)


def test_a_lazy_corner_is_held_against_the_other() -> None:
    """One half circle 5 % slow: the grip that the other showed gives back its share, half of 1.09104 s."""
    half = [(PUSHED, PULL), (STRAIGHT - PUSHED, -BRAKES), (HALF, 0.0)]
    slow = 0.95 * CORNER_SPEED
    pushed = (slow**2 - CORNER_SPEED**2 + 2.0 * BRAKES * STRAIGHT) / (2.0 * (PULL + BRAKES))
    back = (CORNER_SPEED**2 - slow**2 + 2.0 * BRAKES * STRAIGHT) / (2.0 * (PULL + BRAKES))
    lazy = Motion(
        CORNER_SPEED,
        [
            (pushed, PULL),
            (STRAIGHT - pushed, -BRAKES),
            (HALF, 0.0),
            (back, PULL),
            (STRAIGHT - back, -BRAKES),
            (HALF, 0.0),
        ],
    )
    assert lazy.speed(STRAIGHT + 1.0) == pytest.approx(slow)
    even_lap = reference_of(Motion(CORNER_SPEED, half * 2), 60.0, stadium_path).reference
    lap = reference_of(lazy, 60.0, stadium_path).reference
    shown, shown_even = GripShown(), GripShown()
    shown.add(lap)
    shown_even.add(even_lap)
    one, other = shown.envelope(), shown_even.envelope()
    assert one is not None and other is not None
    found, whole = grip_lap(lap, one), grip_lap(even_lap, other)
    assert found is not None and whole is not None
    assert lap.total - even_lap.total == pytest.approx(0.5 * 1.09104, abs=0.01)
    assert found.total == pytest.approx(whole.total, abs=0.05)
