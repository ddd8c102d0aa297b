"""The tyre: the curve, the ellipse, load and heat."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeds.car.spec import PELLOW_R, PELLOW_S, TyreSpec
from feeds.car.tyre import cornering_stiffness, friction, pressure, slip_forces, temperature_grip
from tests.physics.car_runs import forces

TYRES = [PELLOW_R.front_tyre, PELLOW_R.rear_tyre, PELLOW_S.front_tyre, PELLOW_S.rear_tyre]


def best(tyre: TyreSpec, load: float, along: bool) -> tuple[float, float]:
    """The slip of the greatest force, and that force by load."""
    slips = [0.001 * i for i in range(1, 600)]
    found = [abs(forces(tyre, load, s, 0.0)[0] if along else forces(tyre, load, 0.0, s)[1]) / load for s in slips]
    most = max(found)
    return slips[found.index(most)], most


@pytest.mark.parametrize("tyre", TYRES)
def test_the_peak_lies_where_measured_tyres_have_theirs(tyre: TyreSpec) -> None:
    # commonroad-vehicle-models 3.0.2, its tyre at 4 kN: peak at kappa 0.14 to 0.16, and at 8.5 degrees. Slicks peak
    # earlier (common practice).
    slip, along = best(tyre, tyre.nominal_load, along=True)
    sideways, across = best(tyre, tyre.nominal_load, along=False)
    assert 0.08 <= slip <= 0.17
    assert 5.0 <= math.degrees(math.atan(sideways)) <= 9.5
    assert along == pytest.approx(tyre.mu_x, rel=1e-4)
    assert across == pytest.approx(tyre.mu_y, rel=1e-4)


@pytest.mark.parametrize("tyre", TYRES)
def test_beyond_the_peak_the_force_falls(tyre: TyreSpec) -> None:
    whole = [-forces(tyre, 3000.0, -slip, 0.0)[0] for slip in (tyre.peak_slip, 0.3, 0.6, 1.0)]
    assert whole == sorted(whole, reverse=True)
    # the limit of sin(C arctan(B rho)) is sin(C pi / 2)
    assert math.sin(tyre.shape * math.pi / 2) * whole[0] < whole[-1] < 0.9 * whole[0]


@given(
    tyre=st.sampled_from(TYRES),
    load=st.floats(0.0, 12_000.0),
    slip=st.floats(-2.0, 50.0),
    sideways=st.floats(-60.0, 60.0),
    grip=st.floats(0.0, 2.0),
)
def test_the_friction_ellipse_holds(tyre: TyreSpec, load: float, slip: float, sideways: float, grip: float) -> None:
    # Milliken & Milliken, Race Car Vehicle Dynamics, ch. 9: (Fx / mu_x Fz)^2 + (Fy / mu_y Fz)^2 <= 1.
    fx, fy = forces(tyre, load, slip, sideways, grip)
    mu_x, mu_y = friction(tyre, load)
    room_x, room_y = mu_x * load * grip, mu_y * load * grip
    assert math.hypot(fx / room_x, fy / room_y) <= 1.0 + 1e-9 if load * grip > 1e-3 else abs(fx) + abs(fy) < 0.01
    assert fx * slip >= 0.0
    assert fy * sideways <= 0.0
    # and what is left along beside the side force is on the ellipse
    most = slip_forces(tyre, load, slip, sideways, grip)[2]
    if load * grip > 1e-3:
        assert math.hypot(most / room_x, fy / room_y) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("tyre", TYRES)
def test_a_locked_wheel_pulls_against_its_sliding(tyre: TyreSpec) -> None:
    # Coulomb friction points against the sliding velocity: here 20 degrees off the wheel's plane. The peaks along and
    # across differ a little, and so may the direction.
    fx, fy = forces(tyre, 3000.0, -1.0, math.tan(math.radians(20.0)))
    assert math.degrees(math.atan2(-fy, -fx)) == pytest.approx(20.0, abs=3.0)


@pytest.mark.parametrize("tyre", TYRES)
def test_more_load_gives_more_force_and_less_friction(tyre: TyreSpec) -> None:
    loads = [1000.0, 2000.0, 4000.0, 6000.0, 8000.0]
    frictions = [friction(tyre, load)[1] for load in loads]
    assert frictions == sorted(frictions, reverse=True)
    pulls = [mu * load for mu, load in zip(frictions, loads, strict=True)]
    assert pulls == sorted(pulls)
    stiffness = [cornering_stiffness(tyre, load) for load in loads]
    assert stiffness == sorted(stiffness)


@pytest.mark.parametrize("tyre", TYRES)
def test_cornering_stiffness_is_the_slope_at_no_slip(tyre: TyreSpec) -> None:
    slope = -forces(tyre, 3000.0, 0.0, math.tan(1e-4))[1] / 1e-4
    assert cornering_stiffness(tyre, 3000.0) == pytest.approx(slope, rel=1e-3)


@pytest.mark.parametrize("tyre", TYRES)
def test_heat_window(tyre: TyreSpec) -> None:
    low, high = tyre.window
    assert temperature_grip(tyre, tyre.cold_temp) == pytest.approx(1.0 - 0.08)
    # by the square of how far away it is: half as far, a quarter of the loss
    assert temperature_grip(tyre, 0.5 * (tyre.cold_temp + low)) == pytest.approx(1.0 - 0.08 / 4.0)
    assert temperature_grip(tyre, high + 40.0) == pytest.approx(1.0 - 0.08)
    assert temperature_grip(tyre, high + 20.0) == pytest.approx(1.0 - 0.08 / 4.0)
    assert temperature_grip(tyre, low) == temperature_grip(tyre, high) == 1.0
    assert temperature_grip(tyre, tyre.start_temp) == 1.0
    temps = [-60.0, 0.0, 20.0, 30.0, low - 1.0, low]
    grips = [temperature_grip(tyre, temp) for temp in temps]
    assert grips == sorted(grips)
    assert 0.8 < temperature_grip(tyre, 1000.0) < 1.0
    assert 0.8 < temperature_grip(tyre, -100.0) < 1.0


def test_pressure_follows_the_gas_law() -> None:
    # Gay-Lussac on absolute pressure: 1.80 bar gauge at 20 degC is 2.4717 bar at 90 degC, 0.096 bar for each 10 degC.
    assert pressure(180.0, 20.0, 90.0) == pytest.approx(247.17, abs=0.01)
    assert pressure(180.0, 20.0, 20.0) == pytest.approx(180.0)
    assert pressure(180.0, 20.0, 30.0) - 180.0 == pytest.approx(9.6, abs=0.05)
