"""The notes under a session: what was not judged and why, and what the stream did."""

from __future__ import annotations

from collections.abc import Mapping

from coach.app.console import plain, words
from coach.app.telling.lines import SENTENCE, Block, wrapped
from coach.review.unjudged import unjudged


def notes(off: Mapping[str, str | None], stream: Mapping[str, int]) -> Block:
    """`off`: what each detector that was off lacked; `stream`: how often each thing happened to it."""
    lines = [line for names, why in unjudged(off) for line in wrapped(_sentence(names, plain(why, SENTENCE)))]
    if stream:
        told = ", ".join(f"{words(what)} {number}" for what, number in sorted(stream.items()))
        lines += wrapped(f"The stream: {told}.")
    return lines


def _sentence(names: str, why: str) -> str:
    return f"Not judged: {names}, because {why}." if names else f"{why}."
