"""Kept sessions as a review over several wants them: with the channels of some of their laps."""

from __future__ import annotations

from dataclasses import replace

from coach.app.telling.numbers import date_of
from coach.review.model import KeptLap, KeptSession
from coach.review.results import Progress
from coach.store.memory import Memory

LAPS = 20
"""clean laps of a session whose channels are read: a median over more says no more (choice)"""


def with_some_channels(memory: Memory, session: KeptSession, most: int = LAPS) -> KeptSession:
    """The session, read without channels, with those of its quickest clean lap, and of others spread evenly over it."""
    for lap in chosen(session.clean_laps, most):
        if lap.id is not None and lap.grid is None:
            lap.grid = memory.grid(lap.id)
    return session


def chosen(laps: list[KeptLap], most: int) -> list[KeptLap]:
    """At most so many of the laps, which have a time: the quickest, and others spread evenly, in their order."""
    if len(laps) <= most:
        return laps
    quickest = min(laps, key=lambda lap: lap.time or 0.0)
    others = [lap for lap in laps if lap is not quickest]
    places = {round(number * (len(others) - 1) / max(most - 2, 1)) for number in range(most - 1)}
    return sorted([quickest, *(others[place] for place in places)], key=lambda lap: lap.index)


def dated(progress: Progress) -> Progress:
    """The same with the sessions' dates, this computer's time, where they are known."""
    for number, day in enumerate(progress.days):
        when = None if day.begun is None else date_of(day.begun)
        if when is not None:
            progress.days[number] = replace(day, label=when)
    return progress
