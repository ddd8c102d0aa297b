"""Eased movement, whatever the frame rate."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.overlay.easing import Easing
from coach.overlay.view import View

REST = View("driving", 0.0, 0.7)
AHEAD = View("driving", 0.8, 1.0, 0.5)
READ = View("driving", 0.8, 1.0, 0.0, "+0.42", 1.0)
units = st.floats(-1.0, 1.0)


def eased(goal: View, seconds: float, fps: int, begin: View = REST) -> View:
    easing = Easing()
    easing.at(begin, 10.0)
    frames = round(seconds * fps)
    shown = begin
    for frame in range(1, frames + 1):
        shown = easing.at(goal, 10.0 + frame / fps)
    return shown


@given(units, units, st.sampled_from([16, 60, 144]))
def test_any_frame_rate_comes_to_the_same_place(offset: float, trend: float, fps: int) -> None:
    goal = View("driving", offset, abs(offset), trend, "+0.42", 1.0)
    slow, quick = eased(goal, 0.25, 4), eased(goal, 0.25, fps)
    assert quick.offset == pytest.approx(slow.offset, abs=1e-9)
    assert quick.brightness == pytest.approx(slow.brightness, abs=1e-9)
    assert quick.trend == pytest.approx(slow.trend, abs=1e-9)
    assert quick.text_alpha == pytest.approx(slow.text_alpha, abs=1e-9)


def test_most_of_the_way_is_gone_in_a_third_of_a_second_and_never_too_far() -> None:
    places = [eased(AHEAD, seconds, 30).offset for seconds in (0.0, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0)]
    assert places == sorted(places)
    assert places[1] < 0.5
    assert places[3] > 0.8 * 0.8
    assert places[-1] == pytest.approx(0.8, abs=1e-4)
    assert max(places) <= 0.8


def test_the_first_picture_is_no_movement() -> None:
    assert Easing().at(AHEAD, 5.0) == AHEAD


def test_a_number_fades_in_and_out() -> None:
    easing = Easing()
    easing.at(AHEAD, 0.0)
    coming = [easing.at(READ, frame / 30).text_alpha for frame in range(1, 31)]
    assert coming == sorted(coming)
    assert coming[0] < 0.5
    assert coming[-1] > 0.99
    fading = View("driving", 0.8, 1.0, 0.0, "+0.42", 0.0)
    going = [easing.at(fading, 1.0 + frame / 30) for frame in range(1, 31)]
    assert going[0].text == "+0.42"
    assert 0.5 < going[0].text_alpha < 1.0
    assert going[-1].text is None
    assert going[-1].text_alpha == 0.0


def test_a_number_that_must_not_be_there_goes_at_once() -> None:
    easing = Easing()
    easing.at(READ, 0.0)
    gone = easing.at(AHEAD, 0.001)
    assert (gone.text, gone.text_alpha) == (None, 0.0)


def test_another_number_does_not_take_over_the_others_light() -> None:
    easing = Easing()
    easing.at(READ, 0.0)
    other = easing.at(View("driving", 0.8, 1.0, 0.0, "+0.50", 1.0), 0.01)
    assert other.text == "+0.50"
    assert other.text_alpha < 0.2


def test_the_mark_of_a_press_comes_and_goes_by_itself_though_the_source_stands() -> None:
    easing, pressed = Easing(), replace(AHEAD, presses=1)
    easing.at(AHEAD, 0.0)
    marks = [easing.at(pressed, frame / 60).noted for frame in range(1, 121)]
    top = marks.index(max(marks))
    assert marks[:top] == sorted(marks[:top])
    assert marks[top:] == sorted(marks[top:], reverse=True)
    assert max(marks) > 0.95
    assert marks[0] < 0.3
    assert marks[round(0.4 * 60)] > 0.9
    assert set(marks[round(1.5 * 60) :]) == {0.0}
    assert easing.at(replace(pressed, noted=1.0), 2.1).noted == 0.0


def test_presses_in_a_row_are_one_mark_that_stays() -> None:
    easing = Easing()
    easing.at(AHEAD, 0.0)
    marks = [easing.at(replace(AHEAD, presses=1 + frame // 12), frame / 60).noted for frame in range(1, 121)]
    assert marks == sorted(marks)


def test_presses_of_before_the_first_picture_leave_no_mark() -> None:
    easing = Easing()
    assert easing.at(replace(AHEAD, presses=3), 0.0).noted == 0.0
    assert easing.at(replace(AHEAD, presses=3), 0.1).noted == 0.0


def test_a_clock_that_stands_or_goes_back_moves_nothing() -> None:
    easing = Easing()
    easing.at(REST, 10.0)
    assert easing.at(AHEAD, 10.0).offset == 0.0
    assert easing.at(AHEAD, 9.0).offset == 0.0
    assert easing.at(AHEAD, 9.2).offset > 0.3
