"""What is odd about a stream's values: the built-in car's lap is not, and each way to spoil it is named.

The conversions are those of NIST SP 811 and ISO 80000-3; the signs are ISO 8855's.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import islice
from pathlib import Path

import pytest
from app.made_driver import lap

from coach.app.checking.dashboard import readings
from coach.app.checking.oddities import clock, oddities
from coach.vocabulary.sample import Sample
from feeds.base import Datagram
from feeds.car.send import encode
from feeds.generic import GenericFeed
from feeds.recording import open_recording

RUNS = Path("/work/shared/runs")


@cache
def good() -> tuple[Sample, ...]:
    feed = GenericFeed()
    return tuple(feed.decode(encode(row)) for row in lap()[::5])


def changed(**how: Callable[[Sample], object]) -> list[str]:
    """What is odd where these channels are made of the good sample otherwise."""
    return oddities([replace(one, **{name: change(one) for name, change in how.items()}) for one in good()])


def test_a_lap_that_is_right_is_not_odd_and_no_part_of_it() -> None:
    samples = good()
    assert oddities(samples) == []
    for begin in range(0, len(samples), 60):  # five seconds
        assert oddities(samples[begin : begin + 60]) == []


@pytest.mark.skipif(not RUNS.is_dir(), reason="the recorded practice is not here")
def test_recorded_practice_is_not_odd() -> None:
    feed = GenericFeed()
    for path in sorted(RUNS.glob("*.jsonl.gz"))[:2]:
        items = (item for item in open_recording(path) if isinstance(item, Datagram))
        samples = [feed.decode(item.data) for item in islice(items, 4000)]
        assert len(samples) == 4000 and oddities(samples) == []


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ({"speed": lambda s: s.speed * 3.6}, "speed seems to be in km/h"),
        ({"speed": lambda s: s.speed * 3600.0 / 1609.344}, "speed seems to be in mph"),
        ({"speed": lambda s: s.speed * 10.0}, "speed reaches"),
        ({"y": lambda s: -s.y}, "yaw rate and the path of x and y turn to opposite sides"),
        ({"x": lambda s: s.y, "y": lambda s: s.x}, "yaw rate and the path of x and y turn to opposite sides"),
        (
            {"steer": lambda s: -s.steer, "yaw_rate": lambda s: None, "ay": lambda s: None},
            "steering and the path of x and y turn to opposite sides",
        ),
        ({"y": lambda s: s.z, "z": lambda s: s.y}, "is the height one of x and y?"),
        ({"x": lambda s: 5.0, "y": lambda s: 7.0}, "x and y stand still"),
        ({"lap_distance": lambda s: s.lap_distance / s.track_length}, "what lap distance says"),
        ({"lap_distance": lambda s: 100.0}, "lap distance does not grow"),
        ({"wheel_speed": lambda s: tuple(v / 0.33 for v in s.wheel_speed)}, "the wheels' speed is 3.0"),
        ({"engine_speed": lambda s: s.engine_speed / 60.0}, "is it rad/s or rev/s?"),
        ({"engine_speed": lambda s: s.engine_speed * 6.0}, "no engine turns so fast"),
        ({"engine_speed_max": lambda s: 3000.0}, "far over the limit"),
        ({"throttle": lambda s: 1.0}, "the throttle is pressed all the time"),
        ({"brake": lambda s: 1.0}, "does it rest at 1"),
        ({"gear": lambda s: 0}, "neutral or reverse while the car drives"),
        ({"steer": lambda s: math.degrees(s.steer)}, "is it in degrees?"),
        ({"steer": lambda s: -s.steer}, "steering and yaw rate have opposite signs"),
        ({"ay": lambda s: -s.ay}, "lateral acceleration and yaw rate have opposite signs"),
        ({"ay": lambda s: s.ay / 9.80665}, "lateral acceleration seems to be in g"),
        ({"yaw": lambda s: -s.yaw}, "yaw falls where yaw rate is positive"),
        ({"yaw_rate": lambda s: math.degrees(s.yaw_rate)}, "yaw rate seems to be in degrees"),
        ({"yaw": lambda s: math.degrees(s.yaw)}, "yaw seems to be in degrees"),
        ({"ax": lambda s: -s.ax}, "its sign is turned round"),
        ({"ax": lambda s: s.ax / 9.80665}, "forward acceleration seems to be in g"),
        ({"ay": lambda s: 300.0 + s.ay}, "is it in another unit?"),
        ({"tyre_temp": lambda s: tuple(tuple(v + 273.15 for v in t) for t in s.tyre_temp)}, "degrees Celsius"),
        ({"tyre_pressure": lambda s: tuple(v * 0.1450377 for v in s.tyre_pressure)}, "is it bar or psi?"),
        ({"fuel": lambda s: 25.0 - s.fuel}, "fuel grows"),
    ],
)
def test_what_is_spoilt_is_named(how: dict[str, Callable[[Sample], object]], says: str) -> None:
    found = changed(**how)
    assert any(says in sentence for sentence in found), found


def test_without_yaw_rate_the_steering_is_held_against_the_lateral_acceleration() -> None:
    found = changed(yaw_rate=lambda s: None, steer=lambda s: -s.steer)
    assert found == [
        "steering and lateral acceleration have opposite signs: in a turn to the left both must be positive"
    ]


def test_poor_and_short_streams_are_not_odd() -> None:
    assert oddities([]) == [] == oddities([Sample(1.0)])
    assert oddities([Sample(n / 60.0, speed=50.0) for n in range(500)]) == []
    assert oddities([Sample(n / 60.0, lap_distance=50.0 * n, x=1.0) for n in range(500)]) == []


def test_a_car_that_is_refuelled_is_not_odd_and_neither_is_one_that_crosses_the_line() -> None:
    pit = [Sample(n / 60.0, speed=0.0, fuel=10.0 + n / 60.0) for n in range(500)]
    assert oddities(pit) == []
    line = [Sample(n / 60.0, speed=50.0) for n in range(500)]
    line += [Sample((500 + n) / 60.0, speed=50.0, lap_distance=5000.0 * (1 - n)) for n in range(2)]
    assert oddities(line) == [], "of the distance only the step over the line was seen"


def test_a_clock_that_stands_or_runs_in_another_unit() -> None:
    times = [n / 60.0 for n in range(300)]
    assert clock(times, [1000.0 + t for t in times]) is None
    assert clock(times, [5.0] * 300) == "the clock t stands still: the source is paused, or t is another field"
    assert "seems to be in ms" in (clock(times, [1000.0 * t for t in times]) or "")
    assert "runs 60 times" in (clock(times, [60.0 * t for t in times]) or "")
    assert clock(times[:5], [0.0] * 5) is None
    assert clock([0.0] * 300, times) is None, "a file that holds no receive times"


def test_readings_are_what_a_dashboard_shows() -> None:
    standing = Sample(
        1.0, speed=0.1, gear=0, engine_speed=952.4, throttle=0.0, brake=1.0, steer=math.radians(-12.2), x=3.0, y=-4.5
    )
    assert readings([standing]) == [
        "speed          0 km/h, standing",
        "engine speed   952 rev/min",
        "gear           neutral",
        "throttle       0 %",
        "brake          100 %",
        "steering       12 degrees to the right",
        "position       x 3.0 m, y -4.5 m, at rest",
    ]
    moving = replace(standing, speed=50.0, gear=3, x=103.0)
    assert readings([standing, moving])[0] == "speed          180 km/h (0 to 180 km/h)"
    assert "gear           3 (seen: neutral, 3)" in readings([standing, moving])
    assert readings([]) == []
