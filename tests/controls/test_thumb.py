"""What of a controller's changes is a press."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from coach.controls.thumb import BOUNCE, SETTLED, Thumb

AFTER = SETTLED + 0.001


def test_what_is_down_when_it_is_plugged_in_is_no_press() -> None:
    thumb = Thumb(10.0)
    assert thumb.button(3, True, 10.0) is None
    assert thumb.hat(0, (0, 1), 10.1) is None
    assert thumb.axis(1, 1.0, 10.1) is None
    assert thumb.button(3, False, 10.0 + AFTER) is None
    assert thumb.button(3, True, 11.0) == ("button", 3, "")
    assert thumb.hat(0, (0, 0), 11.0) is None
    assert thumb.hat(0, (0, 1), 11.2) == ("hat", 0, "up")
    assert thumb.axis(1, -1.0, 11.2) == ("axis", 1, "-")


@given(
    gaps=st.lists(st.floats(0.0, 0.2), min_size=1, max_size=60),
    numbers=st.lists(st.integers(0, 2), min_size=60, max_size=60),
)
def test_no_two_presses_of_one_button_within_the_bounce(gaps: list[float], numbers: list[int]) -> None:
    thumb, now = Thumb(0.0), AFTER
    down: dict[int, bool] = {}
    pressed: dict[int, float] = {}
    changed: dict[int, float] = {}
    for gap, number in zip(gaps, numbers, strict=False):
        now += gap
        down[number] = not down.get(number, False)
        press = thumb.button(number, down[number], now)
        if press is not None:
            assert press == ("button", number, "") and down[number]
            assert now - pressed.get(number, -1.0) >= BOUNCE
            pressed[number] = now
        else:
            assert not down[number] or now - changed[number] < BOUNCE, "a press was lost"
        changed[number] = now


def test_a_hat_that_rolls_on_presses_once() -> None:
    thumb = Thumb(0.0)
    values = [(0, 1), (1, 1), (1, 0), (0, 0), (1, 1), (1, 0), (0, 0), (-1, 0)]
    told = [thumb.hat(0, value, 1.0 + 0.1 * index) for index, value in enumerate(values)]
    assert [press[2] for press in told if press is not None] == ["up", "left"]


def test_buttons_do_not_disturb_each_other() -> None:
    thumb = Thumb(0.0)
    assert [thumb.button(number, True, 1.0) for number in (1, 2)] == [("button", 1, ""), ("button", 2, "")]
    assert thumb.axis(1, 0.0, 1.0) is None and thumb.axis(2, -1.0, 1.0) is None
    assert thumb.axis(2, 1.0, 1.1) == ("axis", 2, "+")
    assert thumb.axis(1, 1.0, 1.1) == ("axis", 1, "+")
