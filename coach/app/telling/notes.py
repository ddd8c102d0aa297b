"""The notes under a session: what was not judged and why, and what the stream did."""

from __future__ import annotations

from collections.abc import Mapping

from coach.app.console import plain, words
from coach.app.telling.lines import SENTENCE, Block, wrapped

WHOLE = ("reference", "full_throttle", "brake_off")
"""detectors that say what is amiss in a whole sentence"""


def notes(off: Mapping[str, str | None], stream: Mapping[str, int]) -> Block:
    """`off`: what each detector that was off lacked; `stream`: how often each thing happened to it."""
    lines = [line for name, lacks in off.items() for line in wrapped(_reason(name, lacks))]
    if stream:
        told = ", ".join(f"{words(what)} {number}" for what, number in sorted(stream.items()))
        lines += wrapped(f"The stream: {told}.")
    return lines


def _reason(name: str, lacks: str | None) -> str:
    """The sentence that says why a detector was off."""
    lacks = plain(lacks or "channels for it", SENTENCE)
    if name in WHOLE:
        return f"{lacks[0].upper()}{lacks[1:]}."
    aid = lacks.removesuffix(" (assist)")
    why = f"this stream has no {lacks}" if aid == lacks else f"the {aid} assist is on"
    return f"Not judged: {words(name)}, because {why}."
