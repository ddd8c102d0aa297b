"""How seconds become place, trend and number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.overlay.scales import number_of, offset_of, trend_of

seconds = st.floats(-1e6, 1e6)


@given(seconds, seconds)
def test_more_time_lost_never_rides_higher_and_nothing_leaves_the_plate(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert -1.0 <= offset_of(high) <= offset_of(low) <= 1.0
    assert -1.0 <= trend_of(high) <= trend_of(low) <= 1.0


@given(seconds)
def test_ahead_and_behind_are_alike(value: float) -> None:
    assert offset_of(-value) == -offset_of(value)
    assert trend_of(-value) == -trend_of(value)


def test_a_twentieth_is_seen_and_differences_still_show_at_two_seconds() -> None:
    assert offset_of(-0.05) > 0.1
    assert offset_of(-0.01) > 0.0
    assert offset_of(-2.0) - offset_of(-1.0) > 0.1
    assert offset_of(-2.0) < 1.0


def test_what_a_source_cannot_measure_is_no_trend() -> None:
    assert trend_of(0.004) == 0.0
    assert trend_of(-0.05) > 0.2
    assert trend_of(0.05) < -0.2


@pytest.mark.parametrize(
    ("delta", "text"),
    [
        (0.0, "0.00"),
        (-0.0, "0.00"),
        (0.004, "0.00"),
        (-0.004, "0.00"),
        (0.006, "+0.01"),
        (-0.314, "\N{MINUS SIGN}0.31"),
        (0.994, "+0.99"),
        (0.996, "+1.0"),
        (-1.25, "\N{MINUS SIGN}1.2"),
        (12.34, "+12.3"),
        (250.0, "+99.9"),
    ],
)
def test_the_number_has_its_sign_and_no_more_digits_than_are_read(delta: float, text: str) -> None:
    assert number_of(delta) == text


@given(seconds)
def test_a_number_is_never_longer_than_five_characters(delta: float) -> None:
    assert len(number_of(delta)) <= 5
