"""Text as it is drawn: size, place, colour and strength."""

from __future__ import annotations

import pytest

from coach.overlay.letters import SOLID, Letters
from coach.overlay.palette import PLAIN, PLATE
from coach.overlay.toolkit import pygame

SIZES = [9, 12, 15, 18, 20, 26, 40, 97]
MINUS = "\N{MINUS SIGN}"


def drawn(letters: Letters, text: str, alpha: int = 255) -> tuple[pygame.Surface, pygame.Rect]:
    surface = pygame.Surface((letters.width(text) + 40, 3 * letters.line), pygame.SRCALPHA)
    return surface, letters.draw(surface, text, surface.get_rect().center, alpha)


@pytest.mark.parametrize("size", SIZES)
def test_capitals_and_digits_are_as_high_as_asked_for(size: int) -> None:
    letters = Letters(size, PLAIN)
    assert size <= letters.cap_height <= size + 1 + size // 20
    for one in "0H5ET1":
        height = drawn(letters, one)[0].get_bounding_rect(SOLID).height
        assert size <= height <= letters.cap_height + 1 + size // 20


@pytest.mark.parametrize("size", SIZES)
def test_a_pixel_more_asked_for_is_never_drawn_smaller(size: int) -> None:
    assert Letters(size, PLAIN).cap_height >= Letters(size - 1, PLAIN).cap_height


@pytest.mark.parametrize("text", ["H", f"{MINUS}0.42", "HHHH"])
def test_its_middle_is_where_it_was_asked_for(text: str) -> None:
    letters = Letters(26, PLAIN)
    surface, where = drawn(letters, text)
    ink, middle = surface.get_bounding_rect(SOLID), surface.get_rect().center
    assert abs(ink.centerx - middle[0]) <= 2
    assert abs(ink.centery - middle[1]) <= 1
    assert where.contains(ink)


def test_a_word_with_a_descender_keeps_the_line_of_its_capitals() -> None:
    letters = Letters(26, PLAIN)
    for text in ("Gas", "Gangy", "Ä"):
        surface = drawn(letters, text)[0]
        capital = surface.subsurface((0, 0, 20 + letters.width(text[0]), surface.get_height()))
        bottom = capital.get_bounding_rect(SOLID).bottom
        assert abs(bottom - (surface.get_height() // 2 + 13)) <= 2, text


@pytest.mark.parametrize("text", [f"{MINUS}0.42", "+13.7", "0.00", "Innen näher heran", "Gentler throttle"])
def test_the_width_holds_all_of_it(text: str) -> None:
    letters = Letters(26, PLAIN)
    surface, where = drawn(letters, text)
    assert where.width == letters.width(text)
    assert where.contains(surface.get_bounding_rect())
    assert surface.get_bounding_rect().width >= 0.8 * where.width


def test_numbers_of_as_many_digits_are_equally_wide() -> None:
    """So that the layout does not jump."""
    letters = Letters(26, PLAIN)
    assert len({letters.width(f"{sign}0.{digits}") for sign in ("+", MINUS) for digits in ("11", "42", "90")}) == 1


def test_two_lines_do_not_touch() -> None:
    """A stem's width at least between them (ISO 15008, as fontbakery has it): an eighth of a capital here."""
    letters = Letters(40, PLAIN)
    surface = pygame.Surface((300, 4 * letters.line), pygame.SRCALPHA)
    rows: list[pygame.Rect] = []
    for line, text in enumerate(("gjpqy", "Hhlk")):
        alone = surface.copy()
        letters.draw(alone, text, (150, (line + 1) * letters.line), 255)
        rows.append(alone.get_bounding_rect())
    assert rows[1].top - rows[0].bottom >= 40 * 0.12


@pytest.mark.parametrize("alpha", [0, 64, 128, 255])
def test_it_is_as_strong_as_asked_for_and_again(alpha: int) -> None:
    """The kept picture of a text is the same one each time, whatever strength it had before."""
    letters = Letters(40, PLAIN)
    for strength in (255, alpha, 255, alpha):
        surface = pygame.Surface((200, 100))
        surface.fill(PLATE)
        letters.draw(surface, "H", (100, 50), strength)
        brightest = max(surface.get_at((x, 50))[1] for x in range(200))
        expected = PLATE[1] + (PLAIN[1] - PLATE[1]) * strength / 255
        assert abs(brightest - expected) <= 2


def test_it_has_the_one_colour() -> None:
    """And what smoothing mixes of it and the ground."""
    letters = Letters(26, PLAIN)
    surface = pygame.Surface((300, 80))
    letters.draw(surface, "Gas", (150, 40), 255)
    shades = {tuple(surface.get_at((x, y)))[:3] for x in range(300) for y in range(80)}
    assert PLAIN in shades
    assert all(shade[0] <= PLAIN[0] and shade[1] <= PLAIN[1] and shade[2] <= PLAIN[2] for shade in shades)
