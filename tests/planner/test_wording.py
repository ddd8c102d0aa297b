import re

import pytest

from coach.planner import rules
from coach.planner.lengths import PhraseLengths
from coach.planner.wording import TABLED_CORNERS, WORDINGS, all_phrases, number, phrases
from coach.vocabulary.faults import FAULTS
from voice.lengths import load


def test_every_fault_has_a_wording_and_nothing_else_has() -> None:
    assert list(WORDINGS) == list(FAULTS)


@pytest.mark.parametrize("fault", FAULTS)
def test_two_to_four_words_and_at_most_three_for_the_short_form(fault: str) -> None:
    assert 2 <= len(WORDINGS[fault].full.split()) <= 4
    assert 2 <= len(WORDINGS[fault].short.split()) <= 3


def test_no_two_faults_sound_the_same() -> None:
    said = [text for wording in WORDINGS.values() for text in {wording.full, wording.short}]
    assert len(said) == len(set(said))


@pytest.mark.parametrize("fault", FAULTS)
def test_no_message_holds_more_than_four_units(fault: str) -> None:
    """1.26: up to 4 units of information (Gatling 1975, FHWA-RD-75-73); 1.28: a unit is a key noun or adjective.
    Small words carry none; a corner and its number are one."""
    small = {"a", "at", "in", "of", "on", "out", "the", "to", "up", "it"}
    for text in phrases(fault, 4):
        cue, _, where = text.partition(", ")
        assert where == "turn four"
        assert len([word for word in cue.lower().split() if word not in small]) + 1 <= rules.UNITS


def test_a_cue_speaks_of_car_and_road_and_never_of_the_driver() -> None:
    words = {word for phrase in all_phrases() for word in re.findall(r"[a-z]+", phrase.lower())}
    assert not words & {"you", "your", "driver", "hands", "feet", "foot", "wrong", "bad", "mistake", "too"}
    assert not words & {"commit", "lift"}, "weak for recognition: measured at 20 dB over noise"


@pytest.mark.parametrize(
    ("n", "word"), [(1, "one"), (13, "thirteen"), (20, "twenty"), (34, "thirty-four"), (120, "120")]
)
def test_corner_numbers_are_words(n: int, word: str) -> None:
    assert number(n) == word


def test_a_named_cue_ends_with_its_corner() -> None:
    assert phrases("late_throttle", 4) == ("Throttle sooner, turn four",)
    assert phrases("over_slowed", 12) == ("Carry more speed, turn twelve", "More speed, turn twelve")
    assert phrases("over_slowed", None) == ("Carry more speed", "More speed")
    assert phrases("no_such_fault", 4) == ()


def test_the_shipped_table_holds_every_phrase_and_nothing_else() -> None:
    assert list(load("en-us-175").lengths) == all_phrases()
    assert len(all_phrases()) == len(set(all_phrases()))


def test_the_short_form_is_the_shorter_to_say_and_fits_the_cap() -> None:
    """1.32: speech of 1.5 s, cap 2.2 s (choice). Two-digit corners from 25 on may pass it by a breath."""
    lengths = load("en-us-175").lengths
    for fault in FAULTS:
        for corner in (None, *TABLED_CORNERS):
            said = [lengths[text] for text in phrases(fault, corner)]
            assert said == sorted(said, reverse=True)
            assert said[-1] <= rules.LONGEST + (0.02 if corner is not None and corner > 24 else 0.0)
            assert corner is not None or said[0] <= 1.5


def test_a_phrase_outside_the_table_is_estimated_too_long_never_too_short() -> None:
    lengths, unknown = PhraseLengths(load("en-us-175").lengths), PhraseLengths({})
    assert lengths.of("Throttle sooner") == 0.75
    assert all(unknown.of(phrase) >= lengths.of(phrase) for phrase in all_phrases())
    assert unknown.of("Throttle sooner") < 2.5
