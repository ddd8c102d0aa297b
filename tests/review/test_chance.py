"""The tests of chance, against scipy's and against worked examples of their sources."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import fisher_exact, mannwhitneyu

from coach.review.chance import fisher, mann_whitney

COUNTS = st.integers(0, 15)
VALUES = st.lists(st.floats(60.0, 99.0).map(lambda value: round(value, 3)), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(COUNTS, COUNTS, COUNTS, COUNTS)
def test_fisher_is_scipy_s(hits: int, others: int, hits_after: int, others_after: int) -> None:
    """scipy.stats.fisher_exact, two-sided."""
    mine = fisher(hits, hits + others, hits_after, hits_after + others_after)
    assert mine == pytest.approx(fisher_exact([[hits, others], [hits_after, others_after]]).pvalue, abs=1e-9)


def test_the_lady_tasting_tea() -> None:
    """R. A. Fisher, The Design of Experiments (1935), chapter 2: all eight cups right is 1 in 70 one-sided, so that
    two-sided, with all wrong as the other end, it is 2 in 70."""
    assert fisher(4, 4, 0, 4) == pytest.approx(2 / 70)


def test_a_side_without_passes_says_nothing() -> None:
    assert fisher(0, 0, 3, 5) == fisher(3, 5, 0, 0) == 1.0
    assert mann_whitney([], [1.0]) == mann_whitney([1.0], []) == 1.0


@settings(max_examples=60, deadline=None)
@given(VALUES, VALUES)
def test_mann_whitney_is_scipy_s(first: list[float], second: list[float]) -> None:
    """scipy.stats.mannwhitneyu, two-sided: exact without ties, else by the normal curve."""
    tied = len({*first, *second}) < len(first) + len(second)
    theirs = mannwhitneyu(first, second, method="asymptotic" if tied else "exact").pvalue
    if tied and len({*first, *second}) == 1:
        assert mann_whitney(first, second) == 1.0  # scipy divides by nothing there
    else:
        assert mann_whitney(first, second) == pytest.approx(theirs, abs=1e-9)


def test_large_samples_take_the_normal_curve() -> None:
    first, second = [float(i) for i in range(30)], [i + 3.5 for i in range(30)]
    assert mann_whitney(first, second) == pytest.approx(mannwhitneyu(first, second, method="asymptotic").pvalue)
