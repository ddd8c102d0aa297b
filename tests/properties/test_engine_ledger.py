"""For any circuit map and any two laps: the ledger covers the lap, and its parts sum to the delta."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.engine.circuit import Circuit
from coach.engine.lap import GridLap
from coach.engine.ledger import SHORTEST, Ledger
from coach.engine.tape import Tape
from coach.vocabulary.events import CornerMark
from coach.vocabulary.sample import Sample
from tests.properties.budget import examples

PACES = st.lists(st.floats(3.0, 95.0), min_size=3, max_size=40)
"""m/s over even pieces of a lap"""


def times(paces: list[float], length: float, places: np.ndarray) -> np.ndarray:
    """s at each place of a lap driven at `paces`: rising, whatever they are."""
    edges = np.linspace(0.0, length, len(paces) + 1)
    reached = np.concatenate([[0.0], np.cumsum(np.diff(edges) / np.array(paces))])
    return np.interp(places, edges, reached)


@st.composite
def maps(draw: st.DrawFn) -> Circuit:
    """Up to eight bends that do not overlap, anywhere on the lap, also over the line; brake points wherever."""
    length = draw(st.floats(250.0, 8000.0))
    count = draw(st.integers(0, 8))
    cuts = sorted(draw(st.lists(st.floats(0.0, 0.999), min_size=3 * count, max_size=3 * count)))
    turn = draw(st.floats(0.0, 1.0))
    marks = []
    for number in range(count):
        entry, apex, exit_ = ((cut + turn) % 1.0 * length for cut in cuts[3 * number : 3 * number + 3])
        brake = (entry - draw(st.floats(-20.0, 150.0))) % length
        marks.append(CornerMark(number + 1, "left", brake, entry, apex, exit_, (apex,), False, draw(st.booleans())))
    marks.sort(key=lambda mark: mark.apex)
    return Circuit("any", length, tuple(marks))


def reference(paces: list[float], length: float) -> GridLap:
    places = np.linspace(0.0, length, max(3, round(length) + 1))
    time = times(paces, length, places)
    return GridLap(1, length, time, np.zeros(len(places)), {"speed": np.gradient(places, time)})


def tape(paces: list[float], length: float, start: float) -> Tape:
    made = Tape()
    places = np.linspace(0.0, length, max(3, round(length / 2.5)))
    for t, place in zip(times(paces, length, places).tolist(), places.tolist(), strict=True):
        made.append(start + t, place, Sample(start + t, speed=30.0))
    return made


@given(maps(), PACES)
@settings(max_examples=examples(60), deadline=None)
def test_bounds_rise_and_parts_cover_the_lap(circuit: Circuit, paces: list[float]) -> None:
    ledger = Ledger(circuit, reference(paces, circuit.length))
    for b in ledger.bounds:
        assert b.braking <= b.entry <= b.apex <= b.exit <= b.end
        assert b.braking > -circuit.length and b.exit <= circuit.length
    for before, after in pairwise(ledger.bounds):
        assert before.end <= after.braking + 1e-9 or before.end == before.exit
    parts = ledger.parts
    assert abs(parts[0].start) <= 8 * SHORTEST and abs(parts[-1].end - circuit.length) <= 8 * SHORTEST
    for one, following in pairwise(parts):
        assert one.start < one.end
        assert abs(following.start - one.end) <= 8 * SHORTEST
    assert {part.corner for part in parts} <= {None, *(mark.corner for mark in circuit.coached)}


@given(maps(), PACES, PACES, st.floats(-1e5, 1e5))
@settings(max_examples=examples(60), deadline=None)
def test_parts_sum_to_the_delta(circuit: Circuit, own: list[float], theirs: list[float], start: float) -> None:
    lap, driven = reference(theirs, circuit.length), tape(own, circuit.length, start)
    delta = driven.t[-1] - start - lap.total
    ledger = Ledger(circuit, lap)
    losses = ledger.losses(driven, start, delta)
    assert len(losses) == len(ledger.parts)
    assert abs(sum(loss.seconds for loss in losses) - delta) < 1e-4
    # each part, the last included, is the delta at its end less the delta at its beginning
    where = np.array([part.end for part in ledger.parts])
    grid = np.linspace(0.0, circuit.length, len(lap.time))
    running = np.interp(where, np.array(driven.reach), np.array(driven.t)) - start - np.interp(where, grid, lap.time)
    steps = np.diff(np.concatenate([[0.0], running]))
    assert np.abs(steps - [loss.seconds for loss in losses]).max() < 1e-3
