"""The font that is shipped: its proportions, its characters and its licence."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from coach.overlay.font import FONT, HELD, lacking
from coach.overlay.scales import number_of
from coach.overlay.toolkit import pygame
from tests.overlay.proportions import Measured, Proportions

PYGAMES = Path(pygame.__file__).parent / "freesansbold.ttf"
LARGEST = 200_000
"""bytes that a font may add to the package (choice)."""
LANGUAGES = Path(__file__).parents[2] / "coach" / "playbook" / "languages"


def within(found: Proportions) -> dict[str, bool]:
    """ISO 15008, as fontbakery's profile has it."""
    return {
        "width": 0.65 <= found.width <= 0.80,
        "stem": 0.10 <= found.stem <= 0.20,
        "verticals": 1.5 <= found.verticals <= 2.4,
        "diagonals": found.diagonals > 0.85,
        "touching": found.touching > 0.0,
        "words": 2.5 <= found.words <= 3.0,
        "lines": found.lines >= 1.0,
    }


def test_the_font_has_the_proportions_of_iso_15008() -> None:
    found = Measured(FONT).proportions()
    assert within(found) == dict.fromkeys(Proportions._fields, True)
    measured = (0.762, 0.118, 2.09, 1.38, 0.060, 2.67, 2.18)
    assert found == pytest.approx(measured, abs=0.01), "as measured with beziers and uharfbuzz, kerning and all"


def test_pygames_own_font_has_not() -> None:
    """Why another one is shipped: it is too wide, and bold letters stand too close."""
    passes = within(Measured(PYGAMES).proportions())
    assert [name for name, fine in passes.items() if not fine] == ["width", "verticals", "diagonals", "words"]


def test_digits_are_equally_wide_and_so_are_the_signs() -> None:
    """So that a number does not jump with its digits."""
    font = Measured(FONT)
    assert len({font.advance(digit) for digit in "0123456789"}) == 1
    assert font.advance("+") == font.advance("\N{MINUS SIGN}")


def test_it_holds_what_it_says_it_holds() -> None:
    named = {code for held in HELD for code in held}
    assert named <= set(Measured(FONT).names)
    assert "".join(chr(code) for code in named if lacking(chr(code))) == ""


@pytest.mark.parametrize("language", sorted(LANGUAGES.glob("*.toml")), ids=lambda path: path.stem)
def test_it_holds_every_letter_of_the_wordings_and_of_numbers(language: Path) -> None:
    wordings = tomllib.loads(language.read_text(encoding="utf-8"))["wordings"].values()
    texts = [text for wording in wordings for text in (*wording["say"], wording["short"], wording["topic"])]
    texts += [number_of(delta) for delta in (-0.42, 0.0, 0.42, 13.0)]
    assert lacking("".join(texts)) == ""


def test_what_it_lacks_is_known() -> None:
    assert lacking("Früher Gas, déjà vu, żółw, Ωμέγα, Тормози") == ""
    assert lacking("早く brake 🏁") == "早く🏁"


def test_its_licence_is_beside_it_and_so_is_how_it_was_made() -> None:
    licence = FONT.with_name("DejaVuSans-LICENSE.txt").read_text(encoding="utf-8")
    in_font = str(Measured(FONT).font["name"].getDebugName(13))
    assert " ".join(in_font.split()) in " ".join(licence.split())
    assert "Permission is hereby granted, free of charge" in licence
    assert "pyftsubset DejaVuSans.ttf" in licence


def test_it_keeps_the_name_that_its_licence_lets_it_keep() -> None:
    """A modified one may be called neither "Bitstream" nor "Vera", nor "Arev"."""
    name = str(Measured(FONT).font["name"].getDebugName(4))
    assert name == "DejaVu Sans"
    assert FONT.stat().st_size < LARGEST


def test_it_is_found_where_the_package_is() -> None:
    assert (files("coach") / "overlay" / "fonts" / FONT.name).is_file()
