"""Whatever comes in, references made of it are laps: finite, in order of time, and no slower than what was driven."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.engine.engine import Engine
from coach.engine.grip import Envelope, GripShown, forces
from coach.engine.griplap import grip_lap, speed_profile
from coach.engine.lap import GridLap
from coach.vocabulary.events import Event, Reference, record
from tests.engine.drives import begin, told
from tests.properties.budget import examples

WILD = st.sampled_from([0.0, -1.0, 1e-9, 1.0, 400.0, 1e9, -1e9, 1e200])
CHANNEL = st.sampled_from(["speed", "yaw_rate", "ay", "throttle", "brake", "x", "y", "edge_left", "steer"])


def finite(thing: Any) -> bool:
    if isinstance(thing, float):
        return math.isfinite(thing)
    if isinstance(thing, dict):
        return all(finite(value) for value in thing.values())
    return all(finite(item) for item in thing) if isinstance(thing, (list, tuple)) else True


@pytest.mark.parametrize("choice", ["grip", "patchwork"])
@settings(max_examples=examples(4), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.integers(1, 40), CHANNEL, WILD), max_size=4))
def test_wild_channels_break_no_reference(choice: str, wild: list[tuple[float, int, str, float]]) -> None:
    stream = list(told(3, 10.0))
    for where, count, channel, value in wild:
        begins = int(where * (len(stream) - 1))
        stream[begins : begins + count] = [replace(s, **{channel: value}) for s in stream[begins : begins + count]]
    engine = Engine(begin(choice=choice))
    with np.errstate(over="ignore", invalid="ignore"):  # a position of 1e200 m overflows in the map, too
        events: list[Event] = [event for sample in stream for event in engine.push(sample)] + engine.finish()
    for event in events:
        if isinstance(event, Reference):
            assert finite(record(event)) and event.time > 0.0
            assert all(b > a for a, b in zip(event.trace.time, event.trace.time[1:], strict=False))
            assert all(map(math.isfinite, event.trace.speed))


limit = st.floats(2.0, 30.0)


@settings(max_examples=examples(25), deadline=None)
@given(st.lists(st.floats(-0.2, 0.2), min_size=3, max_size=60), limit, limit, limit, st.floats(1.0, 2.0))
def test_a_profile_never_passes_its_limits(
    bends: list[float], lateral: float, braking: float, pull: float, exponent: float
) -> None:
    flat = np.ones(131)
    envelope = Envelope(lateral * flat, braking * flat, braking * flat, pull * flat, pull * flat, exponent)
    turn, ways = np.repeat(bends, 5), np.full(5 * len(bends), 3.0)
    speed = speed_profile(turn, ways, envelope)
    along = (np.roll(speed, -1) ** 2 - speed**2) / (2.0 * ways)
    assert np.isfinite(speed).all() and (speed > 0.0).all()
    assert (np.abs(turn) * speed**2 <= lateral * (1.0 + 1e-6) + 1e-6).all()
    assert (along <= pull + 1e-6).all() and (along >= -braking - 1e-6).all()


@settings(max_examples=examples(15), deadline=None)
@given(st.integers(0, 10_000), st.floats(0.6, 1.0))
def test_a_grip_lap_is_no_slower_than_its_lap(seed: int, care: float) -> None:
    """A lap of random bends, driven with changing care."""
    chance = np.random.default_rng(seed)
    count = 800
    turn = np.interp(np.arange(count + 1), np.arange(0, count + 1, 40), chance.choice([0.0, 0.01, 0.03, -0.02], 21))
    turn[-1] = turn[0]
    flat = np.ones(131)
    plan = Envelope(10.0 * flat, 9.0 * flat, 9.0 * flat, 4.0 * flat, 4.0 * flat)
    speed = speed_profile(turn[:-1], np.full(count, 1.0), plan)
    speed = np.append(speed, speed[0]) * np.interp(np.arange(count + 1), [0, 200, 500, count], [1.0, care, 1.0, 1.0])
    time = np.concatenate([[0.0], np.cumsum(2.0 / (speed[1:] + speed[:-1]))])
    lap = GridLap(1, float(count), time, np.abs(turn) * speed**2, {"speed": speed, "yaw_rate": turn * speed})
    assert forces(lap) is not None
    shown = GripShown()
    shown.add(lap)
    envelope = shown.envelope()
    if envelope is None:
        return
    made = grip_lap(lap, envelope)
    assert made is not None
    assert made.total <= lap.total + 1e-3
    assert (made.channels["speed"] >= np.minimum(lap.channels["speed"], 130.0) - 1e-3).all()
