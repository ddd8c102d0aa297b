"""The built-in car through sources that lack a channel, send it seldom, coarsely or late, or lose datagrams.

Seven mistakes of seven kinds are planted in two laps. Each is still found, or its detector is off and said so once, and
nothing else is told (contract, sections 1 and 5).
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest

from coach.vocabulary.events import Detector, Event
from coach.vocabulary.sample import Sample
from tests.engine.cardrives import all_but, changed, clean, fast, places, planted, reference, told, without
from tests.engine.drives import begin, laps, only, run


def off(events: list[Event]) -> dict[str, str | None]:
    """The detectors that were said to be off; none twice."""
    said = only(events, Detector)
    assert len({d.name for d in said}) == len(said), said
    assert not any(d.on for d in said)
    return {d.name: d.lacks for d in said}


@cache
def whole() -> list[Event]:
    """What comes of it where all is sent."""
    return run(planted(), reference())


@cache
def exact() -> dict[int, float | None]:
    """s: the lap times where all is sent."""
    return {n: lap.time for n, lap in laps(whole()).items()}


def test_all_mistakes_are_found_where_all_is_sent() -> None:
    """At 60 Hz."""
    assert told(whole()) == places()
    assert off(whole()) == {}


# a channel that is not sent


@pytest.mark.parametrize("reference_too", [False, True])
@pytest.mark.parametrize(
    ("lacking", "silent"),
    [
        (("lap_distance", "track_length"), {}),
        (("x", "y", "z"), {}),
        (("edge_left", "edge_right"), {}),
        (("wheel_speed",), {"lock_up": "wheel_speed", "wheelspin": "wheel_speed"}),
        (("ax", "ay", "az"), {}),
        (("engine_speed_max",), {}),
        (("yaw_rate",), {"rear_step_out": "yaw_rate", "spin": "yaw_rate"}),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else "",
)
def test_a_channel_that_is_never_sent(lacking: tuple[str, ...], silent: dict[str, str], reference_too: bool) -> None:
    """Whether or not the reference has it: its driver may have had the same source, or another."""
    events = run(without(planted(), *lacking), reference(*lacking) if reference_too else reference())
    assert off(events) == silent
    assert told(events) == all_but(*silent)
    assert {n: lap.time for n, lap in laps(events).items()} == pytest.approx(exact(), abs=0.004)


# how often, how finely, in which order


def test_at_20_hz() -> None:
    assert told(run(planted()[::3], reference())) == places()


@pytest.mark.parametrize("rate", [100, 360])
def test_at_100_and_360_hz(rate: int) -> None:
    """The nearest sample of those at 360 Hz: a source that is not in step with its own physics."""
    stream = [fast()[round(i * 360 / rate)] for i in range(len(fast()) * rate // 360)]
    assert told(run(stream, reference())) == [place for place in places() if place[1] == 1]


@pytest.mark.parametrize("steps", [100, 255])
def test_pedals_in_whole_steps(steps: int) -> None:
    coarse = changed(planted(), throttle=lambda v: round(v * steps) / steps, brake=lambda v: round(v * steps) / steps)
    assert told(run(coarse, reference())) == places()


def test_speed_in_whole_kilometres_an_hour() -> None:
    coarse = changed(planted(), speed=lambda v: round(v * 3.6) / 3.6, vx=lambda v: None, vy=lambda v: None)
    assert told(run(coarse, reference())) == places()


@pytest.mark.parametrize("own_times", [True, False])
def test_a_lap_number_that_changes_one_datagram_late(own_times: bool) -> None:
    stream = planted() if own_times else without(planted(), "lap_time", "last_lap_time")
    late = [replace(s, lap=before.lap) for before, s in zip([stream[0], *stream], stream, strict=False)]
    events = run(late, reference())
    assert told(events) == places()
    assert all(lap.clean and lap.time is not None for lap in laps(events).values())


@pytest.mark.parametrize("lacking", [(), ("lap_distance",)])
def test_one_datagram_in_twenty_lost_and_one_in_twenty_late(lacking: tuple[str, ...]) -> None:
    chance = random.Random(3)
    kept = [s for s in without(planted(), *lacking) if chance.random() >= 0.05]
    for i in range(0, len(kept) - 1, 2):
        if chance.random() < 0.1:
            kept[i], kept[i + 1] = kept[i + 1], kept[i]
    events = run(kept, reference())
    assert told(events) == places()
    assert {n: lap.time for n, lap in laps(events).items()} == pytest.approx(exact(), abs=0.004)


SECOND_PACKET = ("x", "y", "edge_left", "edge_right", "ay", "yaw_rate", "yaw", "vx", "vy")
FIRST_PACKET = ("throttle", "brake", "gear", "engine_speed", "wheel_speed", "steer")


@pytest.mark.parametrize("other", [(), SECOND_PACKET])
def test_a_source_of_two_packets(other: tuple[str, ...]) -> None:
    """Pedals and gear in every second sample, and the rest in each, or in the others."""
    lacks = (other, FIRST_PACKET)
    assert told(run([_without(s, *lacks[i % 2]) for i, s in enumerate(planted())], reference())) == places()


def test_nothing_but_the_clock_in_every_second_sample() -> None:
    empty = [Sample(s.t) if i % 2 else s for i, s in enumerate(planted())]
    assert told(run(empty, reference())) == places()


# a channel that stops on the way


STOPPED = (60.0, 110.0)
"""s from the start: from lap 1, turn 8 to lap 2, turn 4, a planted downshift at turn 1 and a lift at turn 3 in it"""


@pytest.mark.parametrize(
    ("gone", "unseen"),
    [
        (("throttle",), ("throttle_lift",)),
        (("brake",), ()),
        (("gear",), ("early_downshift",)),
        (("edge_left", "edge_right"), ()),
        (("x", "y"), ()),
        (("wheel_speed",), ()),
        (("yaw_rate", "ay"), ()),
        (("speed",), ()),
    ],
    ids=lambda value: value[0] if value else "",
)
def test_a_channel_that_stops_and_comes_back(gone: tuple[str, ...], unseen: tuple[str, ...]) -> None:
    """Without throttle nobody is late with it, and without edges no road is left unused."""
    begins, ends = (planted()[0].t + s for s in STOPPED)
    poor = [_without(s, *gone) if begins < s.t < ends else s for s in planted()]
    assert told(run(poor, reference())) == all_but(*unseen)


@pytest.mark.parametrize("channel", ["throttle", "brake", "gear", "edge_left", "yaw_rate"])
def test_a_channel_that_drops_out_for_a_moment_all_the_way_invents_nothing(channel: str) -> None:
    """1 s in every 5 s, so that it stops in the middle of most corners."""
    poor = [_without(s, channel) if s.t % 5.0 < 1.0 else s for s in planted()]
    assert set(told(run(poor, reference()))) <= set(places())


def test_without_a_reference_only_what_is_physical_is_told() -> None:
    """The first lap on a new circuit: the shift over the limit and the wheel that locks are in lap 2."""
    found = told(run(planted(), begin()))
    assert {place for place in found if place[1] < 2} == set()
    assert {fault for fault, _, _ in found} >= {"early_downshift", "lock_up"}


def test_a_clean_drive_is_told_nothing() -> None:
    assert told(run(clean(), reference())) == []


def _without(sample: Sample, *channels: str) -> Sample:
    return replace(sample, **dict.fromkeys(channels)) if channels else sample  # type: ignore[arg-type]
