"""The small model of colour vision that checks a choice, against colorspacious."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest
from colorspacious import cspace_convert, deltaE  # type: ignore[import-untyped]
from colorspacious.cvd import machado_et_al_2009_matrix  # type: ignore[import-untyped]
from scipy.stats import spearmanr

from coach.overlay.contrast import APART, PAIR
from coach.overlay.luminance import ratio
from coach.overlay.palette import AHEAD, BEHIND, Colour
from coach.overlay.vision import DEFICIENCIES, least_distance

NAMED: dict[str, Colour] = {
    # Okabe and Ito, Color Universal Design (2008)
    **{"orange": (230, 159, 0), "sky": (86, 180, 233), "bluish green": (0, 158, 115), "yellow": (240, 228, 66)},
    **{"blue": (0, 114, 178), "vermillion": (213, 94, 0), "purple": (204, 121, 167)},
    # CSS Color Module Level 4
    **{"green": (0, 128, 0), "red": (255, 0, 0), "lime": (0, 255, 0), "cyan": (0, 255, 255), "magenta": (255, 0, 255)},
    **{"white": (255, 255, 255), "silver": (192, 192, 192), "grey": (128, 128, 128), "tomato": (255, 99, 71)},
}
PAIRS = list(combinations(NAMED.values(), 2))
REFUSED, PASSED = 20.0, 45.0
"""CAM02-UCS: no pair under the first is let through, none over the second turned away for its colours (choices; 20 is
what bluish green and vermillion come to, the best of the reds and greens that are meant to be told apart)."""


@cache
def uniform(one: Colour, other: Colour) -> float:
    """The least CAM02-UCS distance for normal vision and the three deficiencies, by colorspacious."""
    found = [deltaE(shares(one), shares(other), input_space="sRGB1", uniform_space="CAM02-UCS")]
    for kind in ("deuteranomaly", "protanomaly", "tritanomaly"):
        space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
        seen = [cspace_convert(shares(colour), space, "sRGB1").clip(0, 1) for colour in (one, other)]
        found.append(deltaE(*seen, input_space="sRGB1", uniform_space="CAM02-UCS"))
    return float(min(found))


def shares(colour: Colour) -> npt.NDArray[np.float64]:
    return np.array(colour) / 255


@pytest.mark.parametrize(
    ("ours", "theirs"), [("protan", "protanomaly"), ("deutan", "deuteranomaly"), ("tritan", "tritanomaly")]
)
def test_the_matrices_are_the_published_ones(ours: str, theirs: str) -> None:
    """Machado, Oliveira and Fernandes 2009, as colorspacious has them."""
    assert np.array(DEFICIENCIES[ours]) == pytest.approx(machado_et_al_2009_matrix(theirs, 100), abs=1e-12)


def test_distances_of_oklab_by_hand() -> None:
    """Black and white are 1 apart in lightness alone (Ottosson 2020: white is L = 1)."""
    assert least_distance((0, 0, 0), (255, 255, 255))[0] == pytest.approx(100.0, abs=0.1)
    assert least_distance((7, 70, 170), (7, 70, 170))[0] == 0.0


def test_the_usual_pair_passes_and_green_and_red_do_not() -> None:
    assert least_distance(AHEAD, BEHIND) == (pytest.approx(24.1, abs=0.1), "tritan")
    for green, red in (((0, 128, 0), (255, 0, 0)), ((0, 255, 0), (255, 99, 71)), ((0, 158, 115), (213, 94, 0))):
        distance, vision = least_distance(green, red)
        assert distance < APART
        assert vision in ("protan", "deutan")


def test_our_order_of_pairs_is_that_of_the_uniform_space() -> None:
    """Spearman's rank correlation over 120 pairs."""
    found = spearmanr([least_distance(*pair)[0] for pair in PAIRS], [uniform(*pair) for pair in PAIRS])
    assert found.statistic >= 0.9


def test_what_is_alike_is_refused_and_what_differs_much_is_not() -> None:
    assert {uniform(*pair) < REFUSED for pair in PAIRS} == {True, False}
    for pair in PAIRS:
        passes = least_distance(*pair)[0] >= APART and ratio(*pair) >= PAIR
        if passes:
            assert uniform(*pair) >= REFUSED, pair
        elif uniform(*pair) >= PASSED:
            assert ratio(*pair) < PAIR, pair


def test_chance_pairs_agree_as_well() -> None:
    """300 pairs of colours at random, of a fixed seed."""
    chance = np.random.default_rng(6).integers(0, 256, (300, 2, 3)).tolist()
    pairs = [((a, b, c), (d, e, f)) for (a, b, c), (d, e, f) in chance]
    ours, theirs = [least_distance(*pair)[0] for pair in pairs], [uniform(*pair) for pair in pairs]
    assert spearmanr(ours, theirs).statistic >= 0.9
    assert all(there >= REFUSED for here, there in zip(ours, theirs, strict=True) if here >= APART)
