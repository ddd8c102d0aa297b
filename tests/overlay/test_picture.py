"""The README's picture and its animation."""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from coach.overlay import picture as picture_module
from coach.overlay.drawing import Drawing
from coach.overlay.palette import DEFAULT, PLATE, Colour, blend
from coach.overlay.picture import AHEAD_ON_A_STRAIGHT, SIZE, lay, main, picture, road
from coach.overlay.toolkit import pygame
from tests.overlay.animation import FPS, SCALE, frames, write


def test_the_plate_is_over_the_sky_and_the_road_is_free() -> None:
    scene = picture(AHEAD_ON_A_STRAIGHT)
    assert scene.get_size() == SIZE
    there = product(range(0, SIZE[0], 4), range(0, SIZE[1], 4))
    plate = [place for place in there if all(abs(a - b) < 25 for a, b in zip(scene.get_at(place), PLATE, strict=False))]
    assert len(plate) > 1000
    assert max(y for _, y in plate) < SIZE[1] * 0.4
    assert min(x for x, _ in plate) + max(x for x, _ in plate) == pytest.approx(SIZE[0], abs=8)


def test_the_sky_is_seen_through_the_plate_as_much_as_it_is_seen_through() -> None:
    bright: Colour = (240, 244, 248)
    scene, behind = road(SIZE), road(SIZE)
    lay(scene, Drawing(1.0, replace(DEFAULT, plate=bright), 0.5), AHEAD_ON_A_STRAIGHT)
    place = (SIZE[0] // 2 - 80, round(0.03 * SIZE[1]) + 10)
    assert scene.get_at(place)[:3] == pytest.approx(blend(behind.get_at(place)[:3], bright, 0.5), abs=2)


def test_the_command_writes_a_small_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "overlay.png"
    monkeypatch.setattr(sys, "argv", ["picture", str(file)])
    main()
    assert pygame.image.load(str(file)).get_size() == SIZE
    assert file.stat().st_size < 100_000


def test_a_file_that_cannot_be_written_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["picture", str(tmp_path / "nowhere" / "overlay.png")])
    with pytest.raises(SystemExit, match=r"overlay\.png cannot be written \(.*\): name a \.png file in a folder"):
        picture_module.main()


def test_the_animation_is_short_and_small_and_shows_the_float_sink(tmp_path: Path) -> None:
    pictures = list(frames())
    assert 3.0 <= len(pictures) / FPS <= 6.0
    middle, top = pictures[0].get_width() // 2, round(0.03 * pictures[0].get_height())
    lit = []
    for scene in (pictures[0], pictures[-1]):
        rows = range(top, top + Drawing(SCALE).size[1] - 4)
        vivid = [y for y in rows if max(scene.get_at((middle, y))[:3]) - min(scene.get_at((middle, y))[:3]) > 60]
        lit.append(vivid[len(vivid) // 2])
    assert lit[1] > lit[0] + 10
    write(tmp_path / "overlay.gif")
    assert (tmp_path / "overlay.gif").stat().st_size < 400_000
