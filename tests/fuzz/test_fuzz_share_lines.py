"""The lines of a shared drive, one by one: each is read or refused by one FormatError."""

from __future__ import annotations

import contextlib

from hypothesis import given
from hypothesis import strategies as st

from coach.vocabulary.actions import INSTRUCTORS
from coach.vocabulary.errors import FormatError
from feeds.sharing import Answer, Missed
from feeds.sharing.lines import Greeting, greeting_line, line_of, read_aside, read_asked, read_greeting


def check(data: bytes) -> None:
    """A line as either side may get it."""
    for read in (read_greeting, read_aside):
        with contextlib.suppress(FormatError):
            assert isinstance(read(data), (Greeting, Missed, Answer, type(None)))
    with contextlib.suppress(FormatError):
        action = read_asked(data.decode(errors="replace"))
        assert action.split()[0] in INSTRUCTORS
        assert action.isprintable()


TARGETS = {"share": check}
SEEDS = [
    greeting_line(Greeting("a1", "Ann", True)),
    line_of(refused="not allowed"),
    line_of(missed=12),
    line_of(taken="topic late_throttle"),
    b"topic late_throttle",
    b"next",
]


@given(st.binary(max_size=200))
def test_any_line(data: bytes) -> None:
    check(data)
