"""The pull that a car shows: read from made accelerations of known size, whatever slope, rate and rounding."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from coach.engine.pull import DRAUGHT, Curve, Pull
from coach.vocabulary.sample import Sample

ACROSS = 0.0


def gained(
    pull: float | Callable[[float], float] = 4.0,
    begins: float = 20.0,
    ends: float = 40.0,
    rate: float = 60.0,
    start: float = 0.0,
    rise: float = 0.0,
    digits: int = 6,
    **more: Any,
) -> Iterator[Sample]:
    """From `begins` to `ends` m/s in third at full throttle on a road that rises `rise` m a metre; then one lift."""
    t, speed, place, height, due = start, begins, 0.0, 100.0, start
    step = 0.001
    keys: dict[str, Any] = {"gear": 3, "throttle": 1.0, "brake": 0.0, "ay": ACROSS}
    while speed < ends:
        if t >= due:
            due += 1.0 / rate
            yield Sample(t, speed=round(speed, digits), **{**keys, "z": height, "lap_distance": place, **more})
        at = (pull(speed) if callable(pull) else pull) - 9.81 * rise
        t, place, height, speed = t + step, place + speed * step, height + rise * speed * step, speed + at * step
    yield Sample(t, speed=speed, **{**keys, "z": height, "lap_distance": place, **more, "throttle": 0.0})


def shown(*drives: Iterator[Sample]) -> Pull:
    pull = Pull()
    for drive in drives:
        for sample in drive:
            pull.watch(sample)
    return pull


@pytest.mark.parametrize("rate", [10.0, 20.0, 49.0, 60.0, 360.0])
def test_a_steady_pull_is_read_at_any_rate(rate: float) -> None:
    curve = shown(gained(rate=rate), gained(rate=rate, start=60.0)).curve(3, None)
    assert len(curve.speed) >= 8
    assert curve.pull == pytest.approx([4.0] * len(curve.pull), abs=0.02)
    assert set(curve.spells) == {2}


def test_a_falling_pull_is_read_by_speed_and_goes_on_a_little_beyond_its_ends() -> None:
    curve = shown(gained(lambda v: 9.0 - 0.15 * v), gained(lambda v: 9.0 - 0.15 * v, start=60.0)).curve(3, None)
    for speed in (20.5, 25.0, 31.0, 38.0, 40.0):
        read = curve.at(speed)
        assert read is not None
        assert read[0] == pytest.approx(9.0 - 0.15 * speed, abs=0.05)


def test_speeds_that_were_not_driven_are_not_known() -> None:
    curve = shown(gained()).curve(3, None)
    assert curve.at(15.0) is None
    assert curve.at(43.0) is None
    assert shown(gained()).curve(4, None) == Curve((), (), (), ())
    assert Curve((), (), (), ()).at(30.0) is None


def test_a_hole_between_two_speeds_is_not_bridged() -> None:
    curve = shown(gained(begins=10.0, ends=20.0), gained(begins=32.0, ends=40.0, start=60.0)).curve(3, None)
    assert curve.at(18.0) is not None
    assert curve.at(27.0) is None


@pytest.mark.parametrize("rise", [-0.08, 0.03, 0.08])
def test_the_slope_is_put_back_where_height_is_sent(rise: float) -> None:
    # Newton: along a road that rises 8 % a car of 4 m/s^2 gains 4 - 9.81 x 0.08 = 3.215 m/s each second.
    curve = shown(gained(rise=rise)).curve(3, None)
    assert curve.pull == pytest.approx([4.0] * len(curve.pull), abs=0.03)


def test_without_height_only_the_same_piece_of_road_compares() -> None:
    pull = shown(gained(rise=0.05, z=None))
    assert len(pull.curve(3, 60.0).speed) > 3
    assert pull.curve(3, 900.0).speed == ()
    assert pull.curve(3, None).speed == ()


def test_with_neither_height_nor_place_nothing_is_read() -> None:
    assert shown(gained(z=None, lap_distance=None)).curve(3, 60.0).speed == ()


@pytest.mark.parametrize(
    "more",
    [
        {"throttle": 0.9},
        {"brake": 0.2},
        {"clutch": 0.5},
        {"in_pit": True},
        {"gear": 0},
        {"gear": None},
        {"ay": 4.0},
        {"ay": None, "yaw_rate": 0.2},
        {"gap_ahead": 0.5 * DRAUGHT},
        {"wheel_speed": (30.0, 30.0, 45.0, 45.0)},
    ],
)
def test_what_is_not_the_engines_own_pull_is_left_out(more: dict[str, Any]) -> None:
    pull = shown(gained(**more))
    assert pull.curve(3, None).speed == ()


@pytest.mark.parametrize("more", [{"gap_ahead": 5.0}, {"clutch": 0.0}, {"ay": None, "yaw_rate": 0.01}])
def test_what_does_not_disturb_is_read(more: dict[str, Any]) -> None:
    assert len(shown(gained(**more)).curve(3, None).speed) > 5


def test_a_gear_is_not_read_before_it_has_settled() -> None:
    curve = shown(gained(begins=30.0, ends=36.0)).curve(3, None)
    assert min(curve.speed) > 30.0 + 0.4 * 4.0


def test_noise_and_rounding_average_out() -> None:
    chance = random.Random(4)

    def shaken(start: float) -> Iterator[Sample]:
        for sample in gained(start=start, digits=1):
            assert sample.speed is not None
            sample.speed += chance.gauss(0.0, 0.03)
            yield sample

    curve = shown(*(shaken(60.0 * i) for i in range(4))).curve(3, None)
    mean = sum(curve.pull) / len(curve.pull)
    assert mean == pytest.approx(4.0, abs=0.06)
    assert all(abs(p - 4.0) < 4.0 * e + 0.1 for p, e in zip(curve.pull, curve.error, strict=True))


def test_a_speed_that_is_held_for_long_is_one_spell() -> None:
    # a limiter in a pit lane that the source does not tell of: 20 s at 22 m/s
    held = [
        Sample(100.0 + i / 60.0, speed=22.0, gear=3, throttle=1.0, brake=0.0, z=100.0, ay=ACROSS) for i in range(1200)
    ]
    curve = shown(gained(), gained(start=40.0), gained(start=60.0), iter(held)).curve(3, None)
    read = curve.at(23.0)
    assert read is not None
    assert read[0] == pytest.approx(4.0, abs=0.1)


def test_how_far_a_gear_was_driven_takes_two() -> None:
    assert shown(gained(ends=40.0)).top(3) is None
    pull = shown(gained(ends=40.0), gained(ends=36.0, start=60.0), gained(ends=38.0, start=120.0))
    assert pull.top(3) == pytest.approx(38.0, abs=0.1)
    assert pull.top(4) is None
    assert pull.turns(3) is None


def test_how_fast_the_engine_was_turned_takes_two() -> None:
    pull = shown(gained(engine_speed=7000.0), gained(engine_speed=7400.0, start=60.0))
    assert pull.turns(3) == pytest.approx(7000.0)


def test_the_hardest_cornering_is_not_one_shock() -> None:
    bend = [Sample(i / 60.0, speed=20.0, gear=3, throttle=0.3, ay=9.0) for i in range(120)]
    shock = [Sample(2.0 + i / 60.0, speed=20.0, gear=3, throttle=0.3, ay=28.0) for i in range(6)]
    pull = shown(iter(bend), iter(shock))
    assert pull.hardest == pytest.approx(9.0)
    assert shown(iter(shock)).hardest is None


def test_a_car_that_was_moved_pulls_nothing() -> None:
    first = list(gained(ends=25.0))[:-1]
    moved = [Sample(first[-1].t + 0.02 + i / 60.0, speed=60.0, gear=3, throttle=1.0, z=300.0) for i in range(6)]
    curve = shown(iter(first), iter(moved)).curve(3, None)
    assert all(abs(p) < 6.0 for p in curve.pull)
