"""The circuit: closed exactly, its curves what they say, and errors that name the mend."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coach.vocabulary.errors import InputError
from feeds.car.circuit import Bend, Circuit, Straight, Wave, brack_mere


def test_it_closes_and_turns_once() -> None:
    circuit = brack_mere()
    assert math.hypot(circuit.x[-1] - circuit.x[0], circuit.y[-1] - circuit.y[0]) < 1e-3
    assert circuit.heading[-1] - circuit.heading[0] == pytest.approx(-math.tau, abs=1e-9)


def test_heading_is_the_integral_of_curvature_and_the_path_that_of_heading() -> None:
    circuit = brack_mere()
    turned = np.concatenate(([0.0], np.cumsum((circuit.curvature[1:] + circuit.curvature[:-1]) / 2 * circuit.step)))
    assert np.abs(circuit.heading - turned).max() < 2e-3
    assert np.hypot(np.diff(circuit.x), np.diff(circuit.y)) == pytest.approx(circuit.step, rel=1e-4)


def test_a_plain_bend_is_an_arc_of_its_radius() -> None:
    """Length R theta (any text), with ramps that each turn half of what the arc turns over their length."""
    bend = Bend(math.radians(90), 50.0, ramp=20.0)
    assert sum(piece[0] for piece in bend.pieces) == pytest.approx(50.0 * math.pi / 2 + 20.0)


def test_it_has_the_bends_it_promises() -> None:
    circuit = brack_mere()
    assert [corner.number for corner in circuit.corners] == list(range(1, 13))
    tightest = [
        np.abs(circuit.curvature[int(c.begins / circuit.step) : int(c.ends / circuit.step)]).max()
        for c in circuit.corners
    ]
    assert 1 / max(tightest) == pytest.approx(17.0, rel=0.01)  # the hairpin
    assert 1 / min(tightest) == pytest.approx(250.0, rel=0.01)  # the kink
    assert circuit.corners[1].side == -circuit.corners[2].side  # the chicane
    assert circuit.corners[2].begins - circuit.corners[1].ends < 10.0


def test_the_grade_is_the_slope_of_the_height() -> None:
    circuit = brack_mere()
    for place in np.linspace(0.0, circuit.length, 17):
        slope = (circuit.height(place + 0.5) - circuit.height(place - 0.5)) / 1.0
        assert circuit.grade(place) == pytest.approx(slope, abs=1e-6)
    assert circuit.height(0.0) == pytest.approx(circuit.height(circuit.length), abs=1e-9)
    assert Circuit("flat", stadium(), 10.0, [Wave(0.0, 1, 0.0)]).grade(10.0) == 0.0


def stadium() -> list[Straight | Bend]:
    turn = math.pi / 2
    return [
        Straight(200.0, fit=True),
        Bend(turn, 50.0),
        Straight(100.0, fit=True),
        Bend(turn, 50.0),
        Straight(200.0),
        Bend(turn, 50.0),
        Straight(100.0),
        Bend(turn, 50.0),
    ]


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda s: s.__setitem__(1, Bend(1.0, 50.0)), "its bends turn"),
        (lambda s: s.__setitem__(1, Bend(math.pi / 2, 10.0, ramp=40.0)), "is shorter than its ramps"),
        (lambda s: s.__setitem__(2, Straight(100.0)), "1 straights have fit"),
        (lambda s: s.__setitem__(0, Straight(2000.0)) or s.__setitem__(6, Straight(1.0, fit=True)), "run the same way"),
    ],
)
def test_what_cannot_be_is_one_line(change: object, line: str) -> None:
    segments = stadium()
    with pytest.raises(InputError, match=line):
        change(segments)
        Circuit("wrong", segments, 10.0)
