"""The layout mode from end to end without a desktop: SDL's dummy window, and a controller whose events stand in SDL's
own queue. No real controller was there."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from coach.overlay import placer_window as module
from coach.overlay.drawing import Drawing
from coach.overlay.hand import SETTLE
from coach.overlay.look import Look
from coach.overlay.overlay import Sizes
from coach.overlay.palette import PLAIN, PLATE, Palette
from coach.overlay.placer import LARGER_BUTTON, LEAVE_BUTTON, RESET_BUTTON
from coach.overlay.placer_window import PlacerWindow
from coach.overlay.placing import LARGEST, LEAST, Placing
from coach.overlay.toolkit import pygame
from coach.vocabulary.errors import WorkError

LOOK = Look(pitch=0.24)
"""mm: then the scale is 1 at 30 arcmin."""


@pytest.fixture(autouse=True)
def dummy(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    yield
    pygame.display.quit()


def press(button: int) -> None:
    pygame.event.post(pygame.event.Event(pygame.JOYBUTTONDOWN, instance_id=0, button=button))


def hat(right: int, up: int) -> None:
    pygame.event.post(pygame.event.Event(pygame.JOYHATMOTION, instance_id=0, hat=0, value=(right, up)))


def stick(axis: int, value: float) -> None:
    pygame.event.post(pygame.event.Event(pygame.JOYAXISMOTION, instance_id=0, axis=axis, value=value))


def run(placing: Placing, *steps: Callable[[], Any], look: Look = LOOK, frames: int = 3) -> Placing | None:
    """Each step some frames after the other; it ends when they are all done, if they have not ended it."""
    left = list(steps)
    count, settled = 0, time.monotonic() + SETTLE + 0.2

    def until() -> bool:
        nonlocal count
        if time.monotonic() < settled:
            return False
        count += 1
        if count % frames == 0:
            if not left:
                return True
            left.pop(0)()
        return False

    return PlacerWindow(placing, look, print).run(until)


def test_a_controller_alone_places_it() -> None:
    kept = run(
        Placing(None, 0.2, 0.3),
        *(lambda: hat(1, 0), lambda: hat(0, 0), lambda: hat(0, -1), lambda: hat(0, 0)),
        *(lambda: press(LARGER_BUTTON), lambda: press(LARGER_BUTTON), lambda: press(0)),
    )
    assert kept == Placing(None, pytest.approx(0.21), pytest.approx(0.31), 34.0)


def test_a_held_stick_moves_it_until_it_is_let_go() -> None:
    """Half a monitor's width in two seconds, whatever the frames: here about 0.5 s."""
    placing = Placing(None, 0.0, 0.0)
    kept = run(placing, lambda: stick(0, 1.0), lambda: stick(0, 0.0), lambda: press(0), frames=30)
    assert kept is not None and kept.down == 0.0
    assert 0.08 < kept.across < 0.5


def test_left_or_ended_nothing_is_kept() -> None:
    assert run(Placing(), lambda: hat(1, 0), lambda: press(LEAVE_BUTTON)) is None
    assert run(Placing(), lambda: hat(1, 0)) is None


def test_it_shows_the_drive_that_nobody_drives_under_a_frame() -> None:
    pictures = []

    def look_at() -> None:
        pictures.append(pygame.display.get_surface().copy())

    palette = Palette(plate=(10, 20, 60))
    run(Placing(), *[look_at] * 8, look=Look(palette=palette, pitch=0.24), frames=20)
    width, height = pictures[0].get_size()
    assert width == Drawing().size[0]
    for place in ((0, 0), (width - 1, height - 1), (1, height // 2)):
        assert pictures[0].get_at(place)[:3] == PLAIN
    assert pictures[0].get_at((10, 10))[:3] == palette.plate != PLATE, "in the colours that were chosen"
    different = {pygame.image.tobytes(picture, "RGB") for picture in pictures}
    assert len(different) > 1, "something goes on"


@pytest.mark.parametrize("look", [Look(), LOOK, Look(distance=2.0), Look(pitch=0.1)])
def test_it_is_as_large_as_the_overlay_will_be(look: Look) -> None:
    """Which asks Sizes, and draws no larger than the monitor."""
    window = PlacerWindow(Placing(), look, print)
    monitor = window._placer.monitor
    for size in range(round(LEAST), round(LARGEST) + 1, 10):
        plate = window.plate(monitor, size)
        if plate[0] <= monitor.width and plate[1] <= monitor.height:
            assert plate == Drawing(Sizes(look, size).on(monitor)).size


def test_home_and_every_size_can_be_drawn() -> None:
    kept = run(
        Placing(None, 0.9, 0.9, LEAST),
        *[lambda: press(LARGER_BUTTON)] * 60,
        *(lambda: press(RESET_BUTTON), lambda: press(0)),
        frames=1,
    )
    assert kept == Placing()


@pytest.mark.parametrize("error", [pygame.error, OSError])
def test_where_drawing_fails_one_line_says_so(error: type[Exception], monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_given: object) -> None:
        raise error("it is no more")

    monkeypatch.setattr(module.Caption, "draw", broken)
    with pytest.raises(WorkError, match=r"^it is no more: the placing is left as it was$"):
        run(Placing())
    assert not pygame.display.get_init()
