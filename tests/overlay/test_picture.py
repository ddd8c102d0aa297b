"""The README's picture."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from coach.overlay import picture as picture_module
from coach.overlay.palette import PLATE
from coach.overlay.picture import AHEAD_ON_A_STRAIGHT, SIZE, main, picture
from coach.overlay.toolkit import pygame


def test_the_plate_is_over_the_sky_and_the_road_is_free() -> None:
    scene = picture(AHEAD_ON_A_STRAIGHT)
    assert scene.get_size() == SIZE
    plate = [(x, y) for x in range(0, SIZE[0], 4) for y in range(0, SIZE[1], 4) if scene.get_at((x, y))[:3] == PLATE]
    assert len(plate) > 1000
    assert max(y for _, y in plate) < SIZE[1] * 0.4
    assert min(x for x, _ in plate) + max(x for x, _ in plate) == pytest.approx(SIZE[0], abs=8)


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
