"""The lengths that a drive is planned by: fixed before its first sample, of phrases that are not rendered yet too."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from coach.planner.phrases import Phrases
from coach.playbook.load import load
from voice import lengths
from voice.bank import Bank, build
from voice.checks import CHECK
from voice.planned import DOUBT, ENOUGH, KNOWN_DOUBT, SCALED_DOUBT, planned
from voice.render import Facts
from voice.shelf import Shelf
from voice.store import Identity

ENGLISH, OTHER = Facts("espeak-ng 1.52.0", "en-us", "wheel"), Facts("made 1", "a-voice", "system")
NEARLY = 0.01
"""s by which one may be longer: the table is rounded up to it, and no two runs are quite alike."""
SAID = [f"phrase number {word} of all" for word in ("one", "two", "three", "four", "five", "six", "seven")]
SAID += [f"{text} again" for text in SAID] + [f"and {text}, again and again" for text in SAID]


def bank_of(seconds: dict[str, float], folder: Path, facts: Facts = OTHER, rate: int = 175) -> Bank:
    shelf = Shelf(folder, Identity(facts.engine, facts.voice, rate), pytest.fail)
    return Bank(facts, rate, seconds, {}, 0, 0.0, shelf)


def test_what_is_measured_counts_and_the_rest_is_the_shipped_table_of_the_same_voice(tmp_path: Path) -> None:
    shipped = lengths.load().lengths
    later = [text for text in shipped if text != "Brake later"][:100]
    found = planned(bank_of({"Brake later": 0.601}, tmp_path, ENGLISH), ["Brake later", *later])
    assert found.lengths["Brake later"] == 0.61
    for text in later:
        assert found.lengths[text] == pytest.approx(shipped[text] + KNOWN_DOUBT, abs=0.0101)
        assert found.lengths[text] >= shipped[text] + KNOWN_DOUBT - 1e-9
    assert set(found.lengths) == {"Brake later", *later}
    assert (found.rate, found.voice) == (175, "espeak-ng 1.52.0 en-us")


def test_at_another_rate_the_table_goes_as_its_inverse(tmp_path: Path) -> None:
    """espeak-ng's rate is words a minute (its manual page)."""
    shipped = lengths.load().lengths
    found = planned(bank_of({}, tmp_path, ENGLISH, rate=200), [CHECK])
    scaled = shipped[CHECK] * 175 / 200 * (1 + SCALED_DOUBT)
    assert found.lengths[CHECK] == pytest.approx(scaled + KNOWN_DOUBT, abs=0.0101)


@pytest.mark.parametrize(
    ("language", "voice", "rate"),
    [("en", "en-us", 175), ("en", "en-us", 150), ("en", "en-us", 110), ("en", "en-gb", 175), ("de", "de", 175)],
)
def test_real_speech_takes_no_longer_than_planned(language: str, voice: str, rate: int, tmp_path: Path) -> None:
    """Of what names a corner or has a number: a voice with a table, at other rates, and one that has none."""
    book = tmp_path / "book.toml"
    book.write_text(f'language = "{language}"\n')
    phrases = Phrases(load(str(book)))
    later = [*phrases.at([9, 17, 22])[::4], *phrases.counted([7, 12])[::4]]
    asked = (voice, rate, tmp_path / "cache", pytest.fail, lambda *_: None, lambda: False)
    found = planned(build(phrases.anywhere(), *asked), phrases.all())
    took = build(later, *asked).seconds
    assert set(took) == set(later)
    longer = {text: seconds - found.lengths[text] for text, seconds in took.items()}
    assert {text: by for text, by in longer.items() if by > NEARLY} == {}


def test_another_voice_is_estimated_from_what_was_measured_of_it(tmp_path: Path) -> None:
    """Speech of 0.1 s a letter and 0.3 s a comma, which the shipped voice is far from."""

    def truth(text: str) -> float:
        return 0.2 + 0.1 * len(text) + 0.3 * text.count(",")

    bank = bank_of({text: truth(text) for text in SAID}, tmp_path)
    later = ["phrase number eleven, again", "and phrase number twelve of all of them"]
    found = planned(bank, [*later, SAID[0]])
    for text in later:
        assert found.lengths[text] == pytest.approx(truth(text) + DOUBT, abs=0.03)
    assert found.lengths[SAID[0]] == math.ceil(round(100 * truth(SAID[0]), 6)) / 100


def test_another_voice_is_as_much_slower_in_what_a_shipped_table_has(tmp_path: Path) -> None:
    """Whatever its letters: 1.3 times as long and 0.1 s more, in the language that its phrases are of."""
    for name in lengths.names():
        shipped = lengths.load(name).lengths
        texts = [text for text in shipped if shipped[text] != max(shipped.values())]
        bank = bank_of({text: 1.3 * shipped[text] + 0.1 for text in texts[:ENOUGH]}, tmp_path)
        found = planned(bank, [*texts[:200], "not in any table"])
        for text in texts[ENOUGH:200]:
            assert found.lengths[text] == pytest.approx(1.3 * shipped[text] + 0.1 + DOUBT, abs=0.0101)
        assert found.lengths["not in any table"] > 0


def test_the_estimate_errs_long(tmp_path: Path) -> None:
    """One phrase in ten takes 0.2 s longer than the others of its kind: so may one that is to come."""
    seconds = {text: 0.06 * len(text) + (0.2 if n % 10 == 0 else 0.0) for n, text in enumerate(SAID)}
    found = planned(bank_of(seconds, tmp_path), ["phrase number nine of all"])
    assert found.lengths["phrase number nine of all"] >= 0.06 * len("phrase number nine of all") + 0.2


def test_with_few_phrases_of_another_voice_the_rest_is_left_to_the_planner(tmp_path: Path) -> None:
    assert planned(bank_of({"Brake later": 0.6}, tmp_path), ["Brake sooner"]).lengths == {"Brake later": 0.6}
    assert planned(bank_of({}, tmp_path), ["Brake sooner"]).lengths == {}


def test_the_name_is_that_of_the_content(tmp_path: Path) -> None:
    bank = bank_of({"Brake later": 0.6}, tmp_path, ENGLISH)
    one, other = planned(bank, ["Brake sooner"]), planned(bank, ["Brake harder"])
    assert one.name.startswith("en-us-175-")
    assert one.name != other.name
    assert planned(bank, ["Brake sooner"]) == one
    assert planned(bank) == bank.table
