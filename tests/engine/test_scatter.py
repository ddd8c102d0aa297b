"""The driver's own scatter: from a prior, to all corners together, to the corner's own; robust against faults."""

from __future__ import annotations

import json
import random

import numpy as np
import pytest
from scipy import stats

from coach.engine.faults.braking import BAND
from coach.engine.scatter import (
    ENOUGH,
    ONE_SIGMA,
    POOLED_WEIGHT,
    PRIOR_WEIGHT,
    RECENT,
    REMEMBERED,
    TODAY,
    USUAL,
    Scatter,
)
from coach.vocabulary.errors import FormatError

SD = 1.5
"""m, what the made drivers below scatter by."""
PRIOR = 2.0
CORNERS = 8


def filled(values: list[float]) -> Scatter:
    scatter = Scatter()
    for value in values:
        scatter.add(4, "place", value)
    return scatter


def places(laps: int, seed: int = 1, early: int = 0, corners: tuple[int, ...] = (), by: float = 12.0) -> list[float]:
    """`laps` passes of each corner, lap by lap; `early` of five passes in `corners` lie `by` m too early."""
    chance = random.Random(seed)
    return [
        100.0 * corner
        + chance.gauss(0.0, SD)
        - (by if corner in corners and (3 * lap + 2 * corner) % 5 < early else 0.0)
        for lap in range(laps)
        for corner in range(CORNERS)
    ]


def driven(values: list[float], usual: float | None = 0.0, before: Scatter | None = None) -> Scatter:
    """The passes of `places` behind a reference whose driver is usually `usual` m further on; None: not known."""
    known = None if usual is None else {(c, "place"): 100.0 * c + usual for c in range(CORNERS)}
    scatter = Scatter(known, before)
    for i, value in enumerate(values):
        scatter.add(i % CORNERS, "place", value)
    return scatter


def drawn(own: float, count: int, prior: float, weight: int) -> float:
    """The mean of two variances, the prior's counting as `weight` values."""
    return float(np.sqrt(np.average([own**2, prior**2], weights=[count, weight])))


# Against scipy and numpy.


@pytest.mark.parametrize("laps", [1, 2, 3, 5, 12, 30])
def test_against_independent_robust_deviations(laps: int) -> None:
    values = places(laps, seed=laps)
    off = np.array([v - 100.0 * (i % CORNERS) for i, v in enumerate(values)][-RECENT:])
    wide = float(np.quantile(np.abs(off - np.median(off)), ONE_SIGMA, method="lower"))
    today = drawn(wide, len(off), PRIOR, PRIOR_WEIGHT)
    scatter = driven(values)
    for corner in range(CORNERS):
        own = values[corner::CORNERS][-REMEMBERED:]
        narrow = float(stats.median_abs_deviation(own, scale="normal"))
        expected = today if len(own) < 2 else drawn(narrow, len(own), today, POOLED_WEIGHT)
        assert scatter.spread(corner, "place", PRIOR) == pytest.approx(expected, rel=1e-4)


def test_both_deviations_are_a_normal_distributions_own() -> None:
    # One standard deviation of a normal distribution: 68.27 % lie within, half within 1 / 1.4826 of it.
    assert pytest.approx(stats.norm.cdf(1.0) - stats.norm.cdf(-1.0), abs=1e-4) == ONE_SIGMA
    for seed in range(5):
        scatter = driven(places(60, seed))
        spreads = [scatter.spread(corner, "place", PRIOR) for corner in range(CORNERS)]
        assert np.mean(spreads) == pytest.approx(SD, rel=0.2)


# From the prior to the corner's own.


def test_the_prior_while_there_are_few() -> None:
    assert Scatter().spread(4, "place", 1.5) == 1.5
    assert filled([700.0]).spread(4, "place", 1.5) == 1.5
    assert filled([700.0]).spread(5, "place", 2.5) == 2.5
    two = filled([700.0, 700.0]).spread(4, "place", 1.5)
    assert 1.0 < two < 1.5
    many = filled([700.0, 700.1] * 10).spread(4, "place", 1.5)
    assert many < two


def test_one_lap_tells_of_corners_that_were_hardly_driven() -> None:
    """Ten corners within a metre of the usual: the next corner's first passes are judged by that, not by the prior."""
    scatter = Scatter({(corner, "place"): 100.0 * corner for corner in range(11)})
    for corner in range(10):
        scatter.add(corner, "place", 100.0 * corner + (-1.0) ** corner * 0.2)
    assert scatter.spread(10, "place", PRIOR) < 0.6 * PRIOR
    assert scatter.spread(10, "speed", 0.4) == 0.4


def test_without_the_usual_a_corner_is_measured_from_its_own_median() -> None:
    without = driven(places(USUAL, seed=4), usual=None)
    assert without.common("place") == 0.0
    assert without.spread(CORNERS, "place", PRIOR) == PRIOR, "nothing is known of the first passes but their own spread"
    later = driven(places(20, seed=4), usual=None)
    for corner in range(CORNERS):
        assert later.spread(corner, "place", PRIOR) == pytest.approx(SD, rel=0.5)


@pytest.mark.parametrize("laps", [0, 1, 4])
def test_the_reference_runs_scatter_is_where_a_day_begins(laps: int) -> None:
    def run(width: float) -> Scatter:
        chance, scatter = random.Random(5), Scatter()
        for _ in range(12):
            for corner in range(CORNERS):
                scatter.add(corner, "place", 100.0 * corner + chance.gauss(0.0, width))
        return scatter

    steady, wild = (driven(places(laps), before=run(width)).spread(3, "place", PRIOR) for width in (0.4, 5.0))
    alone = driven(places(laps)).spread(3, "place", PRIOR)
    assert steady < alone < wild
    if laps == 0:
        assert steady < 1.0 and wild > 4.0
    assert wild - steady < 5.0 / (1.0 + laps), "the day takes over"


def test_old_passes_are_forgotten() -> None:
    scatter = filled([random.Random(i).uniform(600.0, 800.0) for i in range(50)])
    assert scatter.spread(4, "place", 1.0) > 20.0
    for _ in range(RECENT + REMEMBERED):
        scatter.add(4, "place", 700.0)
    assert scatter.spread(4, "place", 1.0) < 1.0


# Faults among the passes.


EARLY = 12.0
"""m too early in the faulty passes."""


def spreads(laps: int, early: int, corners: tuple[int, ...], usual: float | None = 0.0) -> list[float]:
    """The spread of corner 3 in eight drives whose faulty passes are `early` of five in `corners`."""
    return [driven(places(laps, seed, early, corners, EARLY), usual).spread(3, "place", PRIOR) for seed in range(8)]


@pytest.mark.parametrize("usual", [0.0, None])
@pytest.mark.parametrize("laps", [3, 5, 10, 20])
def test_one_pass_in_five_early_everywhere_does_not_hide_the_next(laps: int, usual: float | None) -> None:
    # A standard deviation would be more than three times as wide, and its band wider than the fault.
    everywhere = tuple(range(CORNERS))
    clean, mixed = spreads(laps, 0, (), usual), spreads(laps, 1, everywhere, usual)
    assert np.median(np.divide(mixed, clean)) < 1.6
    assert BAND * max(mixed) < EARLY
    early = [value - 100.0 * (i % CORNERS) for i, value in enumerate(places(laps, 1, 1, everywhere))]
    assert stats.tstd(early) > 3.0 * SD


@pytest.mark.parametrize("laps", [3, 5, 10, 20])
def test_two_passes_in_five_early_in_one_corner_do_not_hide_the_next(laps: int) -> None:
    clean, mixed = spreads(laps, 0, ()), spreads(laps, 2, (3,))
    assert np.median(np.divide(mixed, clean)) < 2.8
    assert BAND * max(mixed) < EARLY
    assert stats.tstd(places(laps, 1, 2, (3,))[3::CORNERS]) > 3.0 * SD


@pytest.mark.parametrize("early", [1, 2])
def test_a_faulty_corner_leaves_the_others_alone(early: int) -> None:
    for seed in range(8):
        clean, mixed = driven(places(10, seed)), driven(places(10, seed, early, (3,)))
        assert mixed.spread(6, "place", PRIOR) < 1.25 * clean.spread(6, "place", PRIOR)


def test_a_large_fault_widens_it_no_more_than_a_middling_one() -> None:
    for seed in range(5):
        middling = driven(places(10, seed, 1, (3,), by=12.0)).spread(3, "place", PRIOR)
        large = driven(places(10, seed, 1, (3,), by=300.0)).spread(3, "place", PRIOR)
        assert large == pytest.approx(middling, rel=0.1)


# Another driver's reference, and the day.


@pytest.mark.parametrize("further", [-10.0, 6.0])
def test_a_reference_that_brakes_elsewhere_everywhere_does_not_widen_it(further: float) -> None:
    for laps in (1, 3, 10):
        same, other = driven(places(laps)), driven(places(laps), usual=further)
        assert other.spread(3, "place", PRIOR) == pytest.approx(same.spread(3, "place", PRIOR), rel=1e-6)
        assert other.common("place") == pytest.approx(same.common("place") - further)


def test_a_reference_that_differs_corner_by_corner_widens_it_for_a_while() -> None:
    """4 m of standard deviation between the two drivers: after many laps the corner's own passes tell."""
    values = places(20, seed=3)
    chance = random.Random(8)
    other = Scatter({(corner, "place"): 100.0 * corner + chance.gauss(0.0, 4.0) for corner in range(CORNERS)})
    own = driven(values)
    for i, value in enumerate(values):
        other.add(i % CORNERS, "place", value)
    for corner in range(CORNERS):
        assert other.spread(corner, "place", PRIOR) < 2.2 * own.spread(corner, "place", PRIOR)


def test_what_is_common_to_the_last_passes_is_the_days() -> None:
    scatter = Scatter({(corner, "place"): 100.0 * corner for corner in range(CORNERS)})
    for corner in range(ENOUGH - 1):
        scatter.add(corner, "place", 100.0 * corner - 5.0)
        assert scatter.common("place") == 0.0, "too few to speak of a day"
    scatter.add(ENOUGH - 1, "place", 100.0 * (ENOUGH - 1) - 5.0)
    assert scatter.common("place") == -5.0
    assert scatter.common("speed") == 0.0
    for i in range(TODAY):  # it dries: as usual again
        scatter.add(i % CORNERS, "place", 100.0 * (i % CORNERS))
    assert scatter.common("place") == 0.0


@pytest.mark.parametrize("early", [1, 2])
def test_faults_are_not_the_days(early: int) -> None:
    for seed in range(8):
        scatter = driven(places(10, seed, early, (1, 3, 5)))
        assert abs(scatter.common("place")) < 2.0 * SD


def test_the_median_is_known_from_the_third_pass_on() -> None:
    scatter = filled([700.0, 702.0])
    assert scatter.medians() == {}
    scatter.add(4, "place", 701.0)
    scatter.add(5, "place", 30.0)
    assert scatter.medians() == {(4, "place"): 701.0}


# Odds and ends.


def test_corners_and_features_are_kept_apart() -> None:
    """What is added to another feature changes nothing; another corner's passes count only as a part of all."""
    values = [700.0, 710.0, 690.0, 705.0, 695.0]
    scatter, alone = filled(values), filled(values)
    for value in (30.0, 30.1, 29.9, 30.0):
        scatter.add(4, "speed", value)
    assert scatter.spread(4, "place", 1.0) == alone.spread(4, "place", 1.0)
    for _ in range(10):
        scatter.add(5, "place", 30.0)
    assert scatter.spread(5, "place", 1.0) < 0.5 * scatter.spread(4, "place", 1.0)


def test_what_was_not_measured_does_not_count() -> None:
    scatter = filled([700.0, 701.0, 699.0])
    before = scatter.spread(4, "place", 1.0)
    for value in (float("nan"), float("inf"), -float("inf")):
        scatter.add(4, "place", value)
    assert scatter.spread(4, "place", 1.0) == before
    assert "NaN" not in json.dumps(scatter.to_json())


def test_it_survives_a_recordings_head() -> None:
    """As what a day begins from: a head is written before the first sample, so it holds no passes of today."""
    scatter = filled([random.Random(i).gauss(700.0, 3.0) for i in range(30)])
    scatter.add(2, "downshift_3_speed", 41.7)
    again = Scatter.from_json(json.loads(json.dumps(scatter.to_json())))
    assert again.to_json() == scatter.to_json()
    assert again.medians() == scatter.medians()
    for values in ([], places(2), places(6)):
        days = [driven(values, before=run) for run in (scatter, again)]
        assert [day.spread(3, "place", 1.5) for day in days] == [days[0].spread(3, "place", 1.5)] * 2


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
