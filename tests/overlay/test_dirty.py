"""Drawing only what changed comes to the same picture as drawing all, on a plain surface and on one with alpha."""

from __future__ import annotations

from functools import _lru_cache_wrapper
from random import Random
from typing import get_args

import numpy as np
import numpy.typing as npt
import pytest

from coach.overlay.drawing import Drawing, Frame
from coach.overlay.palette import DEFAULT
from coach.overlay.signs import SIGNS
from coach.overlay.toolkit import pygame
from coach.overlay.view import State, View
from tests.overlay.pictures import EVERY, WORDS, driving

OPACITY = 0.86


def surface_of(drawing: Drawing, alpha: bool) -> pygame.Surface:
    """Plain, or with an alpha channel that pygame does not blend by, as an ARGB window has it."""
    surface = pygame.Surface(drawing.size, pygame.SRCALPHA if alpha else 0)
    if alpha:
        surface.set_alpha(None)
    return surface


def stored(surface: pygame.Surface) -> npt.NDArray[np.int64]:
    """rows x columns x (red, green, blue, alpha), as they lie in memory: a window's alpha is not told otherwise."""
    assert surface.get_masks()[:3] == (0xFF0000, 0xFF00, 0xFF)
    rows = np.frombuffer(surface.get_buffer().raw, np.uint8).reshape(surface.get_height(), -1)
    return rows.reshape(surface.get_height(), -1, 4)[:, : surface.get_width(), [2, 1, 0, 3]].astype(np.int64)


def random_views(chance: Random, count: int) -> list[View]:
    """Runs of views that change a little, as in a drive, with now and then quite another one."""
    views, view = [], View("driving")
    texts = [None, None, "+0.42", "\N{MINUS SIGN}3.1", WORDS, "Hold throttle", "far too long to be shown at all"]
    for _ in range(count):
        if chance.random() < 0.2:
            view = View(
                chance.choice(get_args(State)) if chance.random() < 0.5 else "driving",
                sign=chance.choice([None, *SIGNS]),
                timed=chance.random() < 0.85,
            )
        near = chance.random() < 0.5
        view = View(
            view.state,
            max(-1.0, min(1.0, view.offset + chance.gauss(0.0, 0.03))) if near else chance.uniform(-1.0, 1.0),
            chance.uniform(0.5, 1.0),
            chance.choice([0.0, chance.uniform(-1.0, 1.0)]),
            chance.choice(texts) if chance.random() < 0.3 else view.text,
            chance.choice([0.0, 1.0, chance.random()]),
            chance.random() < 0.5,
            view.sign,
            chance.choice([0.0, 0.0, chance.random()]),
            timed=view.timed,
        )
        views.append(view)
    return views


@pytest.mark.parametrize("alpha", [False, True])
@pytest.mark.parametrize(("scale", "number"), [(0.5, 1), (1.0, 2), (1.37, 3)])
def test_drawing_what_changed_is_drawing_all(alpha: bool, scale: float, number: int) -> None:
    partly, wholly = Drawing(scale, DEFAULT, OPACITY), Drawing(scale, DEFAULT, OPACITY)
    surface, other = surface_of(partly, alpha), surface_of(partly, alpha)
    sizes = []
    for view in random_views(Random(number), 120):
        before = stored(surface)
        rects = partly.draw(surface, partly.frame(view))
        wholly.forget()
        other.fill((255, 0, 255, 255))
        assert wholly.draw(other, wholly.frame(view)) == [other.get_rect()]
        used = 4 if alpha else 3
        assert (stored(surface)[..., :used] == stored(other)[..., :used]).all()
        changed = (stored(surface) != before)[..., :used].any(axis=2)
        for rect in rects:
            assert surface.get_rect().contains(rect)
            changed[rect.top : rect.bottom, rect.left : rect.right] = False
        assert not changed.any(), "something changed outside of what was told"
        sizes.append(sum(rect.width * rect.height for rect in rects))
    assert np.median(sizes) < 0.5 * surface.get_width() * surface.get_height()


def test_the_same_frame_changes_nothing_and_another_surface_everything() -> None:
    drawing = Drawing()
    frame = drawing.frame(driving(0.3, 0.1))
    one, other = surface_of(drawing, False), surface_of(drawing, False)
    assert drawing.draw(one, frame) == [one.get_rect()]
    assert drawing.draw(one, frame) == []
    assert drawing.draw(other, frame) == [other.get_rect()]
    assert drawing.draw(one, frame) == [one.get_rect()]
    drawing.forget()
    assert drawing.draw(one, frame) == [one.get_rect()]


def test_a_float_that_moves_a_little_changes_little() -> None:
    drawing = Drawing()
    surface = surface_of(drawing, False)
    drawing.draw(surface, drawing.frame(driving(0.30)))
    (rect,) = drawing.draw(surface, drawing.frame(driving(0.36)))
    assert rect.height < 45
    assert rect.width < 0.6 * surface.get_width()


def test_a_plate_with_alpha_is_premultiplied_and_what_stands_on_it_opaque() -> None:
    """Premultiplied: no colour exceeds its alpha. Over a ground, it is the opaque picture laid over it."""
    for view in EVERY.values():
        drawing = Drawing(1.0, DEFAULT, OPACITY)
        clear, solid = surface_of(drawing, True), surface_of(drawing, False)
        drawing.draw(clear, drawing.frame(view))
        drawing.draw(solid, drawing.frame(view))
        colours, alpha = stored(clear)[..., :3], stored(clear)[..., 3]
        assert (colours <= alpha[..., None] + 1).all()
        assert alpha.min() == round(255 * OPACITY)
        opaque = stored(solid)[..., :3]
        full = alpha == 255
        assert full.sum() > 500, "rim, line and marks"
        assert (np.abs(colours - opaque)[full] <= 1).all()
        on_plate = colours + (255 - alpha[..., None]) * np.array(DEFAULT.plate) / 255
        assert (np.abs(on_plate - opaque) <= 3).all(), "over the plate's own colour nothing is seen through"


def test_a_whole_plate_is_the_same_with_alpha_and_without() -> None:
    drawing = Drawing()
    clear, solid = surface_of(drawing, True), surface_of(drawing, False)
    for view in EVERY.values():
        drawing.draw(clear, drawing.frame(view))
        drawing.draw(solid, drawing.frame(view))
        assert (stored(clear)[..., 3] == 255).all()
        assert np.abs(stored(clear) - stored(solid))[..., :3].max() <= 1


def test_equal_frames_are_equal_and_can_be_kept() -> None:
    drawing = Drawing()
    assert {drawing.frame(driving(0.3)), drawing.frame(driving(0.3))} == {drawing.frame(driving(0.3))}
    assert isinstance(drawing.frame(driving(0.3)), Frame)


def test_no_more_is_kept_than_is_bounded() -> None:
    """However long and odd the drive: every cache has a bound, and it holds."""
    drawing = Drawing(0.5)
    surface = surface_of(drawing, False)
    for view in random_views(Random(7), 600):
        drawing.draw(surface, drawing.frame(view))
    caches = [kept for kept in vars(drawing).values() if isinstance(kept, _lru_cache_wrapper)]
    caches += [drawing._ground.of, drawing._setting._set]
    assert len(caches) >= 7
    for kept in caches:
        told = kept.cache_info()
        assert told.maxsize is not None and told.currsize <= told.maxsize <= 64
