"""Sources that send a channel badly: seldom, noisily, scaled wrongly, or not at all."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from dataclasses import replace

import pytest

from coach.engine.engine import Engine
from coach.engine.pedalcheck import LISTEN
from coach.engine.speed import Speedometer
from coach.vocabulary.events import Detector, Event, Fault, Lap
from coach.vocabulary.sample import Sample
from tests.engine.drives import begin, laps, learned, loop, only, run, samples
from tests.make_stream import Mistake, make_drive

PLANTED = (Mistake("late_throttle", 2, 1, 0.6), Mistake("early_downshift", 2, 4, 800.0))


@pytest.fixture(scope="module")
def planted() -> list[Sample]:
    return samples(make_drive(loop(), 2, 50.0, PLANTED).rows)


def found(events: Iterable[Event]) -> list[tuple[str, int]]:
    return sorted((fault.fault, fault.lap) for fault in only(events, Fault))


BOTH = [("early_downshift", 2), ("late_throttle", 2)]


def test_the_planted_faults_are_found_where_all_is_sent(planted: list[Sample]) -> None:
    assert found(run(planted, learned())) == BOTH


@pytest.mark.parametrize("every", [2, 10, 100])
@pytest.mark.parametrize("channel", ["throttle", "brake", "gear", "speed"])
def test_a_channel_that_is_sent_seldom_invents_nothing(planted: list[Sample], channel: str, every: int) -> None:
    """Several packets of one source: a channel is null in every second, tenth or hundredth sample."""
    poor = [replace(s, **{channel: None}) if i % every == 0 else s for i, s in enumerate(planted)]  # type: ignore[arg-type]
    assert found(run(poor, learned())) == BOTH


def noisy(stream: Iterable[Sample], spread: float) -> list[Sample]:
    chance = random.Random(11)

    def shaken(value: float | None) -> float:
        return min(1.0, max(0.0, (value or 0.0) + chance.gauss(0.0, spread)))

    return [replace(s, throttle=shaken(s.throttle), brake=shaken(s.brake)) for s in stream]


@pytest.mark.parametrize("spread", [0.01, 0.02, 0.025])
def test_noisy_pedals_neither_hide_nor_invent(planted: list[Sample], spread: float) -> None:
    """At 0.025 one brake reading in 40 is over 5 % by noise alone."""
    assert found(run(noisy(planted, spread), learned())) == BOTH


def test_a_brake_dabbed_for_one_sample_is_no_braking(planted: list[Sample]) -> None:
    flicker = [replace(s, brake=0.08) if i % 25 == 0 and not s.brake else s for i, s in enumerate(planted)]
    assert found(run(flicker, learned())) == BOTH


# speed


@pytest.mark.parametrize("gone", [("speed",), ("speed", "vx", "vy"), ("speed", "vx", "vy", "x", "y")])
def test_speed_is_read_from_what_there_is(planted: list[Sample], gone: tuple[str, ...]) -> None:
    poor = [replace(s, **dict.fromkeys(gone)) for s in planted]  # type: ignore[arg-type]
    events = run(poor, learned())
    assert found(events) == BOTH
    assert "standing_start" in laps(events)[1].why_not, "a car without a speed channel still starts from standing"
    assert all(
        lap.time == pytest.approx(laps(run(planted, learned()))[n].time, abs=0.004) for n, lap in laps(events).items()
    )


def test_the_speedometer_takes_the_best_there_is() -> None:
    meter = Speedometer()
    assert meter.fill(Sample(0.0, speed=3.0)).speed == 3.0
    assert meter.fill(Sample(0.1, vx=3.0, vy=4.0)).speed == 5.0
    assert meter.fill(Sample(0.2, x=0.0, y=0.0)).speed is None
    assert meter.fill(Sample(0.3, x=3.0, y=4.0)).speed == pytest.approx(50.0)
    assert meter.fill(Sample(0.301, x=3.0, y=4.2)).speed == pytest.approx(50.0), "too near to read anew"
    assert meter.fill(Sample(2.0, x=30.0, y=4.0)).speed is None, "too long ago"
    by_distance = Speedometer()
    by_distance.fill(Sample(0.0, lap_distance=2390.0))
    assert by_distance.fill(Sample(0.1, lap_distance=2395.0)).speed == pytest.approx(50.0)
    assert by_distance.fill(Sample(0.2, lap_distance=0.5)).speed == pytest.approx(50.0), "over the line the last stands"


# pedals that never reach their ends


def scaled(stream: Iterable[Sample], **change: Callable[[float], float]) -> list[Sample]:
    return [replace(s, **{name: of(getattr(s, name)) for name, of in change.items()}) for s in stream]


def test_a_throttle_that_tops_out_is_told_once_and_late_throttle_still_found() -> None:
    stream = samples(make_drive(loop(), 3, 50.0, PLANTED[:1]).rows)
    events = run(scaled(stream, throttle=lambda v: 0.93 * v), learned())
    said = only(events, Detector)
    assert [(d.name, d.on) for d in said] == [("full_throttle", False)]
    assert "0.93" in (said[0].lacks or "") and "1 for one fully pressed" in (said[0].lacks or "")
    assert said[0].t - stream[0].t >= LISTEN
    assert found(events) == [("late_throttle", 2)]


def test_a_brake_that_does_not_come_to_rest_is_told_once() -> None:
    stream = samples(make_drive(loop(), 3, 50.0).rows)
    said = only(run(scaled(stream, brake=lambda v: max(v, 0.06)), learned()), Detector)
    assert [(d.name, d.on) for d in said] == [("brake_off", False)]
    assert "0.06" in (said[0].lacks or "")


# standing still


def test_an_hour_in_the_pits_is_two_rows(planted: list[Sample]) -> None:
    engine = Engine(begin())
    for s in planted[:2]:
        engine.push(s)
    parked = replace(planted[2], speed=0.0)
    for i in range(20_000):
        engine.push(replace(parked, t=parked.t + i / 60.0))
    assert engine.session is not None
    assert len(engine.session._keeper.tape) < 10


def test_a_stop_on_the_way_leaves_the_later_corners_judged() -> None:
    """In lap 2 the car stands for 5 s at 300 m and drives on; the planted fault lies in the last corner."""
    stream = samples(make_drive(loop(), 2, 50.0, [Mistake("late_throttle", 2, 8, 0.8)]).rows)
    stop = next(i for i, s in enumerate(stream) if s.lap == 2 and (s.lap_distance or 0.0) > 300.0)
    stood = [replace(stream[stop], t=stream[stop].t + 0.02 * i, speed=0.0, throttle=0.0) for i in range(1, 250)]
    later = [replace(s, t=round(s.t + 5.0, 3)) for s in stream[stop + 1 :]]
    events = run([*stream[: stop + 1], *stood, *later], learned())
    assert not laps(events)[2].clean
    assert found(events) == [("late_throttle", 2)]


# labels


def test_a_reference_of_another_car_is_told_and_its_gears_not_used(planted: list[Sample]) -> None:
    events = run([replace(s, car="car-b") for s in planted], learned())
    advice = [e for e in events if e.type == "advice"]
    assert len(advice) == 1 and advice[0].topic == "car"  # type: ignore[attr-defined]
    assert "car-b" in advice[0].text  # type: ignore[attr-defined]
    assert found(events) == BOTH, "the limit of this car's own engine still judges its shifts"


def test_the_first_events_carry_the_sources_lap(planted: list[Sample]) -> None:
    joined = planted[next(i for i, s in enumerate(planted) if s.lap == 2) :]
    events = run(joined[:10], learned())
    assert {e.lap for e in events if e.type in ("run", "corners")} == {2}


def test_a_lap_told_at_the_very_end_keeps_the_order_of_time(planted: list[Sample]) -> None:
    end = next(i for i, s in enumerate(planted) if s.lap == 2) + 6
    events = run([replace(s, last_lap_time=0.0) for s in planted[:end]], learned())
    assert any(isinstance(e, Lap) for e in events)
    times = [e.t for e in events]
    assert times == sorted(times)
