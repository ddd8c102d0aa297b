"""The layout mode's window: the plate where it is, the strip of words beside it, all on the monitor."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from coach.overlay.caption import Caption
from coach.overlay.luminance import ratio
from coach.overlay.monitors import Monitor
from coach.overlay.palette import DEFAULT
from coach.overlay.placer import Rect
from coach.overlay.placing import LARGEST, LEAST
from coach.overlay.stand import Stand, stand_of
from coach.overlay.toolkit import pygame

MONITOR = Monitor("one", 100, 50, 1000, 600, None, True)


def test_the_strip_is_under_the_plate() -> None:
    stand = stand_of(Rect(300, 60, 200, 172), MONITOR, 34)
    assert stand == Stand(Rect(300, 60, 200, 206), Rect(0, 0, 200, 172), Rect(0, 172, 200, 34))


def test_where_there_is_no_room_below_it_is_above() -> None:
    stand = stand_of(Rect(300, 478, 200, 172), MONITOR, 34)
    assert stand == Stand(Rect(300, 444, 200, 206), Rect(0, 34, 200, 172), Rect(0, 0, 200, 34))


def test_where_there_is_no_room_at_all_it_is_on_the_plate() -> None:
    stand = stand_of(Rect(300, 60, 700, 590), MONITOR, 34)
    assert stand == Stand(Rect(300, 60, 700, 590), Rect(0, 0, 700, 590), Rect(0, 556, 700, 34))


@given(share=st.floats(0.0, 1.0), tall=st.integers(40, 600), height=st.integers(10, 40))
def test_the_plate_is_where_it_was_put_and_the_window_on_the_monitor(share: float, tall: int, height: int) -> None:
    plate = Rect(150, MONITOR.top + round(share * (MONITOR.height - tall)), 200, tall)
    stand = stand_of(plate, MONITOR, height)
    assert (stand.window.left + stand.plate.left, stand.window.top + stand.plate.top) == plate[:2]
    assert stand.plate[2:] == plate[2:]
    assert stand.window.top >= MONITOR.top
    assert stand.window.top + stand.window.height <= MONITOR.top + MONITOR.height
    for part in (stand.plate, stand.strip):
        assert pygame.Rect(0, 0, *stand.window[2:]).contains(pygame.Rect(part))


def test_the_words_fit_at_every_size_and_are_legible() -> None:
    """The strip's capitals have the least height that text may have, whatever the plate's; 4.5:1 is of WCAG 2.2."""
    caption = Caption(18, DEFAULT)
    assert ratio(DEFAULT.plate, DEFAULT.plain) >= 4.5
    for size in range(round(LEAST), round(LARGEST) + 1, 2):
        width = round(224 * size / 30)
        text = caption.text(size, width)
        assert text.startswith(f"{size}'  Enter"), "it tells the size and how to end, at the least size too"
        surface = pygame.Surface((width, caption.height))
        caption.draw(surface, surface.get_rect(), size)
        inked = pygame.mask.from_threshold(surface, DEFAULT.plain, (60, 60, 60)).get_bounding_rects()
        whole = inked[0].unionall(inked[1:])
        assert whole.left >= 4 and whole.right <= width - 4
        assert whole.height >= 18 and whole.top >= 2 and whole.bottom <= caption.height - 2


def test_a_strip_draws_nothing_beside_itself() -> None:
    caption = Caption(18, DEFAULT)
    surface = pygame.Surface((224, 100))
    surface.fill((1, 2, 3))
    caption.draw(surface, pygame.Rect(0, 40, 224, caption.height), 30.0)
    assert surface.get_at((0, 39))[:3] == (1, 2, 3) == surface.get_at((0, 40 + caption.height))[:3]
    assert surface.get_at((0, 40))[:3] == DEFAULT.plate
