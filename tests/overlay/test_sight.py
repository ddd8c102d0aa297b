"""Angles and pixels: worked values, and the characters that are drawn, measured as they stand on the surface."""

from __future__ import annotations

from math import radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.overlay.letters import SOLID, Letters
from coach.overlay.palette import PLAIN
from coach.overlay.placing import USUAL
from coach.overlay.sight import LEAST, LEAST_PX, check_size, height_px, readable, seen_under
from coach.overlay.toolkit import pygame
from coach.vocabulary.errors import InputError

DESK = 0.2331
"""mm of a pixel: 27 inches of 2560 x 1440, 596.7 mm of width."""
WORKED = [
    *((0.60, 12.0, 2.09), (0.60, 16.0, 2.79), (0.60, 20.0, 3.49)),
    *((0.70, 12.0, 2.44), (0.70, 16.0, 3.26), (0.70, 20.0, 4.07)),
    *((0.80, 12.0, 2.79), (0.80, 16.0, 3.72), (0.80, 20.0, 4.65)),
    *((1.00, 12.0, 3.49), (1.00, 16.0, 4.65), (1.00, 20.0, 5.82)),
]
"""m, arcmin, mm: h = 2 d tan(a / 2) (FHWA-RD-98-057, chapter 11, equations 2 to 4) at the heights of ISO 15008: 12
minimum, 16 acceptable, 20 preferred (numbers from memory)."""


@pytest.mark.parametrize(("distance", "arcmin", "millimetres"), WORKED)
def test_the_height_is_the_worked_one_on_any_screen(distance: float, arcmin: float, millimetres: float) -> None:
    fine = 0.0001
    assert height_px(arcmin, distance, fine) * fine == pytest.approx(millimetres, abs=0.005)
    assert height_px(arcmin, distance, DESK) == -(-millimetres // DESK)
    assert seen_under(millimetres / DESK, distance, DESK) == pytest.approx(arcmin, abs=0.05)


@pytest.mark.parametrize(("distance", "px"), [(0.6, 15), (0.7, 18), (0.8, 20)])
def test_twenty_arcmin_on_a_desk(distance: float, px: int) -> None:
    """27 inches of 2560 x 1440: worked by hand from the same equations."""
    assert height_px(20.0, distance, DESK) == px


distances, pitches, sizes = st.floats(0.2, 5.0), st.floats(0.05, 2.0), st.floats(20.0, 120.0)


@given(sizes, distances, pitches)
def test_never_lower_than_asked_for_nor_a_pixel_higher(arcmin: float, distance: float, pitch: float) -> None:
    px = height_px(arcmin, distance, pitch)
    assert seen_under(px, distance, pitch) >= arcmin * (1 - 1e-6)
    assert seen_under(px - 1, distance, pitch) < arcmin
    assert px * pitch >= 2000.0 * distance * tan(radians(arcmin / 60.0) / 2.0) * (1 - 1e-6)


@pytest.mark.parametrize("arcmin", [LEAST, USUAL])
@pytest.mark.parametrize(
    ("distance", "pitch"),
    [(0.6, DESK), (0.7, DESK), (0.8, DESK), (0.7, 0.155), (1.0, 0.272), (2.5, 0.63), (0.5, 0.1)],
)
def test_what_is_drawn_is_seen_under_the_angle(arcmin: float, distance: float, pitch: float) -> None:
    """Ink of each digit and capital, on a surface: desks, a laptop of fine pixels, a television."""
    letters = Letters(height_px(arcmin, distance, pitch), PLAIN)
    for character in "0123456789HEGT":
        surface = pygame.Surface((letters.width(character) + 20, 3 * letters.line), pygame.SRCALPHA)
        letters.draw(surface, character, surface.get_rect().center, 255)
        height = surface.get_bounding_rect(SOLID).height
        assert seen_under(height, distance, pitch) >= arcmin * (1 - 1e-6), character
        assert height <= letters.cap_height + 1 + letters.cap_height // 20, character


def test_letters_without_a_stem_are_three_quarters_as_high() -> None:
    """So that 30 arcmin of a capital, the usual size, are 22 of an `x`: above the 20 that a capital must have."""
    letters = Letters(60, PLAIN)
    surface = pygame.Surface((200, 200), pygame.SRCALPHA)
    letters.draw(surface, "x", (100, 100), 255)
    share = surface.get_bounding_rect(SOLID).height / letters.cap_height
    assert 0.7 <= share <= 0.8
    assert USUAL * share >= LEAST


@pytest.mark.parametrize("arcmin", [19.9, 12.0, 0.0, -20.0, float("nan")])
def test_text_that_is_too_small_is_refused_with_what_it_measures(arcmin: float) -> None:
    with pytest.raises(InputError) as caught:
        check_size(arcmin, 0.7, DESK)
    assert str(caught.value) == f"text of {arcmin:g} arcmin is too small to be read: 20 or more are needed"


def test_letters_of_a_few_pixels_are_refused_whatever_their_angle() -> None:
    check_size(20.0, 0.7, 0.45)
    with pytest.raises(
        InputError, match=r"text of 20 arcmin is 5 px high at 0.7 m on pixels of 1 mm, but letters need 9:"
    ):
        check_size(20.0, 0.7, 1.0)
    check_size(20.0, 0.7)


@given(sizes, distances, pitches)
def test_what_is_not_refused_is_readable(arcmin: float, distance: float, pitch: float) -> None:
    px = height_px(arcmin, distance, pitch)
    try:
        check_size(arcmin, distance, pitch)
    except InputError:
        assert px < LEAST_PX
        assert not readable(px, distance, pitch)
    else:
        assert readable(px, distance, pitch)
        assert not readable(LEAST_PX - 1, distance, pitch)


def test_a_smaller_window_has_no_text() -> None:
    """18 px are 20 arcmin there, 17 are fewer."""
    assert readable(18, 0.7, DESK)
    assert not readable(17, 0.7, DESK)
