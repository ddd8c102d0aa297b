"""The racing line: within the edges, the best there is, and as wide as the road allows."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.optimize

from feeds.car.circuit import Bend, Circuit, Straight, brack_mere
from feeds.car.line import CENTRE, SMOOTH, _least_bent, racing_line, shifted

ROOM = 1.4


def test_it_stays_within_the_edges_and_uses_them() -> None:
    circuit = brack_mere()
    offset = racing_line(circuit, ROOM).offset
    most = circuit.width / 2 - ROOM
    assert np.abs(offset).max() <= most + 0.05
    assert offset.max() > most - 0.05 and offset.min() < -most + 0.05


def test_its_curvature_is_that_of_its_points() -> None:
    circuit = brack_mere()
    path = racing_line(circuit, ROOM)
    x = circuit.x - path.offset * np.sin(circuit.heading)
    y = circuit.y + path.offset * np.cos(circuit.heading)
    dx, dy = np.gradient(x), np.gradient(y)
    numeric = (dx * np.gradient(dy) - dy * np.gradient(dx)) / np.hypot(dx, dy) ** 3
    assert np.abs(numeric - path.curvature)[5:-5].max() < 4e-3
    assert np.hypot(dx, dy)[5:-5] == pytest.approx(path.stretch[5:-5] * circuit.step, rel=2e-3)


def test_no_other_line_bends_less() -> None:
    """Against scipy's bounded least squares on the same problem."""
    circuit = brack_mere()
    count = 160
    step = circuit.length / count
    bend = np.interp(np.arange(count) * step, circuit.station, circuit.curvature)
    unit = np.eye(count)
    second = (np.roll(unit, 1, 0) - 2 * unit + np.roll(unit, -1, 0)) / step**2
    change = SMOOTH * (np.roll(second, -1, 0) - second) / step
    system = np.vstack((second, change, math.sqrt(CENTRE) * unit))
    wanted = -np.concatenate((bend, SMOOTH * (np.roll(bend, -1) - bend) / step, np.zeros(count)))
    best = scipy.optimize.lsq_linear(system, wanted, bounds=(-4.1, 4.1), tol=1e-12).x
    price = [float(np.sum((system @ line - wanted) ** 2)) for line in (best, _least_bent(bend, step, 4.1))]
    assert price[1] == pytest.approx(price[0], rel=1e-3)


def test_a_right_angle_between_long_straights_is_about_as_wide_as_geometry_allows() -> None:
    """R = ri + w / (1 - cos(theta / 2)): 20 m inside, 10 m wide, 90 degrees give 54.142 m (checks, exact cases).

    The arc from edge to edge is the widest circle that fits; a smooth line must be a little tighter somewhere.
    """
    turn = math.pi / 2
    corner = [Straight(300.0), Bend(turn, 25.0, ramp=4.0)]
    circuit = Circuit(
        "square", [Straight(300.0, fit=True), corner[1], Straight(300.0, fit=True), corner[1], *corner, *corner], 10.0
    )
    path = racing_line(circuit, 0.0)
    widest = 20.0 + 10.0 / (1.0 - math.cos(turn / 2))
    assert widest == pytest.approx(54.142, abs=1e-3)
    smooth = np.convolve(np.abs(path.curvature), np.ones(30) / 30, "same")  # over 15 m
    assert 0.75 * widest < 1.0 / smooth.max() < 1.05 * widest


def test_a_moved_line_is_where_it_was_moved_to() -> None:
    circuit = brack_mere()
    path = racing_line(circuit, ROOM)
    moved = shifted(circuit, path, np.full_like(circuit.station, -0.5))
    assert moved.offset == pytest.approx(path.offset - 0.5)
    assert moved.slope == pytest.approx(path.slope)
