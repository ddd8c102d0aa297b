"""What a text that is spoken may look like. Each check raises ValueError, with what is wrong and the mend."""

from __future__ import annotations

import re
from collections.abc import Iterable

from coach.toml.words import did_you_mean

SAY_WORDS = 4
SHORT_WORDS = 3
"""Most words of a whole wording, its size left out, and of a short one: three do if three do, and a corner's name may
have to follow within four units of information (Gatling 1975, FHWA-RD-75-73: beyond 4, errors are unacceptable)."""
TOPIC_WORDS = 3
SIZE_WORDS = 3
CORNER_WORDS = 3
SENTENCE_WORDS = 4
"""Most words of a topic, of a size or a gain, of a corner's name, and of a sentence beside what stands in braces
(choice, so that what is put together stays within those units)."""
CHARACTERS = 40
"""Most characters of any of them: about 2.4 s of speech at 175 words a minute (choice)."""

_BRACES = re.compile(r"\{([^{}]*)\}")


def checked(given: str, words: int, placeholders: Iterable[str] = (), needed: Iterable[str] = ()) -> str:
    """The text with single spaces: at most so many `words` beside its braces, which name `placeholders` only.

    `needed`: those of the placeholders that must be there.
    """
    known = tuple(placeholders)
    if not given.isprintable():
        raise ValueError("has a line break or a control character: write it in one line without")
    if len(given) > CHARACTERS:
        raise ValueError(f"has {len(given)} characters, more than the {CHARACTERS} that one listens to: shorten it")
    check_braces(given, known)
    found = _BRACES.findall(given)
    missing = [name for name in needed if name not in found]
    if missing:
        raise ValueError(f"lacks {{{missing[0]}}}: put it where that is to be spoken")
    count = len(_words(_BRACES.sub(" ", given)))
    if not count and not found:
        raise ValueError("has no word in it: write one")
    if count > words:
        raise ValueError(f"has {count} words: {words} at most, shorten it")
    return " ".join(given.split())


def check_braces(given: str, known: Iterable[str]) -> None:
    """Whether every brace in the text stands for something."""
    names = [f"{{{name}}}" for name in known]
    for name in _BRACES.findall(given):
        if f"{{{name}}}" not in names:
            mend = did_you_mean(f"{{{name}}}", names) if names else "leave it out"
            raise ValueError(f"{{{name}}} stands for nothing here; {mend}")
    plain = _BRACES.sub(" ", given)
    if "{" in plain or "}" in plain:
        raise ValueError("has a brace without its other half: close it or leave it out")


def _words(plain: str) -> list[str]:
    return [word for word in plain.split() if any(letter.isalnum() for letter in word)]
