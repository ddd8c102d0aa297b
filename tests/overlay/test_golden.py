"""Golden pictures of each state, and how sharply they are compared. `golden/write.py` writes them."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from random import Random

import numpy as np
import pytest
from PIL import Image

from coach.overlay.view import View
from tests.overlay.golden.compare import Pixels, alike
from tests.overlay.golden.states import STATES
from tests.overlay.golden.write import FOLDER, file_of
from tests.overlay.pictures import drawn, picture, rows


def golden(state: str) -> Pixels:
    with Image.open(file_of(state)) as image:
        return np.asarray(image.convert("RGB"))


def band(view: View) -> tuple[int, int] | None:
    """The rows that the view's text lies in, and two more on either side."""
    if view.text is None:
        return None
    first, last = rows(drawn(replace(view, timed=False, sign=None, noted=0.0)))
    return first - 2, last + 2


@pytest.mark.parametrize("state", STATES)
def test_each_state_looks_as_it_was_looked_at(state: str) -> None:
    view = STATES[state]
    assert alike(golden(state), picture(view), band(view))


def test_there_is_a_picture_of_each_and_no_other_and_they_are_small() -> None:
    files = sorted(FOLDER.glob("*.png"))
    assert [file.stem for file in files] == sorted(STATES)
    assert sum(file.stat().st_size for file in files) < 60_000


def test_another_state_is_told_from_it() -> None:
    for one, other in permutations(STATES, 2):
        for text in {band(STATES[one]), band(STATES[other]), None}:
            assert not alike(golden(one), picture(STATES[other]), text), f"{other} passes for {one}"


@pytest.mark.parametrize(
    "view",
    [
        replace(STATES["number"], text="+0.31"),
        replace(STATES["number"], text="\N{MINUS SIGN}1.3"),
        replace(STATES["number"], text_alpha=0.5),
        replace(STATES["words"], text="Throttle sooner"),
        replace(STATES["words"], text="Brake later"),
        replace(STATES["topic"], sign="throttle"),
        replace(STATES["topic"], offset=STATES["topic"].offset - 0.1),
        replace(STATES["noted"], noted=0.0),
        replace(STATES["ahead_gaining"], trend=0.0),
    ],
)
def test_a_part_that_changed_is_seen(view: View) -> None:
    passed = [name for name in STATES if alike(golden(name), picture(view), band(STATES[name]))]
    assert passed == []


@pytest.mark.parametrize("state", STATES)
def test_edges_that_are_smoothed_otherwise_do_not_matter(state: str) -> None:
    """Every channel of every pixel off by up to eight, a pixel here and there by more, and letters a pixel aside."""
    view = STATES[state]
    pixels, text = picture(view).astype(int), band(view)
    if text is not None:
        first, last = text
        pixels[first + 1 : last - 1] = np.roll(pixels[first + 1 : last - 1], (1, 1), axis=(0, 1))
    chance = np.random.default_rng(1)
    pixels += chance.integers(-8, 9, pixels.shape)
    for _ in range(20):
        pixels[Random(state).randrange(pixels.shape[0]), chance.integers(pixels.shape[1])] += 60
    assert alike(golden(state), pixels.clip(0, 255).astype(np.uint8), text)
