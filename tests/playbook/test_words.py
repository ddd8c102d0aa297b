"""What the shipped languages say: few words, car and road, told apart by ear, and short enough."""

from __future__ import annotations

import re
from functools import cache

import pytest

from coach.planner import rules
from coach.planner.lengths import PhraseLengths
from coach.planner.phrases import TABLED_CORNERS, Phrases
from coach.planner.playbook import Language
from coach.playbook.load import languages, load
from coach.playbook.text import SAY_WORDS, SHORT_WORDS
from coach.vocabulary.faults import FAULTS
from voice.lengths import LengthTable, for_voice

WANTED = 1.5
"""s of speech (1.32: 1.5 s and 2.2 s at most, a choice from measured cues)."""
WITH_SIZE = {"en": 1.6, "de": 1.9}
"""s that a correction with its size takes at most (choice; "zwei Wagenlängen" has five syllables)."""
SHORT_AT = {"en": (2.21, 2.21), "de": (2.21, 2.6)}
"""s that a short wording takes at most at corners up to 12, and beyond: "siebenundzwanzig" alone takes 0.9 s."""

SMALL = {
    "en": {"a", "at", "in", "of", "on", "out", "the", "to", "up", "it", "from", "when", "first", "next"},
    "de": {"am", "an", "ans", "auf", "das", "den", "der", "die", "ein", "erst", "noch", "nicht", "immer", "etwas"},
}
"""Words that are no unit of information (1.28: a unit is a key noun or adjective)."""
NEVER = {
    "en": {
        *("you", "your", "driver", "hands", "feet", "foot", "wrong", "bad", "mistake", "too", "never"),
        *("commit", "lift"),  # weak for recognition: measured at 20 dB over noise
    },
    "de": {
        *("du", "dein", "deine", "dich", "sie", "ihr", "fahrer", "hände", "füße", "fuß", "falsch", "schlecht"),
        *("fehler", "zu", "nie"),
    },
}

CODES = pytest.mark.parametrize("code", ["en", "de"])


@cache
def language(code: str) -> Language:
    return phrases(code)._language


@cache
def phrases(code: str) -> Phrases:
    return Phrases(load(PLAYBOOKS[code]))


@cache
def table(code: str) -> LengthTable:
    return for_voice(language(code).voice)


def corrections(code: str, corner: int | None) -> list[tuple[str, ...]]:
    """Every choice of wordings, the fullest first, that a fault without a size may have there."""
    said = language(code).wordings
    return [
        phrases(code).correction(fault, None, corner, attempt)
        for fault in FAULTS
        for attempt in range(len(said[fault].say))
    ]


@pytest.fixture(scope="module", autouse=True)
def _playbooks(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("words") / "de.toml"
    path.write_text('language = "de"\n', encoding="utf-8")
    PLAYBOOKS["de"] = str(path)


PLAYBOOKS: dict[str, str | None] = {"en": None}


def test_these_are_all_the_languages() -> None:
    assert set(languages()) == set(SMALL) == set(NEVER)


@CODES
def test_every_fault_has_its_words_and_nothing_else_has(code: str) -> None:
    assert sorted(language(code).wordings) == sorted(FAULTS)


@CODES
@pytest.mark.parametrize("fault", FAULTS)
def test_few_words_and_more_than_one_way_to_say_it(code: str, fault: str) -> None:
    wording = language(code).wordings[fault]
    assert 2 <= len(wording.say) <= 3
    assert len(set(wording.say)) == len(wording.say)
    for text in wording.say:
        assert 2 <= len(text.replace("{size}", "").split()) <= SAY_WORDS
    assert "{size}" not in wording.say[0]  # no number where it is told first
    assert 2 <= len(wording.short.split()) <= SHORT_WORDS


@CODES
def test_no_two_faults_sound_the_same(code: str) -> None:
    said = [
        text
        for wording in language(code).wordings.values()
        for text in {" ".join(text.replace("{size}", "").split()).casefold() for text in (*wording.say, wording.short)}
    ]
    assert len(said) == len(set(said))


@CODES
def test_no_message_holds_more_than_four_units(code: str) -> None:
    """1.26: up to 4 units of information (Gatling 1975, FHWA-RD-75-73). A corner and its number are one, and a size."""
    four = language(code).turn.format(number=language(code).numbers[4])
    for text in {text for texts in corrections(code, 4) for text in texts}:
        cue, _, where = text.rpartition(", ")
        assert where == four
        assert units(code, cue) + 1 <= rules.UNITS, text
    for wording in language(code).wordings.values():
        for said in wording.say:
            assert units(code, said.replace("{size}", "")) + 1 <= rules.UNITS, said


def units(code: str, text: str) -> int:
    return len([word for word in text.lower().split() if word not in SMALL[code]])


@CODES
def test_a_cue_speaks_of_car_and_road_and_never_of_the_driver(code: str) -> None:
    words = {word for phrase in phrases(code).all() for word in re.findall(r"[^\W\d_]+", phrase.lower())}
    assert words
    assert not words & NEVER[code]


@CODES
def test_every_text_begins_with_a_capital(code: str) -> None:
    for text in phrases(code).all():
        assert text == text.strip()
        assert text[0].isupper(), text
        assert "  " not in text
        assert "{" not in text


@CODES
def test_the_shipped_table_holds_every_phrase_and_nothing_else(code: str) -> None:
    """Measured by `python -m voice.measure_lengths`; the order does not matter."""
    assert table(code).name == {"en": "en-us-175", "de": "de-175"}[code]
    assert table(code).voice.endswith(f" {language(code).voice}")
    assert sorted(table(code).lengths) == sorted(phrases(code).all())


@CODES
def test_corrections_are_short(code: str) -> None:
    lengths = table(code).lengths
    for texts in corrections(code, None):
        assert [lengths[text] for text in texts] == sorted((lengths[text] for text in texts), reverse=True), texts
        assert lengths[texts[0]] <= WANTED, texts
    for fault, wording in language(code).wordings.items():
        for attempt in range(len(wording.say)):
            for size in (0.1, 5.0, 9.0, 50.0):
                text = phrases(code).correction(fault, size, None, attempt)[0]
                assert lengths[text] <= WITH_SIZE[code], text


@CODES
def test_the_short_form_with_a_corner_fits_the_cap(code: str) -> None:
    lengths = table(code).lengths
    for corner in TABLED_CORNERS:
        for texts in (*corrections(code, corner), *(phrases(code).reminder(fault, corner) for fault in FAULTS)):
            assert lengths[texts[-1]] <= lengths[texts[0]]
            assert lengths[texts[-1]] <= SHORT_AT[code][corner > 12], texts[-1]


@CODES
def test_the_whole_form_fits_the_cap_at_most_circuits(code: str) -> None:
    """Corners up to 12: that many most circuits have (common practice)."""
    lengths = table(code).lengths
    for corner in range(1, 13):
        for texts in corrections(code, corner):
            assert lengths[texts[0]] <= rules.LONGEST + 0.06, texts[0]


@CODES
def test_the_other_sentences_fit_the_cap(code: str) -> None:
    said, lengths = phrases(code), table(code).lengths
    once = [said.focus(fault) for fault in FAULTS] + [said.mended(fault, None)[0] for fault in FAULTS] + [said.within()]
    once += [text for n in range(1, 41) for text in (said.fuel(n), said.laps(n), said.minutes(n))]
    once += [text for corner in range(1, 13) if (text := said.costs(corner, 0.2))]
    once += [text for gain in (0.1, 0.5, 0.7, 1.0, 3.0) if (text := said.best(gain))]
    assert {text: lengths[text] for text in once if lengths[text] > rules.LONGEST} == {}
    for fault in FAULTS:
        with_gain, plain = said.mended(fault, 0.2)
        assert lengths[plain] < lengths[with_gain] <= rules.LONGEST + 0.1, with_gain


@CODES
def test_an_estimate_is_too_long_never_too_short(code: str) -> None:
    known, unknown = PhraseLengths(table(code).lengths), PhraseLengths({})
    short = {text: known.of(text) - unknown.of(text) for text in phrases(code).all()}
    assert {text: by for text, by in short.items() if by > 0} == {}


@pytest.mark.parametrize(
    ("code", "n", "word"),
    [
        *(
            ("en", 1, "one"),
            ("en", 13, "thirteen"),
            ("en", 20, "twenty"),
            ("en", 34, "thirty-four"),
            ("en", 99, "ninety-nine"),
        ),
        *(("de", 1, "eins"), ("de", 16, "sechzehn"), ("de", 17, "siebzehn"), ("de", 21, "einundzwanzig")),
        *(("de", 30, "dreißig"), ("de", 71, "einundsiebzig"), ("de", 99, "neunundneunzig")),
    ],
)
def test_numbers_are_words(code: str, n: int, word: str) -> None:
    """Spelling as in any dictionary (from memory)."""
    assert language(code).numbers[n] == word


@CODES
def test_there_is_a_word_for_every_number_up_to_99(code: str) -> None:
    numbers = language(code).numbers
    assert len(numbers) == len(set(numbers)) == 100
    joined = {"en": lambda tens, ones: f"{tens}-{ones}", "de": lambda tens, ones: f"{ones}und{tens}"}[code]
    for n in range(21, 100):
        if n % 10:
            ones = "ein" if code == "de" and n % 10 == 1 else numbers[n % 10]
            assert numbers[n] == joined(numbers[n - n % 10], ones)


@pytest.mark.parametrize(
    ("code", "fault", "size", "said"),
    [
        ("en", "early_braking", 2.0, "Brake a touch later"),
        ("en", "early_braking", 5.0, "Brake a car length later"),
        ("en", "late_turn_in", 8.0, "Steer two car lengths sooner"),
        ("en", "early_braking", 40.0, "Brake much later"),
        ("en", "late_throttle", 0.2, "Throttle a touch sooner"),
        ("en", "over_slowed", 4.0, "Carry a good bit more speed"),
        ("de", "early_braking", 2.0, "Etwas später bremsen"),
        ("de", "early_braking", 5.0, "Eine Wagenlänge später bremsen"),
        ("de", "late_turn_in", 8.0, "Zwei Wagenlängen früher einlenken"),
        ("de", "late_throttle", 0.6, "Deutlich früher Gas"),
        ("de", "over_slowed", 1.0, "Etwas mehr Schwung mitnehmen"),
    ],
)
def test_a_size_is_in_words(code: str, fault: str, size: float, said: str) -> None:
    assert phrases(code).correction(fault, size, None, attempt=1)[0] == said
    assert said not in phrases(code).correction(fault, size, 4, attempt=1)[0]


@pytest.mark.parametrize(
    ("code", "seconds", "said"),
    [
        ("en", 0.04, None),
        ("en", 0.1, "Turn four costs a tenth"),
        ("en", 0.5, "Turn four costs half a second"),
        ("en", 1.1, "Turn four costs a second"),
        ("en", 2.0, "Turn four costs over a second"),
        ("de", 0.2, "Kurve vier kostet zwei Zehntel"),
        ("de", 1.0, "Kurve vier kostet eine Sekunde"),
    ],
)
def test_seconds_are_in_words(code: str, seconds: float, said: str | None) -> None:
    assert phrases(code).costs(4, seconds) == said


@CODES
def test_seconds_in_words_are_the_nearest_tenth_up_to_half_a_second(code: str) -> None:
    gains = language(code).gains
    assert [step.below for step in gains[:5]] == [pytest.approx(0.05 + 0.1 * n) for n in range(5)]
    assert [step.below for step in gains[5:]] == [0.75, 0.95, 1.25, None], "beyond, the words are easily misheard"


def test_a_named_cue_ends_with_its_corner_and_a_reminder_begins_with_it() -> None:
    assert phrases("en").correction("late_throttle", None, 4) == ("Throttle sooner, turn four",)
    assert phrases("en").correction("over_slowed", None, 12) == (
        "Carry more speed, turn twelve",
        "More speed, turn twelve",
    )
    assert phrases("en").correction("over_slowed", None, None) == ("Carry more speed", "More speed")
    assert phrases("en").reminder("over_slowed", 12) == ("Turn twelve, carry more speed", "Turn twelve, more speed")
    assert phrases("en").reminder("over_slowed", 12, attempt=1) == ("Turn twelve, more speed",)
    assert phrases("en").correction("no_such_fault", None, 4) == ()
    assert phrases("en").correction("late_throttle", None, 120) == ("Throttle sooner, turn 120",)
    assert phrases("en").laps(5) == "Five laps left"


def test_a_voice_without_a_table_is_estimated() -> None:
    assert for_voice(None).name == "en-us-175"
    other = for_voice("fr")
    assert (other.name, other.voice, other.lengths) == ("estimated", "fr", {})
