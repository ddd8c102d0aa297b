"""What the car has shown: limits by speed, read robustly from laps with whatever channels they have."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.engine.grip import (
    COASTS,
    DIAMOND,
    ELLIPSE,
    FASTEST,
    Envelope,
    GripShown,
    corner_peaks,
    even,
    exponent,
    forces,
    upper,
)
from coach.engine.griplap import grip_lap
from coach.engine.lap import GridLap
from coach.engine.study import study
from tests.engine.drives import samples
from tests.engine.handmade import grid_lap
from tests.make_stream import BRAKING, LATERAL, Drive, make_drive, test_loop, without


@cache
def driven(rate: float) -> Drive:
    return make_drive(test_loop(), 2, rate)


@cache
def best(*lacking: str, rate: float = 25.0) -> GridLap:
    return study(samples(without(driven(rate).rows, *lacking)), "plain").reference


def shown(*laps: GridLap) -> Envelope:
    grip = GripShown()
    for lap in laps:
        grip.add(lap)
    found = grip.envelope()
    assert found is not None
    return found


def changed(lap: GridLap, **channels: object) -> GridLap:
    return replace(lap, channels={**lap.channels, **channels})  # type: ignore[dict-item]


def test_the_test_drivers_friction_circle_is_found() -> None:
    # tests/make_stream.py drives with 12.0 m/s^2 sideways and 10.5 under brakes.
    found = shown(best())
    assert found.lateral[25] == pytest.approx(LATERAL, rel=0.05)
    assert found.braking[30] == pytest.approx(BRAKING, rel=0.08)
    assert DIAMOND <= found.exponent <= ELLIPSE
    assert (np.diff(found.pull[20:]) <= 0.5).all()  # a torque curve and drag: it falls with speed


@pytest.mark.parametrize("rate", [15.0, 60.0])
def test_the_rate_does_not_change_what_was_shown(rate: float) -> None:
    found, plain = shown(best(rate=rate)), shown(best())
    for own, other in ((found.lateral, plain.lateral), (found.braking, plain.braking), (found.pull, plain.pull)):
        assert own[15:50] == pytest.approx(other[15:50], rel=0.08)


@pytest.mark.parametrize(
    "lacking",
    [("ax", "ay", "az"), ("x", "y"), ("x", "y", "ax", "ay"), ("throttle", "brake"), ("x", "y", "yaw_rate", "yaw")],
)
def test_poor_channels_show_nearly_the_same(lacking: tuple[str, ...]) -> None:
    found, plain = shown(best(*lacking)), shown(best())
    assert found.lateral[20:40] == pytest.approx(plain.lateral[20:40], rel=0.06)
    assert found.braking[20:40] == pytest.approx(plain.braking[20:40], rel=0.15)


def test_kerbs_do_not_lift_the_limit() -> None:
    """ay and yaw rate of +-30 m/s^2 at single places, the path shaken by 2 cm: the limit stays."""
    lap = best()
    chance = np.random.default_rng(4)
    spikes = np.where(chance.random(len(lap.time)) < 0.02, chance.choice([-30.0, 30.0], len(lap.time)), 0.0)
    x, ay, rate = lap.get("x"), lap.get("ay"), lap.get("yaw_rate")
    assert x is not None and ay is not None and rate is not None
    kerbs = changed(lap, ay=ay + spikes, yaw_rate=rate + spikes / 20.0, x=x + chance.normal(0.0, 0.02, len(x)))
    found, plain = shown(kerbs), shown(lap)
    assert found.lateral[20:40] == pytest.approx(plain.lateral[20:40], rel=0.04)
    no_path = {name: column for name, column in kerbs.channels.items() if name not in ("x", "y")}
    by_rate = shown(replace(kerbs, channels=no_path))
    assert by_rate.lateral[20:40] == pytest.approx(plain.lateral[20:40], rel=0.10)


def test_gravity_in_the_acceleration_channels_does_not_matter() -> None:
    lap = best()
    assert shown(changed(lap, ay=np.full(len(lap.time), 3.0))).lateral == pytest.approx(shown(lap).lateral)


def test_one_lucky_lap_in_a_draught_is_not_the_limit() -> None:
    """One lap of five pulls a tenth more on one straight, as in another car's wake."""
    lap = best()
    speed = lap.get("speed")
    assert speed is not None
    straight = (lap.distance > 700.0) & (lap.distance < 900.0)
    helped = changed(lap, speed=speed + np.where(straight, 0.02 * (lap.distance - 700.0), 0.0))
    five, plain = shown(lap, lap, lap, lap, helped), shown(lap)
    assert five.pull[20:60] == pytest.approx(plain.pull[20:60], rel=0.03, abs=0.1)


def test_a_lap_that_cannot_tell_how_it_turned_shows_nothing() -> None:
    blind = grid_lap(1000.0, 20.0, speed=[50.0] * 1001)
    assert forces(blind) is None
    grip = GripShown()
    assert grip.envelope() is None
    grip.add(blind)
    assert grip.envelope() is None
    assert grip_lap(blind, even(10.0, 10.0, 5.0)) is None


def test_a_lap_without_bends_or_without_power_shows_no_limits() -> None:
    straight = grid_lap(1000.0, 20.0, speed=[50.0] * 1001, yaw_rate=[0.0] * 1001)
    assert corner_peaks(forces(straight)).shape == (2, 0)  # type: ignore[arg-type]
    grip = GripShown()
    grip.add(straight)
    assert grip.envelope() is None
    grip.add(grid_lap(1000.0, 20.0, speed=[50.0] * 1001, yaw_rate=[0.2] * 1001))  # a circle at one speed
    assert grip.envelope() is None


def test_coasting_is_seen_or_taken_for_the_usual() -> None:
    assert shown(best()).coasting == COASTS  # the test driver is always on a pedal
    # Four times 3 s of rolling free at 0.8 m/s^2, with 2.4 / 7 m/s^2 of power in 7 s between them and a bend in that.
    time = np.linspace(0.0, 40.0, 1601)
    free = time % 10.0 > 7.0
    speed = 40.0 + np.concatenate([[0.0], np.cumsum(np.where(free, -0.8, 2.4 / 7.0)[1:] * np.diff(time))])
    rate = np.where((time % 10.0 > 2.0) & (time % 10.0 < 5.0), 0.25, 0.0)
    channels = {"speed": speed, "yaw_rate": rate, "throttle": 1.0 - free, "brake": 0.0 * time}
    rolling = GridLap(1, float(np.trapezoid(speed, time)), time, 0.0 * time, channels)
    assert shown(rolling).coasting == pytest.approx(0.8, abs=0.05)


@pytest.mark.parametrize(
    ("along", "across", "wanted"), [(0.6, 0.8, 2.0), (0.5, 0.5, 1.0), (0.3, 0.4, 1.0), (0.9, 0.9, 2.0)]
)
def test_exponent(along: float, across: float, wanted: float) -> None:
    # 0.6^2 + 0.8^2 = 1: the friction circle's own example (checks of RCVD ch. 9, from memory).
    assert float(exponent(np.array([along]), np.array([across]))[0]) == pytest.approx(wanted, abs=1e-5)


@given(st.floats(1.0, 2.0), st.floats(0.1, 0.9))
def test_exponent_is_the_inverse_of_mixing(e: float, across: float) -> None:
    along = (1.0 - across**e) ** (1.0 / e)
    assert float(exponent(np.array([along]), np.array([across]))[0]) == pytest.approx(e, abs=2e-3)


def test_upper_finds_downforce() -> None:
    # a = 9 + 0.003 v^2 with one pass in five over it and the rest under: the quantile's line is the law itself.
    chance = np.random.default_rng(1)
    v = chance.uniform(12.0, 70.0, 120)
    a = 9.0 + 0.003 * v * v + np.where(np.arange(120) % 5 == 0, 0.4, -chance.uniform(0.0, 1.5, 120))
    base, rise, least, most = upper(np.array([v, a]))
    assert base == pytest.approx(9.0, abs=0.5)
    assert rise == pytest.approx(0.003, rel=0.06)
    assert (least, most) == (v.min(), v.max())


def test_upper_does_not_take_a_lazy_corner_for_downforce() -> None:
    # One bend of 40 m radius driven at 20 to 22 m/s: a = v^2 / 40 is what laziness looks like.
    v = np.linspace(20.0, 22.0, 9)
    base, rise, _, _ = upper(np.array([v, v * v / 40.0]))
    assert rise == 0.0
    assert base == pytest.approx(np.quantile(v * v / 40.0, 0.8), abs=0.3)


def test_even_is_the_same_everywhere() -> None:
    made = even(11.0, 10.0, 5.0)
    assert {column.shape for column in (made.lateral, made.braking, made.traction, made.pull)} == {(FASTEST + 1,)}
    assert (made.lateral == 11.0).all() and (made.traction == 10.0).all() and made.exponent == 2.0


def test_the_sign_of_a_bend_does_not_matter() -> None:
    # ISO 8855: a left turn has positive yaw rate; a mirrored lap has shown the same.
    lap = best()
    x = lap.get("x")
    assert x is not None
    mirrored = changed(lap, x=-x)
    assert shown(mirrored).lateral == pytest.approx(shown(lap).lateral, rel=1e-6)


def test_grip_lap_keeps_line_and_length_and_drives_by_pedals() -> None:
    lap = best()
    found = grip_lap(lap, shown(lap))
    assert found is not None
    assert (found.length, found.track, found.car, len(found.time)) == (lap.length, lap.track, lap.car, len(lap.time))
    assert all((found.channels[name] == lap.channels[name]).all() for name in ("x", "y", "edge_left", "edge_right"))
    assert not {"gear", "engine_speed", "steer"} & {*found.channels}
    assert found.time[0] == 0.0 and (np.diff(found.time) > 0.0).all()
    assert (found.channels["speed"] >= lap.channels["speed"] - 1e-3).all()
    assert 0.95 * lap.total < found.total <= lap.total
    throttle, brake = found.channels["throttle"], found.channels["brake"]
    assert throttle.min() >= 0.0 and throttle.max() == 1.0 and brake.min() >= 0.0 and brake.max() <= 1.0
    assert not ((throttle > 0.3) & (brake > 0.3)).any()
    assert GridLap.from_json(found.to_json()).total == found.total


def test_grip_lap_goes_without_positions() -> None:
    lap = best("x", "y")
    found = grip_lap(lap, shown(lap))
    assert found is not None and found.get("x") is None
    by_place = grip_lap(best(), shown(best()))
    assert by_place is not None
    assert found.total == pytest.approx(by_place.total, rel=0.012)


def test_a_slower_passage_is_put_right_by_the_others() -> None:
    """One corner of the lap taken a tenth slower: the grip lap is what it was."""
    lap = best()
    speed = lap.get("speed")
    assert speed is not None
    place = float(lap.distance[int(np.argmin(speed))])
    lazy_speed = speed * (1.0 - 0.1 * np.exp(-(((lap.distance - place) / 60.0) ** 2)))
    steps = lap.step / np.maximum(0.5 * (lazy_speed[1:] + lazy_speed[:-1]), 1.0)
    ratio = np.diff(lap.time) / (lap.step / np.maximum(0.5 * (speed[1:] + speed[:-1]), 1.0))
    lazy = replace(changed(lap, speed=lazy_speed), time=np.concatenate([[0.0], np.cumsum(steps * ratio)]))
    found, plain = grip_lap(lazy, shown(lazy)), grip_lap(lap, shown(lap))
    assert found is not None and plain is not None
    assert lazy.total - lap.total > 0.3
    assert found.total == pytest.approx(plain.total, rel=0.006)
    assert math.isfinite(found.total)
