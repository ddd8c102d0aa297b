"""What the car shows of its gears: ratios, driven axle, and the engine's limit."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from coach.engine.gearing import Gearing
from coach.vocabulary.sample import Sample
from tests.engine.driving import lap_of, samples
from tests.engine.handmade import gearing_drive
from tests.make_stream import LIMIT, RATIOS, without


def taught(stream: Iterator[Sample]) -> Gearing:
    gearing = Gearing()
    for sample in stream:
        gearing.watch(sample)
    return gearing


@pytest.mark.parametrize("missing", [(), ("wheel_speed",), ("clutch", "throttle", "engine_speed_max")])
def test_ratios_of_a_drive(missing: tuple[str, ...]) -> None:
    gearing = taught(samples(without(lap_of().rows, *missing)))
    known = [gear for gear in range(1, 7) if gearing.ratio(gear) is not None]
    assert set(known) >= {2, 3, 4, 5}
    for gear in known:
        # engine_speed is sent in whole revolutions, wheel speeds in centimetres a second: 0.1 %
        assert gearing.ratio(gear) == pytest.approx(RATIOS[gear], rel=1e-3)
    assert gearing.ratio(7) is None


def test_a_gear_is_trusted_after_five_readings() -> None:
    gearing = Gearing()
    since = 0.0
    for i in range(200):
        gearing.watch(Sample(0.02 * i, gear=3, speed=20.0, engine_speed=4300.0))
        if gearing.ratio(3) is None:
            since = 0.02 * i
    # settled after 0.4 s, then at most ten readings a second
    assert 0.78 <= since <= 1.0


def test_the_limit_is_the_sources_own() -> None:
    gearing = taught(samples(lap_of().rows))
    assert gearing.limit == LIMIT and gearing.limit_is_sent


def test_the_limit_is_learned_where_it_is_not_sent() -> None:
    gearing = taught(samples(without(lap_of().rows, "engine_speed_max")))
    assert not gearing.limit_is_sent
    # the driver shifts up at 97 % of it
    assert gearing.limit == pytest.approx(0.97 * LIMIT, rel=0.02)


def revs(rows: int, t: float, engine: float, throttle: float = 1.0) -> Iterator[Sample]:
    for i in range(rows):
        yield Sample(t + 0.1 * i, gear=4, speed=40.0, engine_speed=engine, throttle=throttle)


def test_a_limit_is_not_learned_on_the_way_out_of_the_pits() -> None:
    assert taught(revs(100, 0.0, 5200.0)).limit is None
    assert taught(revs(2000, 0.0, 7900.0, throttle=0.5)).limit is None


def test_one_wrong_reading_makes_no_limit() -> None:
    gearing = taught(revs(400, 0.0, 7600.0))
    for sample in (*revs(2, 41.0, 1e9), *revs(10, 42.0, 7600.0)):
        gearing.watch(sample)
    assert gearing.limit == 7600.0


def moving(driven: str, t0: float, chance: random.Random, slip: float) -> Iterator[Sample]:
    """Ten seconds in each of three gears; the driven axle slips by up to `slip` under power and brakes."""
    for number, gear in enumerate((2, 3, 4)):
        for i in range(500):
            t = t0 + 10.0 * number + 0.02 * i
            speed = 15.0 + 0.03 * i
            turning = speed * (1.0 + slip * chance.uniform(-1.0, 1.0))
            front, rear = (turning, speed) if driven == "front" else (speed, turning)
            yield Sample(
                t,
                gear=gear,
                speed=speed,
                engine_speed=RATIOS[gear] * turning,
                throttle=0.7,
                wheel_speed=(front, front, rear, rear),
            )


@pytest.mark.parametrize("driven", ["front", "rear"])
def test_the_driven_axle_is_the_geared_one(driven: str) -> None:
    gearing = taught(moving(driven, 0.0, random.Random(5), 0.05))
    assert gearing.driven_axle == driven
    for gear in (2, 3, 4):
        assert gearing.ratio(gear) == pytest.approx(RATIOS[gear], rel=1e-6)


def test_no_axle_without_wheel_speeds() -> None:
    assert taught(samples(without(lap_of().rows, "wheel_speed"))).driven_axle is None


@pytest.mark.parametrize("driven", ["front", "rear"])
def test_wheelspin_does_not_spoil_the_ratio(driven: str) -> None:
    # 40 % of the time the driven wheels turn a third faster than the road: with wheel speeds it does not matter at
    # all, from the road speed alone the median does not follow it.
    def stream(wheels: bool) -> Iterator[Sample]:
        chance = random.Random(2)
        for i in range(1500):
            speed = 20.0 + 5.0 * (i % 100) / 100
            turning = speed * (1.33 if chance.random() < 0.4 else 1.0)
            front, rear = (turning, speed) if driven == "front" else (speed, turning)
            yield Sample(
                0.02 * i,
                gear=2,
                speed=speed,
                engine_speed=290.0 * turning,
                wheel_speed=(front, front, rear, rear) if wheels else None,
            )

    assert taught(stream(True)).ratio(2) == pytest.approx(290.0, rel=1e-6)
    assert taught(stream(False)).ratio(2) == pytest.approx(290.0, rel=0.02)


def test_the_clutch_and_the_change_itself_do_not_count() -> None:
    gearing = Gearing()
    t = gearing_drive(gearing, {3: 215.0}, LIMIT)
    for _ in range(600):  # a slipping clutch, pressed a little
        t += 0.02
        gearing.watch(Sample(t, gear=3, speed=20.0, engine_speed=7000.0, clutch=0.3))
    for i in range(600):  # between gears every 0.3 s: never settled
        t += 0.02
        gearing.watch(Sample(t, gear=3 if i // 15 % 2 else 4, speed=20.0, engine_speed=6000.0, clutch=0.0))
    for _ in range(600):  # creeping
        t += 0.02
        gearing.watch(Sample(t, gear=3, speed=4.0, engine_speed=2500.0, clutch=0.0))
    assert gearing.ratio(3) == pytest.approx(215.0, rel=1e-6)
    assert gearing.ratio(4) is None


def test_a_changed_ratio_is_learned_in_time() -> None:
    gearing = Gearing()
    t = gearing_drive(gearing, {3: 215.0}, LIMIT)
    for _ in range(12):
        t = gearing_drive(gearing, {3: 230.0}, LIMIT, t + 1.0)
    assert gearing.ratio(3) == pytest.approx(230.0, rel=1e-6)


def test_a_source_without_engine_speed_teaches_nothing() -> None:
    gearing = taught(samples(without(lap_of().rows[:2000], "engine_speed", "engine_speed_max")))
    assert gearing.limit is None and gearing.ratio(3) is None and gearing.driven_axle is None


def test_an_engine_speed_of_zero_throughout_shows_no_gear_and_no_limit() -> None:
    """A source may fill a channel it does not have with zeros."""
    drive = (
        Sample(0.1 * i, gear=3, speed=20.0, engine_speed=0.0, throttle=1.0, wheel_speed=(20.0, 20.0, 20.0, 20.0))
        for i in range(400)
    )
    gearing = taught(drive)
    assert (gearing.driven_axle, gearing.ratio(3), gearing.limit) == (None, None, None)


def test_a_gear_seen_without_wheel_speeds_has_the_ratio_of_the_road() -> None:
    """Wheel speeds that come later tell the driven axle by the other gears; this one was seen by the road alone."""
    gearing = Gearing()
    for i in range(40):
        gearing.watch(Sample(0.1 * i, gear=2, speed=20.0, engine_speed=5000.0))
    for i in range(40, 80):
        wheels = (30.0, 30.0, 30.6, 30.6)
        gearing.watch(Sample(0.1 * i, gear=3, speed=30.0, engine_speed=5100.0, wheel_speed=wheels))
    assert gearing.driven_axle == "rear"
    assert gearing.ratio(2) == pytest.approx(250.0)
    assert gearing.ratio(3) == pytest.approx(5100.0 / 30.6)
