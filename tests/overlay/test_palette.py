"""The colours against published measures."""

from __future__ import annotations

from itertools import combinations

import pytest
from colorspacious import cspace_convert, deltaE  # type: ignore[import-untyped]

from coach.overlay.palette import AHEAD, BEHIND, PLAIN, PLATE, Colour, blend, hexadecimal
from tests.overlay.light import ratio

GREEN, VERMILLION, PURPLE = (0, 158, 115), (213, 94, 0), (204, 121, 167)
"""Which of them are bluish green, a red and reddish purple."""
OKABE_ITO = {
    *((0, 0, 0), (230, 159, 0), (86, 180, 233), (240, 228, 66), (0, 114, 178)),
    *(GREEN, VERMILLION, PURPLE),
}
"""Okabe and Ito, Color Universal Design (2008)."""
DEFICIENCIES = ("deuteranomaly", "protanomaly", "tritanomaly")


def share(colour: Colour) -> tuple[float, float, float]:
    red, green, blue = (value / 255 for value in colour)
    return red, green, blue


def test_ahead_and_behind_are_of_the_set_and_stand_out_from_the_plate() -> None:
    assert {AHEAD, BEHIND} <= OKABE_ITO
    assert ratio(AHEAD, PLATE) == pytest.approx(8.1, abs=0.05)
    assert ratio(BEHIND, PLATE) == pytest.approx(14.2, abs=0.05)
    assert ratio(PLAIN, PLATE) == pytest.approx(15.0, abs=0.05)


def test_no_pair_of_the_set_without_red_and_green_differs_more() -> None:
    kept = OKABE_ITO - {GREEN, VERMILLION, PURPLE}
    pairs = combinations([colour for colour in kept if ratio(colour, PLATE) >= 4.5], 2)
    assert max(ratio(*pair) for pair in pairs) == ratio(AHEAD, BEHIND) == pytest.approx(1.75, abs=0.005)


def test_ahead_and_behind_differ_in_luminance_alone() -> None:
    """So that they are told apart where no colour is seen at all."""
    assert ratio(BEHIND, AHEAD) >= 1.7


@pytest.mark.parametrize("deficiency", [None, *DEFICIENCIES])
def test_ahead_and_behind_differ_for_every_colour_vision(deficiency: str | None) -> None:
    """CAM02-UCS distance under full deficiency (Machado, Oliveira and Fernandes 2009, as in colorspacious). 40 is a
    choice: a green (0, 128, 0) and a red come to 17 and 8."""

    def seen(colour: Colour) -> object:
        if deficiency is None:
            return share(colour)
        space = {"name": "sRGB1+CVD", "cvd_type": deficiency, "severity": 100}
        return cspace_convert(share(colour), space, "sRGB1").clip(0, 1)

    assert deltaE(seen(AHEAD), seen(BEHIND), input_space="sRGB1", uniform_space="CAM02-UCS") >= 40


def test_a_blend_ends_at_its_colours() -> None:
    assert blend(PLATE, AHEAD, 0.0) == PLATE
    assert blend(PLATE, AHEAD, 1.0) == AHEAD
    assert blend((0, 0, 0), (255, 128, 10), 0.5) == (128, 64, 5)


def test_a_colour_is_written_as_settings_have_it() -> None:
    assert hexadecimal(AHEAD) == "#56b4e9"
    assert hexadecimal((0, 0, 0)) == "#000000"
