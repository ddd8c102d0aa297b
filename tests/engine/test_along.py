"""A column read between its rows, against numpy's interpolation and the cases that it does not know."""

from __future__ import annotations

from array import array

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.engine.along import value_along

NAN = float("nan")
PLACES = array("d", [10.0, 20.0, 20.0, 40.0])


@given(st.lists(st.integers(0, 1000), min_size=1, unique=True), st.integers(-10, 1010))
def test_against_an_independent_interpolation(rows: list[int], place: int) -> None:
    places = array("d", sorted(rows))
    column = array("d", [(row * 37) % 101 for row in rows])
    value = value_along(places, column, float(place))
    if places[0] <= place <= places[-1]:
        assert value == pytest.approx(float(np.interp(place, places, column)), abs=1e-9)
    else:
        assert value is None


@pytest.mark.parametrize(
    ("place", "value"), [(9.9, None), (10.0, 1.0), (15.0, 1.5), (20.0, 2.0), (30.0, 3.5), (40.0, 4.0), (40.1, None)]
)
def test_of_rows_at_one_place_the_first_counts_there_and_the_last_behind_it(place: float, value: float | None) -> None:
    assert value_along(PLACES, array("d", [1.0, 2.0, 3.0, 4.0]), place) == value


@pytest.mark.parametrize(("place", "value"), [(10.0, 1.0), (15.0, None), (20.0, None), (30.0, None), (40.0, 4.0)])
def test_what_was_not_sent_is_not_known(place: float, value: float | None) -> None:
    assert value_along(PLACES, array("d", [1.0, NAN, NAN, 4.0]), place) == value


def test_no_rows() -> None:
    assert value_along(array("d"), array("d"), 0.0) is None
