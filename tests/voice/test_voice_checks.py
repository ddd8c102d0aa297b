import pytest

from voice.checks import CHECK, Expected

KNOWN = {CHECK: 1.5, "a phrase": 0.6, "another phrase": 0.9, "one more of them": 1.0, "and a last one": 0.8}
RIGHT = {text: seconds + 0.02 for text, seconds in KNOWN.items() if text != CHECK}


def test_what_is_as_it_should_be_passes() -> None:
    expected = Expected(dict(KNOWN))
    assert expected.fault(1.52, 1.48, RIGHT) is None
    assert expected.wrong(RIGHT) == set()


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [(0.0, 1.5, "silent"), (1.5, 0.0, "silent"), (1.3, 1.5, "changed its rate"), (1.3, 1.3, "another rate")],
)
def test_the_check_phrase_at_both_ends_tells_a_wrong_rate(first: float, last: float, says: str) -> None:
    fault = Expected(dict(KNOWN)).fault(first, last, RIGHT)
    assert fault is not None
    assert says in fault


def test_a_rate_that_is_another_only_in_between_shows_in_the_sum() -> None:
    """175 in place of 200 words a minute: the start-up race, seen in one start of some hundred (common practice)."""
    slower = {text: seconds * 200 / 175 for text, seconds in RIGHT.items()}
    fault = Expected(dict(KNOWN)).fault(1.5, 1.5, slower)
    assert fault is not None
    assert "4 phrases took" in fault
    assert Expected().fault(1.5, 1.5, slower) is None  # of an unknown voice nothing is known


def test_single_phrases_that_are_cut_or_repeated_are_found() -> None:
    expected = Expected(dict(KNOWN))
    assert expected.wrong(RIGHT | {"a phrase": 0.3}) == {"a phrase"}
    assert expected.wrong(RIGHT | {"a phrase": 1.2}) == {"a phrase"}
    assert expected.wrong(RIGHT | {"another phrase": 0.0}) == {"another phrase"}


def test_of_an_unknown_voice_the_usual_time_a_letter_counts() -> None:
    said = {f"a phrase of {word} letters": 2.6 for word in ("some", "many", "nine", "more")}
    assert Expected().wrong(said) == set()
    assert Expected().wrong(said | {"cut off after a word": 0.3}) == {"cut off after a word"}
    assert Expected().wrong(said | {"silent": 0.0}) == {"silent"}
    assert Expected().wrong(said | {"endless": 30.0}) == {"endless"}
    assert Expected().wrong({}) == set()
