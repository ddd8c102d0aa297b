"""Slides: kinematics in closed form, mirrored for a left and a right corner, and the built-in car thrown sideways.

The car goes at constant speed v on a way that turns at w rad/s and points beside it by beta(t). Then (ISO 8855, checks
3.1, 3.12) yaw rate = w - d(beta)/dt, vx = v cos(beta), vy = v sin(beta), and the acceleration v w is across the way:
ay = v w cos(beta), ax = -v w sin(beta).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from coach.engine.faults.slides import NORMAL, REAR, SlideWatch
from coach.engine.shown import Shown
from coach.vocabulary.sample import Sample
from feeds.car.car import Car, Controls
from feeds.car.spec import PELLOW_R, PELLOW_S, CarSpec
from tests.engine.watching import PLANTED, Told, built_in, follow, stream

SPEED, TURN = 25.0, 0.6
"""m/s, rad/s: a bend of 42 m radius"""
QUIET = 1.5
"""s of the bend before anything happens"""
Shape = Callable[[float], float]


def bump(height: float, begins: float, rises: float, falls: float) -> Shape:
    """0, up to `height` in `rises` s and back in `falls` s, smooth (half cosines)."""

    def at(t: float) -> float:
        t -= begins
        if t <= 0.0 or t >= rises + falls:
            return 0.0
        share = t / rises if t < rises else 1.0 - (t - rises) / falls
        return height * 0.5 * (1.0 - math.cos(math.pi * share))

    return at


def bend(
    slide: Shape,
    turn: float = 1.0,
    rate: float = 60.0,
    seconds: float = 5.0,
    speed: float = SPEED,
    lock: Shape | None = None,
    usual: float = 0.02,
    **channels: object,
) -> list[Sample]:
    """A bend to the left (`turn` 1) or the right (-1) in which the car points inwards by `usual` + `slide` rad.

    `lock`: steering into the bend, 0.1 without. A straight second comes before it.
    """

    def inward(t: float) -> float:
        return min(max(t - 1.0, 0.0) / 0.5, 1.0) * usual + slide(t - 1.0)

    def beta(t: float) -> float:
        return -turn * inward(t)

    def way(t: float) -> float:
        return turn * TURN * min(max(t - 1.0, 0.0) / 0.3, 1.0)

    def yaw_rate(t: float) -> float:
        h = 1e-5
        return way(t) - (beta(t + h) - beta(t - h)) / (2.0 * h)

    def steer(t: float) -> float:
        return turn * (0.1 if lock is None else lock(t - 1.0)) * (t > 1.0)

    moving = {
        "yaw_rate": yaw_rate,
        "vx": lambda t: speed * math.cos(beta(t)),
        "vy": lambda t: speed * math.sin(beta(t)),
        "ax": lambda t: -speed * way(t) * math.sin(beta(t)),
        "ay": lambda t: speed * way(t) * math.cos(beta(t)),
        "steer": steer,
        "throttle": 0.2,
        "brake": 0.0,
        "gear": 3,
    }
    return stream(seconds, rate, speed, **{**moving, **channels})


def told(samples: list[Sample], watch: SlideWatch | None = None) -> list[Told]:
    return follow(SlideWatch() if watch is None else watch, samples)


def names(found: list[Told]) -> list[str]:
    return [finding.fault for _, finding in found]


def without(samples: list[Sample], *channels: str) -> list[Sample]:
    return [replace(s, **dict.fromkeys(channels)) for s in samples]  # type: ignore[arg-type]


def rear_angle(samples: list[Sample]) -> float:
    """The greatest slip angle of the rear axle, by hand: atan of its velocity outwards over that forward."""
    return max(
        math.atan2(abs(REAR * (s.yaw_rate or 0.0) - (s.vy or 0.0)), s.vx or 1.0) for s in samples if s.vx is not None
    )


CAUGHT = bump(0.20, QUIET, 0.5, 0.7)
OPPOSITE: Shape = lambda t: -0.1 if QUIET + 0.3 < t < QUIET + 1.0 else 0.1  # noqa: E731


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize("rate", [20.0, 60.0, 100.0, 360.0])
def test_a_slide_that_is_caught(rate: float, turn: float) -> None:
    samples = bend(CAUGHT, turn, rate, lock=OPPOSITE)
    found = told(samples)
    assert names(found) == ["rear_step_out"]
    at, finding = found[0]
    assert finding.unit == "rad"
    assert finding.size == pytest.approx(rear_angle(samples) - NORMAL, abs=0.005)
    assert finding.evidence["opposite_lock"] is True
    assert 1.0 + QUIET < finding.begins < 1.0 + QUIET + 0.5, "while it grows"
    assert finding.distance == pytest.approx(100.0 + SPEED * finding.begins, abs=SPEED / rate)
    assert at - finding.begins < 1.5
    assert finding.strength >= 1.0


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize("gone", [("vx", "vy"), ("vx", "vy", "ax")])
@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
def test_a_slide_by_yaw_rate_and_acceleration_alone(rate: float, gone: tuple[str, ...], turn: float) -> None:
    samples = bend(CAUGHT, turn, rate, lock=OPPOSITE)
    found = told(without(samples, *gone))
    assert names(found) == ["rear_step_out"]
    truth = rear_angle(samples) - NORMAL
    assert 0.5 * truth < found[0][1].size < 1.1 * truth, "some of it is forgotten while it is summed up"


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_without_opposite_lock_only_a_plain_one(turn: float) -> None:
    assert names(told(bend(bump(0.13, QUIET, 0.5, 0.7), turn, lock=OPPOSITE))) == ["rear_step_out"]
    assert names(told(bend(bump(0.13, QUIET, 0.5, 0.7), turn))) == []
    assert names(told(bend(bump(0.17, QUIET, 0.5, 0.7), turn))) == ["rear_step_out"]
    assert told(bend(bump(0.17, QUIET, 0.5, 0.7), turn))[0][1].evidence["opposite_lock"] is False


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_bend_at_the_limit_is_no_slide(turn: float) -> None:
    # 0.03 rad a tenth of a second: a car that takes its attitude for the bend, up to 5 degrees
    assert told(bend(bump(0.03, QUIET, 0.4, 0.6), turn, usual=0.05)) == []
    assert told(bend(lambda t: 0.0, turn, lock=lambda t: -0.1)) == [], "opposite lock alone"
    for gone in (("vx", "vy"), ("vx", "vy", "ax")):
        assert told(without(bend(bump(0.03, QUIET, 0.4, 0.6), turn, usual=0.05), *gone)) == []


def test_a_nudge_of_less_than_a_tenth_of_a_second_is_a_kerb() -> None:
    assert told(bend(bump(0.25, QUIET, 0.05, 0.05), rate=360.0, lock=OPPOSITE)) == []


@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
def test_a_kerb_shakes_the_accelerometer(rate: float) -> None:
    # single rows of +-30 m/s^2 are real on kerbs (seen in a simulator's stream at 50 Hz); here for 20 s on end
    dice = random.Random(7)
    samples = without(bend(lambda t: 0.0, rate=rate, seconds=20.0, lock=lambda t: -0.1), "vx", "vy")
    noise = [dice.choice((-30.0, 0.0, 30.0)) if i % 3 == 0 else 0.0 for i in range(len(samples))]
    shaken = [replace(s, ay=(s.ay or 0.0) + more) for s, more in zip(samples, noise, strict=True)]
    assert told(shaken) == []


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize("rate", [20.0, 60.0, 360.0])
def test_a_spin_is_a_slide_first_and_both_begin_together(rate: float, turn: float) -> None:
    samples = bend(bump(2.4, QUIET, 1.2, 9.0), turn, rate, lock=OPPOSITE)
    found = told(samples)
    assert names(found) == ["rear_step_out", "spin"]
    (first, slide), (second, spin) = found
    assert slide.begins == spin.begins and slide.distance == spin.distance
    assert first <= second and second - spin.begins < 2.0
    assert 1.2 - NORMAL < spin.size < 2.5
    assert slide.evidence["cause"] == spin.evidence["cause"]


def test_a_spin_without_body_velocity() -> None:
    assert names(told(without(bend(bump(2.4, QUIET, 1.2, 9.0)), "vx", "vy"))) == ["rear_step_out", "spin"]


def test_a_spin_is_told_once_however_often_the_car_turns_round() -> None:
    round_and_round = lambda t: max(t - QUIET, 0.0) * 3.0  # noqa: E731
    assert names(told(bend(round_and_round, seconds=12.0))) == ["rear_step_out", "spin"]


def test_a_car_that_reverses_does_not_spin() -> None:
    back = stream(6.0, 60.0, 8.0, vx=-8.0, vy=0.0, yaw_rate=0.5, steer=-0.2, ay=-4.0, gear=-1)
    assert told(back) == []


def test_swinging_to_and_fro_is_one_slide() -> None:
    first, second = bump(0.2, QUIET, 0.4, 0.4), bump(0.2, QUIET + 1.0, 0.4, 0.4)
    assert names(told(bend(lambda t: first(t) + second(t)))) == ["rear_step_out"]


def before(begins: float, then: float, now: float) -> Shape:
    """`then` up to `begins` s into the bend, `now` from there."""
    return lambda t: then if t - 1.0 < begins else now


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize(
    ("cause", "channels"),
    [
        ("lift-off", {"throttle": before(QUIET - 0.1, 0.9, 0.0)}),
        ("downshift", {"throttle": 0.0, "brake": 0.5, "gear": before(QUIET - 0.1, 4, 3)}),
        ("downshift", {"throttle": 0.0, "brake": 0.5, "gear": lambda t: (4, 0, 3)[(t > 2.3) + (t > 2.4)]}),
        ("brakes", {"throttle": 0.0, "brake": 0.5, "gear": before(QUIET - 1.0, 4, 3)}),
        ("power", {"throttle": before(QUIET - 0.2, 0.2, 1.0)}),
    ],
)
def test_what_began_it(cause: str, channels: dict[str, object], turn: float) -> None:
    found = told(bend(CAUGHT, turn, lock=OPPOSITE, **channels))
    assert [finding.evidence["cause"] for _, finding in found] == [cause]


def test_who_always_drives_sideways_is_not_told_each_corner() -> None:
    # 0.25 rad in every bend: a loose road. What is usual is known after eight bends.
    watch, dice, counts = SlideWatch(), random.Random(3), []
    for lap in range(30):
        sideways = bump(0.25 + dice.uniform(-0.03, 0.03), 0.5, 0.6, 1.5)
        samples = bend(sideways, (-1.0) ** lap, lock=OPPOSITE, seconds=4.0)
        counts.append(len(follow(watch, [replace(s, t=s.t + (4.0 + 1.0 / 60.0) * lap) for s in samples])))
    assert sum(counts[:9]) > 0 and sum(counts[9:]) == 0
    further = [
        replace(s, t=s.t + 30.0 * (4.0 + 1.0 / 60.0))
        for s in bend(bump(0.6, 0.5, 0.6, 1.5), lock=OPPOSITE, seconds=4.0)
    ]
    found = follow(watch, further)
    assert names(found) == ["rear_step_out"]
    assert found[0][1].evidence["usual"] > 0.2


def test_a_few_slides_do_not_become_the_usual() -> None:
    watch = SlideWatch()
    counts = []
    for lap in range(24):
        samples = bend(CAUGHT if lap % 6 == 5 else (lambda t: 0.0), lock=OPPOSITE)
        counts.append(len(follow(watch, [replace(s, t=s.t + (5.0 + 1.0 / 60.0) * lap) for s in samples])))
    assert counts == [0, 0, 0, 0, 0, 1] * 4


def test_over_the_line() -> None:
    samples = bend(CAUGHT, lock=OPPOSITE)
    plain = told(samples)[0][1]
    length = plain.distance + 5.0
    over = [replace(s, lap_distance=(s.lap_distance or 0.0) % length) for s in samples]
    assert told(over)[0][1].distance == pytest.approx(-5.0, abs=0.5)


def test_a_gap_or_another_place_forgets_what_went_on() -> None:
    samples = bend(CAUGHT, lock=OPPOSITE)
    cut = [s for s in samples if not 2.6 < s.t < 3.6]
    assert told(cut) == []
    watch = SlideWatch()
    follow(watch, [s for s in samples if s.t < 2.8])
    watch.reset()
    assert follow(watch, bend(lambda t: 0.0)) == []


# the built-in car, thrown sideways by what a driver does


def thrown(spec: CarSpec, speed: float, gear: int, steer: float, does: Callable[[Controls], None]) -> list[Told]:
    """Holds a bend for 3 s at `speed` with `steer` rad at the road wheels, then `does` with the pedals."""
    car, controls, watch, shown, rate = (
        Car(spec, speed=speed, gear=gear),
        Controls(gear=gear),
        SlideWatch(),
        Shown(),
        60,
    )
    out: list[Told] = []
    for i in range(5 * rate):
        t = i / rate
        controls.throttle = min(max(0.25 + 0.3 * (speed - car.speed), 0.0), 1.0)
        controls.steer = steer * min(t / 0.7, 1.0)
        if t > 3.0:
            does(controls)
        for _ in range(6):
            car.step(controls, 1.0 / rate / 6)
        sample = Sample(
            t,
            speed=car.speed,
            vx=car.vx,
            vy=car.vy,
            ax=car.ax,
            ay=car.ay,
            yaw_rate=car.yaw_rate,
            steer=13.0 * controls.steer,
            throttle=controls.throttle,
            brake=controls.brake,
            gear=car.gear,
        )
        out += [(t, finding) for finding in watch.watch(sample, speed * t, shown)]
    return out


def full(controls: Controls) -> None:
    controls.throttle = 1.0


def off(controls: Controls) -> None:
    controls.throttle = 0.0


def steady(controls: Controls) -> None:
    """Nothing else."""


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_power_turns_a_rear_driven_car_round(turn: float) -> None:
    found = thrown(PELLOW_R, 17.0, 2, 0.11 * turn, full)
    assert names(found) == ["rear_step_out", "spin"]
    assert {finding.evidence["cause"] for _, finding in found} == {"power"}
    assert thrown(PELLOW_R, 17.0, 2, 0.11 * turn, steady) == []


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_lift_brings_the_rear_of_a_front_driven_car_round(turn: float) -> None:
    found = thrown(PELLOW_S, 25.0, 3, 0.11 * turn, off)
    assert names(found) == ["rear_step_out"]
    assert found[0][1].evidence["cause"] == "lift-off"
    assert thrown(PELLOW_S, 25.0, 3, 0.11 * turn, steady) == []


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
@pytest.mark.parametrize("mistakes", [(), PLANTED])
def test_laps_without_a_slide_bring_none(car: str, mistakes: tuple[str, ...]) -> None:
    samples = list(built_in(car, "steady", *mistakes))
    assert told(samples) == []
    assert told(without(samples, "vx", "vy")) == []


@pytest.mark.parametrize("car", ["Pellow R", "Pellow S"])
def test_a_beginners_lap_without_a_slide_brings_none(car: str) -> None:
    assert told(list(built_in(car, "beginner"))) == []
