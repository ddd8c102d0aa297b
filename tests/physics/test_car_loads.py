"""The loads on the four wheels, against moments about the axles and the wheels' line."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeds.car.loads import Loads
from feeds.car.spec import CARS, GRAVITY, PELLOW_R, CarSpec

BOTH = pytest.mark.parametrize("spec", CARS.values(), ids=CARS)


def loads(spec: CarSpec, speed: float = 0.0, pull: float = 0.0, side: float = 0.0, mass: float = 1200.0) -> list[float]:
    return list(Loads(spec).set(mass, speed, pull, side))


@BOTH
def test_standing_each_axle_carries_its_share(spec: CarSpec) -> None:
    front = 1200.0 * GRAVITY * spec.to_rear / spec.wheelbase
    rear = 1200.0 * GRAVITY * spec.to_front / spec.wheelbase
    assert loads(spec) == pytest.approx([front / 2.0, front / 2.0, rear / 2.0, rear / 2.0])


def test_downforce_grows_with_the_square_of_the_speed_and_is_shared() -> None:
    # L = rho / 2 v^2 (Cl A), shared by `lift_front` (any text).
    spec = replace(PELLOW_R, lift_area=2.0, lift_front=0.3)
    down = 0.5 * 1.204 * 2.0 * 50.0**2
    still, fast = loads(spec), loads(spec, 50.0)
    assert [after - before for before, after in zip(still, fast, strict=True)] == pytest.approx(
        [0.15 * down, 0.15 * down, 0.35 * down, 0.35 * down]
    )
    assert loads(spec, 25.0)[0] - still[0] == pytest.approx(0.25 * 0.15 * down)


@BOTH
def test_pulling_loads_the_rear_and_braking_the_front(spec: CarSpec) -> None:
    # dW = m ax h / L (Gillespie, Fundamentals of Vehicle Dynamics, ch. 1).
    for pull in (4000.0, -4000.0):
        moved = pull * spec.cg_height / spec.wheelbase
        for wheel, (before, after) in enumerate(zip(loads(spec), loads(spec, pull=pull), strict=True)):
            assert after - before == pytest.approx((-0.5 if wheel < 2 else 0.5) * moved)


@BOTH
def test_the_axles_share_the_roll_moment_as_their_stiffness(spec: CarSpec) -> None:
    # A force to the left rolls the car to the right: m ay h, of which the front axle takes its share of the roll
    # stiffness over its own track.
    before, after = loads(spec), loads(spec, side=2500.0)
    front = spec.roll_share * 2500.0 * spec.cg_height / spec.front_track
    rear = (1.0 - spec.roll_share) * 2500.0 * spec.cg_height / spec.rear_track
    assert [b - a for a, b in zip(before, after, strict=True)] == pytest.approx([-front, front, -rear, rear])


@pytest.mark.parametrize(("roll_share", "lifted"), [(1.0, 0), (0.0, 2)])
def test_what_a_lifted_wheel_cannot_give_the_other_axle_does(roll_share: float, lifted: int) -> None:
    spec = replace(PELLOW_R, roll_share=roll_share, front_track=1.5, rear_track=1.7)
    side = 14_000.0
    wheels = loads(spec, side=side)
    assert wheels[lifted] == 0.0
    assert min(wheels) >= 0.0
    moment = 0.5 * 1.5 * (wheels[1] - wheels[0]) + 0.5 * 1.7 * (wheels[3] - wheels[2])
    assert moment == pytest.approx(side * spec.cg_height)


@given(
    speed=st.floats(0.0, 90.0),
    pull=st.floats(-40_000.0, 40_000.0),
    side=st.floats(-40_000.0, 40_000.0),
    spec=st.sampled_from(list(CARS.values())),
)
def test_weight_and_downforce_are_carried_whatever_is_asked(
    speed: float, pull: float, side: float, spec: CarSpec
) -> None:
    wheels = loads(spec, speed, pull, side)
    assert min(wheels) >= 0.0
    assert sum(wheels) == pytest.approx(1200.0 * GRAVITY + 0.5 * spec.air_density * spec.lift_area * speed**2)
    mirrored = loads(spec, speed, pull, -side)
    assert mirrored == [wheels[1], wheels[0], wheels[3], wheels[2]]
