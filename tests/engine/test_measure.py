"""Whoever keeps a session gets the lap that it measures by, right behind the event that says so."""

from __future__ import annotations

import numpy as np
import pytest

from coach.engine.learned import Learned, Measure
from coach.engine.references import CHOSEN
from coach.vocabulary.events import Event, Reference
from tests.engine.drives import begin, learned, only
from tests.engine.test_chosen_lap import SLOW_LAP, pressed


def measures(events: list[Event]) -> list[Measure]:
    """All of them, each right behind its own reference."""
    places = [place for place, event in enumerate(events) if isinstance(event, Reference)]
    found = []
    for place in places:
        reference, measure = events[place], events[place + 1]
        assert isinstance(reference, Reference) and isinstance(measure, Measure)
        assert (measure.origin, measure.t) == (reference.origin, reference.t)
        assert (measure.grid.number, measure.grid.total) == (reference.lap, reference.time)
        assert measure.grid.length == reference.trace.length
        found.append(measure)
    assert found == only(events, Measure) != []
    return found


def test_the_sessions_own_laps_are_the_channels_that_were_learned() -> None:
    events = pressed({SLOW_LAP: 0.5})
    grids = {id(event.grid) for event in only(events, Learned)}
    found = measures(events)
    assert found[-1].origin == CHOSEN and found[-1].grid.number == SLOW_LAP
    assert all(id(measure.grid) in grids for measure in found)


def test_a_given_lap_is_told_at_the_start() -> None:
    start = learned()
    first, *_ = measures(pressed({}, start))
    assert start.reference is not None and first.grid is start.reference


@pytest.mark.parametrize("choice", ["grip", "patchwork"])
def test_a_lap_that_is_made_is_told(choice: str) -> None:
    found = measures(pressed({}, begin(choice=choice)))
    for measure in found:
        assert (np.diff(measure.grid.time) > 0.0).all()


def test_it_is_never_logged() -> None:
    assert not Measure.logged
