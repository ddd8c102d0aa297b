"""Gain and loss as the edge of the eye may see them: in a grey picture that is blurred until no shape is left.

The model is a choice, not a measured eye: luminance alone, and a box of 25 x 25 px (29 arcmin at 0.7 m, so that lines
nearer than that run together), three times over, which is nearly a Gaussian of 12 px. Acuity falls to a half about two
degrees from where one looks (from memory), and the overlay is farther off than that; movement is seen better there than
form (from memory).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest

from coach.overlay.view import View
from tests.overlay.light import luminance
from tests.overlay.pictures import LOST, PAUSED, PIT, SILENT, bare, driving, picture

BOX = 25
DELTAS = (-3.0, -1.0, -0.5, -0.25, -0.1, -0.05, 0.0, 0.05, 0.1, 0.25, 0.5, 1.0, 3.0)
WEBER = 0.05
"""Share by which two lights must differ to be told apart with ease; about 0.01 to 0.02 are just noticed (from
memory)."""

Light = npt.NDArray[np.float64]


def blurred(view: View) -> Light:
    light = luminance(picture(view))
    kernel = np.ones(BOX) / BOX
    for _ in range(3):
        for axis in (0, 1):
            light = np.apply_along_axis(lambda line: np.convolve(line, kernel, "same"), axis, light)
    return light


def added(view: View) -> Light:
    """What the float and its wake add to a plate with a line, blurred."""
    return blurred(view) - blurred(View("driving", timed=False))


def centroid(light: Light) -> float:
    """px from the plate's upper edge to the middle of the light."""
    return float((light.sum(axis=1) * np.arange(len(light))).sum() / light.sum())


def test_the_blur_leaves_no_shape() -> None:
    """The hollow float has no hole any more, and a thin line is next to nothing."""
    behind, middle = driving(0.5), bare(1.0).shape[1] // 2
    sharp, soft = luminance(picture(behind)), added(behind)
    heart = round(centroid(soft))
    assert sharp[heart, middle] < 0.02 * sharp.max()
    assert soft[heart, middle] > 0.5 * soft.max()
    assert blurred(View("driving", timed=False)).max() < 0.15 * luminance(bare(1.0)).max()


def test_the_light_moves_down_with_each_step_of_the_delta() -> None:
    places = [centroid(blurred(driving(delta))) for delta in DELTAS]
    assert places == sorted(places)
    assert places[-1] - places[0] > 40
    fine = [centroid(blurred(driving(delta))) for delta in np.linspace(-1.0, 1.0, 15)]
    assert all(later >= sooner for sooner, later in pairwise(fine))


@pytest.mark.parametrize("delta", [0.5, 1.0, 3.0])
def test_ahead_and_behind_differ_in_light_where_place_is_not_seen(delta: float) -> None:
    """Solid and hollow: the one has more light in all, though its colour is the darker one."""
    ahead, behind = (added(driving(sign * delta)).mean() for sign in (-1, 1))
    assert ahead > (1.0 + WEBER) * behind
    whole = [blurred(driving(sign * delta)).mean() for sign in (-1, 1)]
    assert whole[0] > (1.0 + WEBER) * whole[1]


def test_the_larger_the_delta_the_more_light() -> None:
    for sign in (-1, 1):
        lights = [added(driving(sign * delta)).sum() for delta in (0.1, 0.5, 1.0, 3.0)]
        assert lights == sorted(lights)
        assert lights[-1] > 1.15 * lights[0]


@pytest.mark.parametrize("delta", [-0.5, -0.1, 0.1, 0.5])
def test_gaining_and_losing_pull_the_light_apart(delta: float) -> None:
    """The wake's light hangs below while gaining and stands above while losing, wherever the float is."""
    gaining, still, losing = (centroid(blurred(driving(delta, rate))) for rate in (-0.1, 0.0, 0.1))
    assert gaining > still + 2
    assert losing < still - 2


def test_a_plate_on_which_nothing_is_driven_is_darker_than_any_delta() -> None:
    least = min(float(blurred(driving(delta)).mean()) for delta in DELTAS)
    for view in (SILENT, PIT, PAUSED, LOST):
        assert float(blurred(view).mean()) < least
