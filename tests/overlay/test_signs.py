"""The topic's signs: every fault has one, and the five are told apart by shape."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest

from coach.overlay.grounds import sign_shape
from coach.overlay.signs import DOT, FAMILIES, GLYPHS, SIGNS, STROKE, Sign, sign_of
from coach.overlay.toolkit import pygame
from coach.vocabulary.faults import FAULTS

SIDE = 32
"""px at scale 1"""
COARSE = 8
"""px: 9 arcmin at scale 1, and what is still seen of a sign that is not looked at (choice)"""


def ink(sign: Sign, side: int = SIDE) -> npt.NDArray[np.float64]:
    """How much of each pixel is inked, 0..1."""
    return pygame.surfarray.array_alpha(sign_shape(sign, side)).T / 255


def test_every_fault_has_a_sign_and_every_sign_a_fault() -> None:
    assert list(FAMILIES) == list(FAULTS)
    assert set(FAMILIES.values()) == set(SIGNS) == set(GLYPHS)


@pytest.mark.parametrize(
    ("fault", "sign"),
    [
        ("lock_up", "brakes"),
        ("over_slowed", "brakes"),
        ("coasting", "throttle"),
        ("missed_apex", "line"),
        ("early_downshift", "gears"),
        ("wheelspin", "grip"),
        ("off_track", "grip"),
        (None, None),
        ("a fault of a later version", None),
    ],
)
def test_the_family_of_a_fault(fault: str | None, sign: Sign | None) -> None:
    assert sign_of(fault) == sign


@pytest.mark.parametrize("sign", SIGNS)
@pytest.mark.parametrize("side", [16, 32, 41, 128])
def test_a_sign_fills_its_box_and_stays_in_it(sign: Sign, side: int) -> None:
    inked = ink(sign, side) > 0.25
    across, down = np.flatnonzero(inked.any(axis=0)), np.flatnonzero(inked.any(axis=1))
    assert across[-1] - across[0] + 1 >= 0.75 * side
    assert down[-1] - down[0] + 1 >= 0.75 * side
    assert 0.08 < ink(sign, side).mean() < 0.6
    glyph = GLYPHS[sign]
    reaches = [(point, 0.0) for fill in glyph.fills for point in fill]
    reaches += [(point, STROKE / 2) for stroke in glyph.strokes for point in stroke]
    reaches += [(point, DOT) for point in glyph.dots]
    assert all(place - reach >= 0.0 and place + reach <= 1.0 for point, reach in reaches for place in point)


@pytest.mark.parametrize(("one", "other"), list(combinations(SIGNS, 2)))
def test_two_signs_differ_clearly(one: Sign, other: Sign) -> None:
    """In a third of what either inks at least; and still when each 8 x 8 px have run together to one grey."""
    first, second = ink(one), ink(other)
    assert np.abs(first - second).sum() >= 0.33 * (first + second).sum()
    blocks = [shape.reshape(SIDE // COARSE, COARSE, -1, COARSE).mean(axis=(1, 3)) for shape in (first, second)]
    assert np.abs(blocks[0] - blocks[1]).max() >= 0.2
