"""An axis that is pressed like a button."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.controls.lever import HELD, PRESSED, RELEASED, Lever

SHARES = st.floats(-1.0, 1.0)
FREQUENT = 0.001


def presses(values: list[float], step: float = FREQUENT) -> list[str]:
    lever = Lever()
    told = [lever.moved(value, index * step) for index, value in enumerate(values)]
    return [direction for direction in told if direction is not None]


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([0.0, 1.0, 0.0], ["+"]),
        ([0.0, -1.0, 0.0, 1.0], ["-", "+"]),
        ([0.0, -1.0, 1.0], ["-", "+"]),
        ([-1.0, 1.0, -1.0], ["+"]),
        ([1.0, -1.0, 1.0], ["-"]),
        ([-1.0, 0.0, -1.0], []),
        ([0.0, 0.5, 0.0], []),
        ([0.0, 0.7, 0.45, 0.7, 0.0, 0.7], ["+", "+"]),
        ([1.0], []),
    ],
)
def test_a_stick_rests_in_the_middle_and_a_trigger_at_an_end(values: list[float], expected: list[str]) -> None:
    assert presses(values) == expected


@given(rest=st.sampled_from([-1.0, 0.0, 1.0]), shares=st.lists(st.floats(-1.0, 1.0), max_size=60))
def test_nothing_is_pressed_below_the_threshold(rest: float, shares: list[float]) -> None:
    reach = 2.0 if rest else 1.0
    inside = [max(-1.0, min(1.0, rest + share * PRESSED * 0.99 * reach)) for share in shares]
    assert presses([rest, *inside]) == []


@given(values=st.lists(SHARES, min_size=1, max_size=80))
def test_between_two_presses_the_same_way_it_was_let_go_or_turned_over(values: list[float]) -> None:
    """Whatever the axis does: as often as it is pressed one way, it came back from there."""
    lever, last, back = Lever(), None, True
    rest = round(values[0])
    for index, value in enumerate(values):
        told = lever.moved(value, index * FREQUENT)
        share = (value - rest) / (2.0 if rest else 1.0)
        if told is not None:
            assert abs(share) >= PRESSED
            assert back or told != last
            last, back = told, False
        back = back or abs(share) <= RELEASED


@given(noise=st.lists(st.floats(-0.09, 0.09), min_size=1, max_size=50), way=st.sampled_from([-1.0, 1.0]))
def test_noise_on_a_threshold_presses_once(noise: list[float], way: float) -> None:
    """Less than the room between pressed and released, however long it flickers there."""
    middle = (PRESSED + RELEASED) / 2.0
    flicker = [way * (middle + value) for value in noise]
    assert presses([0.0, way, *flicker, 0.0]) == ["+" if way > 0.0 else "-"]


def test_a_pedal_that_tells_its_true_place_late_is_a_button_all_the_same() -> None:
    """It stands in the middle until it is first pressed; its rest is the upper end, where it then stays."""
    lever = Lever()
    assert lever.moved(0.0, 0.0) is None
    assert lever.moved(1.0, 1.0) == "+", "this once it is taken for a press"
    assert lever.moved(-1.0, 1.5 + HELD) == "-"
    assert lever.moved(1.0, 2.0 + HELD) is None
    assert lever.moved(-1.0, 3.0 + HELD) == "-"
