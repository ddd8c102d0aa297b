"""Contrast by WCAG 2.2, and what is said of colours that have too little."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wcag_contrast_ratio import rgb  # type: ignore[import-untyped]

from coach.overlay.contrast import APART, GRAPHICS, GROUNDS, MARK, PAIR, RIM, TEXT, checked, shortfall
from coach.overlay.look import OPACITY
from coach.overlay.luminance import luminance, ratio
from coach.overlay.palette import DEFAULT, DIMMEST, FAINT, Colour, Palette, blend
from coach.overlay.vision import least_distance
from coach.vocabulary.errors import InputError
from tests.overlay import light

WHITE, BLACK = (255, 255, 255), (0, 0, 0)
GOLDEN = [
    (BLACK, WHITE, 21.0),
    ((0x76, 0x76, 0x76), WHITE, 4.5422),
    ((0x77, 0x77, 0x77), WHITE, 4.4781),
    ((0x94, 0x94, 0x94), WHITE, 3.0335),
    ((0x95, 0x95, 0x95), WHITE, 2.9953),
    ((0x59, 0x59, 0x59), WHITE, 7.0047),
    ((0x75, 0x75, 0x75), BLACK, 4.5578),
    ((0x74, 0x74, 0x74), BLACK, 4.4929),
    ((255, 0, 0), WHITE, 3.9985),
    ((255, 0, 0), BLACK, 5.252),
    ((0, 255, 0), BLACK, 15.304),
    ((0, 0, 255), BLACK, 2.444),
]
"""Known values of WCAG 2.2's formula: 4.5:1 lies between #767676 and #777777 on white."""
NEEDED = [
    *(("plain", 1.0, TEXT), ("plain", FAINT, GRAPHICS), ("ahead", 1.0, MARK), ("behind", 1.0, MARK)),
    *(("ahead", DIMMEST, GRAPHICS), ("behind", DIMMEST, GRAPHICS)),
]
channel = st.integers(0, 255)
colours = st.tuples(channel, channel, channel)


@pytest.mark.parametrize(("one", "other", "expected"), GOLDEN)
def test_known_contrasts(one: Colour, other: Colour, expected: float) -> None:
    assert ratio(one, other) == ratio(other, one) == pytest.approx(expected, abs=1e-3)
    assert light.ratio(one, other) == pytest.approx(expected, abs=1e-3)


@given(colours, colours)
def test_our_formula_is_the_librarys(one: Colour, other: Colour) -> None:
    """wcag-contrast-ratio has the knee of before May 2021, which no colour of 8 bits falls between."""
    theirs = rgb(*(tuple(value / 255 for value in colour) for colour in (one, other)))
    assert ratio(one, other) == pytest.approx(theirs, rel=1e-6)
    assert ratio(one, other) == pytest.approx(light.ratio(one, other))


def test_luminance_of_the_primaries() -> None:
    """WCAG 2.2's weights themselves."""
    for colour, expected in (((255, 0, 0), 0.2126), ((0, 255, 0), 0.7152), ((0, 0, 255), 0.0722), (WHITE, 1.0)):
        assert luminance(colour) == pytest.approx(expected)


@pytest.mark.parametrize("opacity", [OPACITY, 0.95, 1.0])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize(("key", "share", "needed"), NEEDED)
def test_the_usual_colours_hold_over_every_ground(
    key: str, share: float, needed: float, ground: str, opacity: float
) -> None:
    """7:1 for text (WCAG 1.4.6), 3:1 for graphics (1.4.11; FHWA-RD-98-057, chapter 3, has 3:1 minimum, 7:1 preferred),
    a seventh to spare; clause numbers from memory."""
    plate = blend(GROUNDS[ground], DEFAULT.plate, opacity)
    measured = light.ratio(blend(DEFAULT.plate, getattr(DEFAULT, key), share), plate)
    assert measured >= needed * 8 / 7
    assert shortfall(DEFAULT, opacity) is None


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize(("key", "share", "needed"), NEEDED)
def test_they_hold_where_a_whole_window_is_seen_through(key: str, share: float, needed: float, ground: str) -> None:
    """As on Windows, where marks take on something of the ground as well as the plate."""
    shown = blend(DEFAULT.plate, getattr(DEFAULT, key), share)
    marked, plate = (blend(GROUNDS[ground], colour, OPACITY) for colour in (shown, DEFAULT.plate))
    assert light.ratio(marked, plate) >= needed


def test_the_three_grounds_are_the_worst_there_are() -> None:
    """Over no grey is anything seen worse than over the worst of black, mid-grey and white."""
    for key, share, _ in NEEDED:
        shown = blend(DEFAULT.plate, getattr(DEFAULT, key), share)
        over = [ratio(shown, blend((grey, grey, grey), DEFAULT.plate, OPACITY)) for grey in range(256)]
        assert min(over) == min(ratio(shown, blend(ground, DEFAULT.plate, OPACITY)) for ground in GROUNDS.values())


def test_rim_or_plate_stands_out_from_any_grey() -> None:
    for grey in range(256):
        ground = (grey, grey, grey)
        plate = blend(ground, DEFAULT.plate, OPACITY)
        assert max(ratio(DEFAULT.rim, ground), ratio(plate, ground)) >= sqrt(RIM)


def with_(**colours: Colour) -> Palette:
    return replace(DEFAULT, **colours)


@pytest.mark.parametrize(
    ("palette", "opacity", "says"),
    [
        (
            with_(plain=(0x80, 0x80, 0x80)),
            1.0,
            "plain: #808080 has a contrast of 4.74:1 on the plate, 7:1 is needed: choose a colour that ",
        ),
        (
            DEFAULT,
            0.8,
            "ahead: #56b4e9 has a contrast of 4.41:1 on the plate over a white ground (80% opaque), 4.5:1 is needed: ",
        ),
        (
            DEFAULT,
            0.84,
            "ahead: #56b4e9, dimmed to 70%, has a contrast of 2.82:1 on the plate over a white ground (84% opaque), "
            "3:1 is needed: ",
        ),
        (
            with_(rim=(20, 20, 20)),
            OPACITY,
            "rim: #141414 has a contrast of 1.01:1 to the plate, at least 2:1 is needed",
        ),
        (
            with_(behind=(230, 159, 0)),
            OPACITY,
            "behind: #e69f00 has a contrast of 1.02:1 to ahead (#56b4e9), at least 1.3:1 is needed where no colour ",
        ),
        (
            with_(ahead=(0, 255, 0), behind=(255, 170, 170)),
            OPACITY,
            "behind: #ffaaaa differs from ahead (#00ff00) by ",
        ),
    ],
)
def test_a_bad_choice_is_refused_with_what_was_measured(palette: Palette, opacity: float, says: str) -> None:
    with pytest.raises(InputError) as caught:
        checked(palette, opacity)
    assert str(caught.value).startswith(f"overlay.colours.{says}")
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 2


def test_what_serves_is_given_back() -> None:
    assert checked(DEFAULT, OPACITY) is DEFAULT
    light_plate = Palette((245, 245, 245), (150, 150, 150), (0, 90, 190), (60, 20, 0), (10, 10, 10))
    assert checked(light_plate, 1.0) is light_plate


bright, dark = (st.tuples(*[st.integers(*ends)] * 3) for ends in ((90, 255), (0, 60)))


@given(bright, bright, dark, st.floats(0.85, 1.0))
def test_whatever_passes_can_be_seen_and_told_apart(
    ahead: Colour, behind: Colour, plate: Colour, opacity: float
) -> None:
    palette = with_(ahead=ahead, behind=behind, plate=plate)
    if shortfall(palette, opacity) is not None:
        return
    assert light.ratio(ahead, behind) >= PAIR
    assert least_distance(ahead, behind)[0] >= APART
    for (key, share, needed), ground in product(NEEDED, GROUNDS.values()):
        shown = blend(plate, getattr(palette, key), share)
        assert light.ratio(shown, blend(ground, plate, opacity)) >= needed


def test_a_measure_that_falls_short_never_reads_as_if_it_reached() -> None:
    """4.4999 is cut to 4.49, not rounded to 4.50."""
    for grey in range(256):
        found = shortfall(with_(ahead=(grey, grey, grey)), 1.0)
        if found is not None and found.key == "ahead" and "dimmed" not in found.what:
            assert float(found.what.partition("contrast of ")[2].partition(":1")[0]) < MARK
