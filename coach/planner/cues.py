"""The events that the planner gives back, from the wishes that they speak of."""

from __future__ import annotations

from dataclasses import replace

from coach.planner.wish import Wish
from coach.vocabulary.events import Cue


def spoken(wish: Wish, t: float, lap: int, text: str, length: float, deadline: float) -> Cue:
    """A cue that starts at `t` (s) and takes `length` s; `deadline` s is where the driver gets busy again."""
    return replace(_silent(wish, t, lap, text), spoken=True, starts=t, ends=t + length, deadline=deadline)


def held_back(wish: Wish, t: float, lap: int, why_not: str) -> Cue:
    """A cue that is not said, and why; its text is what would have been said at the corner itself."""
    return replace(_silent(wish, t, lap, next(iter(wish.texts), "")), why_not=why_not)


def _silent(wish: Wish, t: float, lap: int, text: str) -> Cue:
    return Cue(
        t=t,
        lap=lap,
        kind=wish.kind,
        about=wish.about,
        of=wish.of,
        corner=wish.corner,
        text=text,
        spoken=False,
        starts=None,
        ends=None,
        deadline=None,
        why_not=None,
    )
