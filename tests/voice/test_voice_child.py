"""Which of a system's own voices is taken. Lists as the drivers of Windows and macOS give them, made here."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from coach.playbook.load import load
from coach.vocabulary.errors import InputError
from voice.child import _choose


@dataclass
class Listed:
    id: str
    name: str
    languages: list[str | bytes] = field(default_factory=list)


WINDOWS = [Listed("TOKENS/H", "Hanna Desktop - German", ["de-DE"]), Listed("TOKENS/Z", "Zoe Desktop", ["en-US"])]
MACOS = [
    Listed("speech.kim", "Kim", ["en_GB"]),
    Listed("speech.ann", "Ann", ["en_US"]),
    Listed("speech.eli", "Eli", ["en_US"]),
    Listed("speech.uta", "Uta", ["de_DE"]),
]
OLD = [Listed("one", "Otto"), Listed("two", "Zoe - English (United States)"), Listed("three", "Ed", [b"\x05en"])]


@pytest.mark.parametrize(
    ("voices", "wanted", "default", "taken"),
    [
        (WINDOWS, "en-us", "TOKENS/H", "TOKENS/Z"),
        (WINDOWS, "de", "TOKENS/Z", "TOKENS/H"),
        (WINDOWS, "zoe desktop", "TOKENS/H", "TOKENS/Z"),
        (WINDOWS, "tokens/h", "TOKENS/Z", "TOKENS/H"),
        (WINDOWS, None, "TOKENS/H", "TOKENS/Z"),
        (MACOS, "en-us", "speech.uta", "speech.ann"),
        (MACOS, "en-us", "speech.eli", "speech.eli"),
        (MACOS, "en-us", "speech.kim", "speech.ann"),
        (MACOS, "en-au", "speech.uta", "speech.kim"),
        (MACOS, "de-at", "speech.kim", "speech.uta"),
        (MACOS, None, "speech.kim", "speech.kim"),
        (OLD, "en-us", "one", "two"),
        (OLD, None, "three", "three"),
        (WINDOWS[:1], None, "TOKENS/H", "TOKENS/H"),
    ],
)
def test_a_voice_is_chosen_by_id_name_or_language(
    voices: list[Listed], wanted: str | None, default: str, taken: str
) -> None:
    assert _choose(voices, wanted, default) == taken


def test_what_a_playbook_asks_for_is_there_on_other_systems() -> None:
    for voices in (WINDOWS, MACOS, OLD):
        assert _choose(voices, load().language.voice, voices[0].id)


@pytest.mark.parametrize("wanted", ["fr", "e", "Zo", "", "english"])
def test_one_that_is_not_there_is_an_error_with_those_that_are(wanted: str) -> None:
    with pytest.raises(InputError, match="choose from Hanna Desktop - German, Zoe Desktop"):
        _choose(WINDOWS, wanted, "TOKENS/H")
