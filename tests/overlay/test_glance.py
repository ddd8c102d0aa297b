"""How long what is shown takes to be read, by the model of glance.py."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from coach.overlay import glance
from coach.overlay.glance import BUDGET, fits, reading_time
from coach.overlay.scales import number_of
from coach.playbook.text import SHORT_WORDS

LANGUAGES = Path(glance.__file__).parents[1] / "playbook" / "languages"
NHTSA_GLANCE = 2.0
"""s: 78 FR 24817, mean of glances at most, and no more than 15 % of them above."""
CRASHES = 1.7
"""s from which glances off the road mark what comes before a crash (Liang, Lee, Yekhshatyan); as a limit a choice."""
FIXATIONS = (0.1, 2.0)
"""s that a fixation lasts (ISO 15007-1:2014, clause 3)."""


def shorts() -> list[tuple[str, str]]:
    found = []
    for path in sorted(LANGUAGES.glob("*.toml")):
        wordings = tomllib.loads(path.read_text(encoding="utf-8"))["wordings"]
        found += [(path.stem, wording["short"]) for wording in wordings.values()]
    return found


def test_the_budget_is_within_the_published_ones() -> None:
    """1.5 s is the open shutter of an occlusion test (ISO 16673, from memory)."""
    assert BUDGET == 1.5
    assert BUDGET < CRASHES < NHTSA_GLANCE
    assert FIXATIONS[0] < glance.FIXATION < FIXATIONS[1]


def test_every_number_that_can_be_shown_is_read_in_time() -> None:
    shown = {number_of(hundredths / 100) for hundredths in range(-12_000, 12_001)}
    assert len(shown) > 2000
    assert max(map(reading_time, shown)) <= 1.0
    assert {"0.00", "+99.9", "\N{MINUS SIGN}0.42"} <= shown


@pytest.mark.parametrize(("language", "short"), shorts())
def test_every_short_wording_is_read_in_time(language: str, short: str) -> None:
    assert len(short.split()) <= SHORT_WORDS
    assert fits(short), language


def test_every_language_is_looked_at() -> None:
    assert {language for language, _ in shorts()} >= {"de", "en"}
    assert len(shorts()) >= 40


@pytest.mark.parametrize(
    "text",
    [
        "Go to it now",
        "You braked too early again",
        "Nachfolgende Rechtskurve abkürzen",
        "Geschwindigkeitsbegrenzung Boxengassenausfahrt",
        "1.234 2.345 3.456",
    ],
)
def test_what_takes_longer_is_known(text: str) -> None:
    """Four words, however short, a sentence, three long words, two very long ones, three numbers."""
    assert not fits(text)


def test_the_model_by_hand() -> None:
    """0.1 s there and back, 0.35 s for each eight letters of a word or four characters of a number."""
    assert reading_time("") == pytest.approx(0.2)
    assert reading_time("0.00") == pytest.approx(0.55)
    assert reading_time("+0.42") == pytest.approx(0.9)
    assert reading_time("Throttle sooner") == pytest.approx(0.9)
    assert reading_time("Downshift later") == pytest.approx(1.25)


def test_more_to_read_never_takes_less() -> None:
    text = "Brake a touch later now"
    times = [reading_time(text[:end]) for end in range(len(text) + 1)]
    assert times == sorted(times)
