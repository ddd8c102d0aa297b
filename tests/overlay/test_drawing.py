"""The picture itself, by its pixels: place, shape, light and hue. No screen is needed: it is a plain surface."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise, product
from math import atan, degrees

import numpy as np
import pytest

from coach.overlay.drawing import CAP_HEIGHT, Drawing
from coach.overlay.easing import Easing
from coach.overlay.palette import AHEAD, BEHIND, PLATE
from coach.overlay.scales import offset_of
from coach.overlay.toolkit import pygame
from coach.overlay.view import View
from coach.playbook.load import default_in
from tests.overlay.light import contrast, luminance
from tests.overlay.pictures import (
    EVERY,
    LOST,
    PAUSED,
    PIT,
    SILENT,
    WAITING,
    WORDS,
    columns,
    drawn,
    driving,
    middle,
    picture,
    rows,
)

DELTAS = (0.02, 0.05, 0.1, 0.3, 0.6, 1.0, 2.0, 3.0, 60.0)
SCALES = (0.5, 1.0, 1.3, 2.0)


# place


def test_ahead_is_above_the_line_and_behind_below() -> None:
    for delta in (0.3, 1.0, 3.0):
        assert rows(drawn(driving(-delta)))[1] <= middle()
        assert rows(drawn(driving(delta)))[0] >= middle() - 1


@pytest.mark.parametrize("scale", SCALES)
def test_more_is_farther_from_the_line_and_all_stays_on_the_plate(scale: float) -> None:
    for sign in (-1, 1):
        tops = [rows(drawn(driving(sign * delta), scale))[0] for delta in DELTAS]
        assert all((later - sooner) * sign >= 0 for sooner, later in pairwise(tops))
        for delta, slope in product(DELTAS, (-1.0, 1.0)):
            mask = drawn(driving(sign * delta, slope), scale)
            free = round(4 * scale)
            assert not mask[:free].any() and not mask[-free:].any()
            assert not mask[:, 0].any() and not mask[:, -1].any()


def test_a_twentieth_of_a_second_moves_it_by_more_than_an_eye_at_rest_overlooks() -> None:
    """5 px are 5.7 arcmin at 0.7 m; displacement of a vernier is seen from seconds of arc on (common practice)."""
    level = rows(drawn(driving(0.0)))[0]
    assert level - rows(drawn(driving(-0.05)))[0] >= 5
    assert rows(drawn(driving(0.05)))[0] - level >= 5


# shape


def test_ahead_is_solid_and_behind_hollow() -> None:
    for delta in (0.3, 1.0, 3.0):
        for sign, filled in ((-1, True), (1, False)):
            pixels, mask = picture(driving(sign * delta)), drawn(driving(sign * delta))
            first, last = rows(mask)
            heart = tuple(int(value) for value in pixels[(first + last) // 2, pixels.shape[1] // 2])
            assert (heart != PLATE) is filled


def test_states_differ_without_colour() -> None:
    """WCAG 2.2, 1.4.1: colour is never the only carrier. Grey pictures differ in two hundred pixels at least."""
    grey = {name: luminance(picture(view)) for name, view in EVERY.items()}
    for one, other in combinations(EVERY, 2):
        lighter = np.maximum(grey[one], grey[other]) + 0.05
        darker = np.minimum(grey[one], grey[other]) + 0.05
        assert (lighter / darker > 1.5).sum() >= 200, f"{one} looks like {other}"


def test_the_wake_trails_behind_and_is_longer_when_it_is_quicker() -> None:
    for delta in (-0.5, -0.05, 0.05, 0.5):
        still = rows(drawn(driving(delta)))
        gaining = [rows(drawn(driving(delta, -rate))) for rate in (0.03, 0.1, 0.3)]
        losing = [rows(drawn(driving(delta, rate))) for rate in (0.03, 0.1, 0.3)]
        lowest = [last for _, last in gaining]
        highest = [first for first, _ in losing]
        assert still[1] < lowest[0] < lowest[1] < lowest[2]
        assert still[0] > highest[0] > highest[1] > highest[2]
        assert all(first == still[0] for first, _ in gaining)
        assert all(last == still[1] for _, last in losing)


def test_waiting_is_dashed_dim_and_on_the_line() -> None:
    def dashes(view: View) -> int:
        above = luminance(picture(view))[4 : middle() - 2, 4:-4].max(axis=0) > 0.05
        return int(np.diff(above.astype(int)).clip(0).sum())

    first, last = rows(drawn(WAITING))
    assert first + last == pytest.approx(2 * middle(), abs=2)
    assert luminance(picture(WAITING)).max() < luminance(picture(driving(0.0))).max()
    assert dashes(driving(0.0)) == 1
    assert dashes(WAITING) >= 7


def test_where_nothing_is_driven_it_is_dim_and_nothing_floats() -> None:
    for view in (SILENT, PIT, PAUSED, LOST):
        loud = View(view.state, 0.8, 1.0, 0.5, "+0.42", 1.0)
        assert (picture(loud) == picture(view)).all()
        assert luminance(picture(view)).max() < luminance(picture(driving(0.0))).max()
        assert contrast(picture(view)) >= 3.0


# the number


@pytest.mark.parametrize("scale", SCALES)
def test_digits_are_as_high_as_asked(scale: float) -> None:
    for delta in (-0.33, 0.86, 8.0):
        mask = drawn(driving(delta, number=True), scale) & ~drawn(driving(delta), scale)
        first, last = rows(mask)
        assert 26 * scale - 1 <= last - first + 1 <= 26 * scale + 3


def test_digits_are_over_twenty_minutes_of_arc_high() -> None:
    """20 arcmin are preferred (ISO 15008, by memory of the standard: not seen); the angle is arctan(height/distance)
    (FHWA-RD-98-057, chapter 11). A 27-inch screen of 2560 x 1440 has pixels of 0.2331 mm."""
    mask = drawn(driving(0.86, number=True)) & ~drawn(driving(0.86))
    first, last = rows(mask)
    height = (last - first + 1) * 0.2331e-3
    assert degrees(atan(height / 0.7)) * 60 >= 20.0
    assert degrees(atan(18 * 0.2331e-3 / 0.7)) * 60 == pytest.approx(20.6, abs=0.1)  # the row's own worked value


def test_digits_have_seven_to_one() -> None:
    """WCAG 2.2, 1.4.6 (AAA); FHWA-RD-98-057, chapter 3, prefers 7:1 too."""
    mask = drawn(driving(0.42, number=True)) & ~drawn(driving(0.42))
    pixels = picture(driving(0.42, number=True))
    lit = np.where(mask[..., None], pixels, np.array(PLATE, np.uint8)).astype(np.uint8)
    assert contrast(lit) >= 7.0


@pytest.mark.parametrize("scale", SCALES)
def test_a_number_stands_clear_of_float_line_and_edge(scale: float) -> None:
    for delta in (*DELTAS, *(-delta for delta in DELTAS), 0.0, 9.96, -9.96, 12.34, -98.76):
        alone, both = drawn(driving(delta), scale), drawn(driving(delta, 0.5, number=True), scale)
        number = both & ~alone
        assert number.any()
        assert (both & alone == alone).all(), "the wake is gone, the float is whole"
        first, last = rows(number)
        low, high = rows(alone)
        assert last < low - 2 or first > high + 2
        assert first > 3 * scale and last < alone.shape[0] - 3 * scale
        left, right = columns(number)
        assert left > 3 * scale and right < alone.shape[1] - 3 * scale


def test_a_number_fades() -> None:
    def light(alpha: float) -> float:
        view = View("driving", offset_of(0.42), 0.8, 0.0, "+0.42", alpha, True)
        return float(luminance(picture(view))[4 : middle() - 10, 4:-4].max())

    lights = [light(alpha) for alpha in (0.0, 0.25, 0.5, 1.0)]
    assert all(sooner < later for sooner, later in pairwise(lights))


# words and the rest of the plate


def said(text: str, delta: float | None = None, alpha: float = 1.0, above: bool = False) -> View:
    offset = 0.0 if delta is None else offset_of(delta)
    return View("driving", offset, 0.8, 0.0, text, alpha, above, timed=delta is not None)


def short_words(language: str) -> list[str]:
    return [wording.short for wording in default_in(language).language.wordings.values()]


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("scale", SCALES)
def test_the_words_of_every_fault_fit_and_stay_clear_of_float_line_and_edge(language: str, scale: float) -> None:
    for text in short_words(language):
        for above in (False, True):
            mask = drawn(said(text, above=above), scale)
            first, last = rows(mask)
            left, right = columns(mask)
            assert left > 3 * scale and right < mask.shape[1] - 3 * scale, text
            assert first > 3 * scale and last < mask.shape[0] - 3 * scale, text
            level = rows(drawn(driving(0.0), scale))
            assert last < level[0] - 1 or first > level[1] + 1, text


def test_words_are_never_lower_than_two_thirds_of_the_digits() -> None:
    """20 arcmin where digits have 30: see the digits above."""
    for text in ("Hold", "Hold hold", "Länger ausdrehen", "Innen näher heran"):
        highest = max(run_of_rows(drawn(said(letter_high(text)))))
        assert highest >= 2 / 3 * CAP_HEIGHT, text


def letter_high(text: str) -> str:
    """As wide a text, of letters as high as a capital and no higher."""
    return "".join(" " if letter == " " else "H" if letter.isupper() else "l" for letter in text)


def run_of_rows(mask: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[int]:
    """The heights of the lines of a text."""
    inked = mask.any(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], inked, [False])).astype(int)))
    return [int(end - begin) for begin, end in zip(edges[::2], edges[1::2], strict=True)]


@pytest.mark.parametrize("text", ["Donaudampfschifffahrt", "Throttle considerably sooner everywhere", "W" * 14])
def test_what_fits_in_no_height_that_is_read_is_not_shown(text: str) -> None:
    assert Drawing().frame(said(text)).text == ""
    assert not drawn(said(text)).any()


def test_words_that_would_be_too_low_are_not_shown() -> None:
    """A person may want digits of 20 arcmin; words in two lines would have 15 then."""
    for least, shows in ((0, True), (20, True), (21, False)):
        assert bool(Drawing(least=least).frame(said("Throttle sooner")).text) is shows
    low = Drawing(least=26)
    assert low.frame(said("Früher Gas")).text == "Früher Gas"
    assert low.frame(said("+0.42")).text == "+0.42"


@pytest.mark.parametrize("text", [WORDS, "+0.42"])
@pytest.mark.parametrize("above", [False, True])
def test_the_float_never_touches_a_text_even_if_it_crosses_the_line(text: str, above: bool) -> None:
    alone = drawn(said(text, above=above))
    for delta in (-3.0, -0.5, -0.1, 0.0, 0.1, 0.5, 3.0):
        both = drawn(said(text, delta, above=above))
        others = both & ~alone
        text_rows, float_rows = rows(alone), rows(others)
        assert text_rows[1] < float_rows[0] or text_rows[0] > float_rows[1]
        assert (both & alone == alone).all()


def test_a_text_that_fades_gives_the_float_back_its_place_step_by_step() -> None:
    drawing = Drawing()
    ups = [drawing.frame(said(WORDS, -0.5, alpha, above=True)).up for alpha in np.linspace(1.0, 0.0, 25)]
    assert ups == sorted(ups)
    assert ups[-1] == drawing.frame(driving(-0.5)).up > ups[0] + 10
    assert max(later - sooner for sooner, later in pairwise(ups)) <= 8


@pytest.mark.parametrize("scale", SCALES)
def test_sign_and_drop_stay_free_of_all_else(scale: float) -> None:
    line = slice(middle(scale) - 2, middle(scale) + 3)
    texts = [*short_words("de"), *short_words("en")]
    read = sum(drawn(said(text, above=above), scale) for text in texts for above in (False, True)) > 0
    for extra in ({"sign": "gears"}, {"sign": "line"}, {"noted": 1.0}):
        mark = drawn(View("driving", timed=False, **extra), scale)  # type: ignore[arg-type]
        assert mark.any() and not (read & mark).any()
        for view in (driving(0.0), driving(0.3, 1.0), driving(-3.0, -1.0), driving(3.0, 1.0)):
            others = drawn(view, scale)
            others[line] = False
            assert not (others & mark).any()


def test_a_sign_is_dim_and_has_three_to_one() -> None:
    """WCAG 2.2, 1.4.11, of graphics."""
    for sign in ("brakes", "line", "throttle", "gears", "grip"):
        lit = picture(View("driving", timed=False, sign=sign))[:, 6:42]  # type: ignore[arg-type]
        assert 3.0 <= contrast(lit) < contrast(picture(driving(0.0)))


def test_a_sign_is_seen_while_a_source_sends_and_only_then() -> None:
    for view in (SILENT, LOST):
        assert (picture(replace(view, sign="line")) == picture(view)).all()
    for view in (WAITING, PIT, PAUSED, driving(0.3)):
        assert (picture(replace(view, sign="line")) != picture(view)).any()


# times hidden


def test_where_times_are_hidden_no_pixel_tells_of_a_delta() -> None:
    for sign in (None, "line"):
        for delta, slope in product((0.0, -0.02, 0.4, -3.0, 60.0), (0.0, -0.2, 0.2)):
            known = driving(delta, slope)
            hidden = View("driving", known.offset, known.brightness, known.trend, sign=sign, timed=False)  # type: ignore[arg-type]
            assert (picture(hidden) == picture(View("driving", sign=sign, timed=False))).all()  # type: ignore[arg-type]


# colours


def test_the_float_has_four_and_a_half_to_one_wherever_it_is() -> None:
    """WCAG 2.2, 1.4.11 asks 3:1 of graphics; this holds what it asks of text."""
    for delta in (0.0, *DELTAS, *(-delta for delta in DELTAS)):
        pixels, mask = picture(driving(delta)), drawn(driving(delta))
        lit = np.where(mask[..., None], pixels, np.array(PLATE, np.uint8)).astype(np.uint8)
        assert contrast(lit) >= 4.5, delta


def test_ahead_and_behind_have_their_own_colours() -> None:
    for delta, own, other in ((-3.0, AHEAD, BEHIND), (3.0, BEHIND, AHEAD)):
        pixels = picture(driving(delta))
        assert (pixels == own).all(axis=-1).sum() > 100
        assert not (pixels == other).all(axis=-1).any()


def test_nothing_is_green_or_red() -> None:
    for name, view in EVERY.items():
        pixels = picture(view).reshape(-1, 3).astype(float) / 255
        high, low = pixels.max(axis=1), pixels.min(axis=1)
        vivid = high - low > 0.2
        red, green, blue = pixels[vivid].T
        hue = np.degrees(np.arctan2(np.sqrt(3) * (green - blue), 2 * red - green - blue)) % 360
        assert not ((hue > 75) & (hue < 170)).any(), f"green in {name}"
        assert not ((hue < 25) | (hue > 335)).any(), f"red in {name}"


# frames


def test_equal_frames_are_equal_pictures_whatever_was_there() -> None:
    drawing = Drawing()
    clean, dirty = pygame.Surface(drawing.size), pygame.Surface(drawing.size)
    for before in EVERY.values():
        drawing.draw(dirty, drawing.frame(before))
        for view in EVERY.values():
            drawing.draw(dirty, drawing.frame(view))
            clean.fill((255, 0, 255))
            drawing.draw(clean, drawing.frame(view))
            assert (pygame.surfarray.array3d(clean) == pygame.surfarray.array3d(dirty)).all()


def test_a_view_at_rest_has_one_frame() -> None:
    drawing, easing = Drawing(), Easing()
    easing.at(driving(0.0), 0.0)
    frames = [drawing.frame(easing.at(driving(0.3), step / 30)) for step in range(90)]
    assert len(set(frames[:30])) > 5
    assert len(set(frames[60:])) == 1
