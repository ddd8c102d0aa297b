"""What the texts in the terminal share: their width, how they wrap, count and name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import shorten, wrap

from coach.app.console import plain

WIDTH = 80
"""columns of every text: what a terminal has if nobody made it wider"""
LABEL = 38
"""characters of a stream's own label: two stand on one line"""
SENTENCE = 400
"""characters that are shown of a sentence in which a label may stand"""

Block = list[str]
"""Lines of one part of a text, its title first; an empty one is left out."""


def wrapped(text: str, first: str = "", other: str | None = None) -> list[str]:
    """`text` on as many lines as it needs: `first` before the first, `other` (as many blanks) before the others."""
    hang = " " * len(first) if other is None else other
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=hang) or [first.rstrip()]


def told(text: str, first: str = "", other: str | None = None) -> list[str]:
    """A sentence that was made from a drive, safe to print, wrapped."""
    return wrapped(plain(text, SENTENCE), first, other)


def laps_of(numbers: Iterable[int], room: int) -> str:
    """`2 4 6`, cut short where it would pass `room` characters."""
    return shorten(" ".join(str(number) for number in sorted(set(numbers))), room, placeholder=" ...")


def driven(track: str | None, car: str | None) -> str:
    """`Brack Mere, Pellow R`, as the stream names them."""
    return f"{plain(track or 'a track without a name', LABEL)}, {plain(car or 'a car without a name', LABEL)}"


def text_of(blocks: Iterable[Sequence[str]]) -> str:
    """The whole text: blocks apart by an empty line, no trailing spaces, one newline at the end."""
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block) + "\n"
