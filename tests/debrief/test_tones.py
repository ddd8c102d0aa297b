"""The colours: contrast by an independent reckoning of WCAG, distances for every colour vision by CAM02-UCS."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from colorspacious import cspace_convert, deltaE
from wcag_contrast_ratio import rgb

from coach.debrief.shell import asset
from coach.debrief.tones import DARK, LIGHT, LINES, paint, style

TEXT, GRAPHICS = 4.5, 3.0
"""WCAG 2.2, 1.4.3 and 1.4.11 (clause numbers from memory)."""
APART = 20.0
"""CAM02-UCS: green and red have 8 to 17 for those who see no green, or no red (checks.md 1.19); (choice)"""
VISIONS = (None, "deuteranomaly", "protanomaly", "tritanomaly")
GROUNDS = ("ground", "panel")
SETS = pytest.mark.parametrize("tones", [LIGHT, DARK], ids=["light", "dark"])


def channels(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    return red, green, blue


def contrast(one: str, other: str) -> float:
    return float(rgb(channels(one), channels(other)))


def seen(colour: str, vision: str | None) -> object:
    if vision is None:
        return channels(colour)
    space = {"name": "sRGB1+CVD", "cvd_type": vision, "severity": 100}
    return cspace_convert(channels(colour), space, "sRGB1")


@SETS
@pytest.mark.parametrize("name", ["ink", "soft", "accent"])
@pytest.mark.parametrize("ground", GROUNDS)
def test_words_stand_out(tones: dict[str, str], name: str, ground: str) -> None:
    assert contrast(tones[name], tones[ground]) >= TEXT


@SETS
@pytest.mark.parametrize("tint", [name for name in LIGHT if name.startswith("tint")])
def test_words_stand_out_on_every_shade(tones: dict[str, str], tint: str) -> None:
    assert contrast(tones["ink"], tones[tint]) >= TEXT


@SETS
@pytest.mark.parametrize("name", ["lost1", "lost2", "gained1", "gained2", "even", "edge", "entry", "exit", *LINES])
def test_what_is_drawn_stands_out(tones: dict[str, str], name: str) -> None:
    assert contrast(tones[name], tones["panel"]) >= GRAPHICS


@SETS
@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("number", ["1", "2"])
def test_lost_and_gained_are_told_apart_by_everyone(tones: dict[str, str], vision: str | None, number: str) -> None:
    lost, gained = seen(tones[f"lost{number}"], vision), seen(tones[f"gained{number}"], vision)
    assert deltaE(lost, gained, input_space="sRGB1", uniform_space="CAM02-UCS") >= APART


@SETS
def test_lost_and_gained_are_stepped_in_lightness(tones: dict[str, str]) -> None:
    for kind in ("lost", "gained"):
        one, two = (contrast(tones[f"{kind}{number}"], tones["panel"]) for number in "12")
        assert two >= 1.5 * one


@SETS
def test_shades_grow(tones: dict[str, str]) -> None:
    for kind in ("lost", "gained"):
        steps = [contrast(tones[f"tint-{kind}{number}"], tones["panel"]) for number in "123"]
        assert steps == sorted(steps) and steps[0] > 1.02


@SETS
def test_the_first_lines_are_told_apart_by_everyone(tones: dict[str, str]) -> None:
    for one, other in combinations(LINES[:2], 2):
        for vision in VISIONS:
            apart = deltaE(seen(tones[one], vision), seen(tones[other], vision), input_space="sRGB1")
            assert apart >= APART


def test_both_grounds_have_every_tone_and_the_sheet_uses_no_other() -> None:
    assert LIGHT.keys() == DARK.keys()
    used = set(re.findall(r"var\(--([a-z0-9-]+)\)", asset("page.css") + style()))
    assert used <= LIGHT.keys()


def test_paint_writes_the_colour_in_and_names_the_class() -> None:
    assert paint("ink", "soft") == f'fill="{LIGHT["ink"]}" stroke="{LIGHT["soft"]}" class="f-ink s-soft"'
    assert paint(stroke="ink") == f'fill="none" stroke="{LIGHT["ink"]}" class="s-ink"'


def test_paper_is_light_last() -> None:
    assert style().index("@media print") > style().index("prefers-color-scheme:dark")
