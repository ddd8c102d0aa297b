"""The driver's own scatter: robust against faults among the passes, careful while there are few."""

from __future__ import annotations

import json
import random

import pytest
from scipy import stats

from coach.engine.scatter import PRIOR_WEIGHT, REMEMBERED, Scatter
from coach.vocabulary.errors import FormatError


def filled(values: list[float]) -> Scatter:
    scatter = Scatter()
    for value in values:
        scatter.add(4, "place", value)
    return scatter


@pytest.mark.parametrize("count", [2, 5, 8, 15, 20])
def test_against_an_independent_median_absolute_deviation(count: int) -> None:
    chance = random.Random(count)
    values = [chance.gauss(700.0, 3.0) for _ in range(count)]
    own = float(stats.median_abs_deviation(values, scale="normal"))
    prior = 1.5
    pooled = ((count * own**2 + PRIOR_WEIGHT * prior**2) / (count + PRIOR_WEIGHT)) ** 0.5
    assert filled(values).spread(4, "place", prior) == pytest.approx(pooled, rel=1e-4)


def test_the_prior_while_there_are_few() -> None:
    assert Scatter().spread(4, "place", 1.5) == 1.5
    assert filled([700.0]).spread(4, "place", 1.5) == 1.5
    assert filled([700.0]).spread(5, "place", 2.5) == 2.5
    two = filled([700.0, 700.0]).spread(4, "place", 1.5)
    assert 1.0 < two < 1.5
    many = filled([700.0, 700.1] * 10).spread(4, "place", 1.5)
    assert many < two


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.4])
def test_faulty_passes_do_not_widen_it_much(share: float) -> None:
    # The median absolute deviation breaks down at half; a standard deviation would be several times as wide.
    chance = random.Random(11)
    good = [chance.gauss(700.0, 1.5) for _ in range(20)]
    late = [value + (25.0 if i < 20 * share else 0.0) for i, value in enumerate(good)]
    clean, mixed = filled(good).spread(4, "place", 1.5), filled(late).spread(4, "place", 1.5)
    assert mixed < 2.6 * clean
    assert stats.tstd(late) > 3.0 * clean


def test_corners_and_features_are_kept_apart() -> None:
    scatter = filled([700.0, 710.0, 690.0, 705.0, 695.0])
    for value in (30.0, 30.1, 29.9, 30.0):
        scatter.add(4, "speed", value)
        scatter.add(5, "place", value)
    alone = filled([700.0, 710.0, 690.0, 705.0, 695.0])
    assert scatter.spread(4, "place", 1.0) == alone.spread(4, "place", 1.0)


def test_old_passes_are_forgotten() -> None:
    scatter = filled([random.Random(i).uniform(600.0, 800.0) for i in range(50)])
    assert scatter.spread(4, "place", 1.0) > 20.0
    for _ in range(REMEMBERED):
        scatter.add(4, "place", 700.0)
    assert scatter.spread(4, "place", 1.0) < 1.0


def test_what_was_not_measured_does_not_count() -> None:
    scatter = filled([700.0, 701.0, 699.0])
    before = scatter.spread(4, "place", 1.0)
    for value in (float("nan"), float("inf"), -float("inf")):
        scatter.add(4, "place", value)
    assert scatter.spread(4, "place", 1.0) == before
    assert "NaN" not in json.dumps(scatter.to_json())


def test_it_survives_a_recordings_head() -> None:
    scatter = filled([random.Random(i).gauss(700.0, 3.0) for i in range(30)])
    scatter.add(2, "downshift_3_speed", 41.7)
    again = Scatter.from_json(json.loads(json.dumps(scatter.to_json())))
    assert again.to_json() == scatter.to_json()
    assert again.spread(4, "place", 1.5) == scatter.spread(4, "place", 1.5)


@pytest.mark.parametrize(
    "data",
    [
        *(None, 7, "abc", [[1]], [[1, "a", 3]], [[1, "a", ["x"]]], {"corner": 1}, [[None, "a", [1]]]),
        *([[float("inf"), "a", [1]]], [[1, "a", [10**400]]]),
    ],
)
def test_what_is_no_scatter_is_named(data: object) -> None:
    with pytest.raises(FormatError, match=r"the learned scatter cannot be read .*: record it again"):
        Scatter.from_json(data)
