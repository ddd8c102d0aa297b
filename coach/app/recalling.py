"""When the memory is asked what it knows: once the stream has named driver, car and circuit, and each time they change.

What it answers is an input of the session like a button's press, and goes through the same queue.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from coach.store.naming import label
from coach.store.recalled import NOBODY, Labels, Recalled
from coach.vocabulary.errors import FormatError
from coach.vocabulary.events import Event, Run
from coach.vocabulary.sample import Sample

WAIT = 2.0
"""s of the stream that a name is waited for which has not come: a layout's labels come in packets of their own, about
once a second (choice)."""


class Knows(Protocol):
    """The memory as it is asked."""

    def recall(self, driver: str | None, car: str | None, track: str | None) -> Recalled | None:
        """What is kept of them, None for nothing."""
        ...


class Recalling:
    """A watcher, which hears where a session begins; `ask` is given each sample behind its events."""

    def __init__(self, memory: Knows, say: Callable[[str], None]) -> None:
        """`say` takes lines for a person."""
        self._memory, self._say = memory, say
        self._labels = NOBODY
        self._asked: Labels | None = None
        self._since: float | None = None
        """s of the stream: the session began, or the clock was turned back"""
        self._has_answered = False

    def take(self, event: Event) -> None:
        """Another session begins with a run."""
        if isinstance(event, Run):
            self._labels, self._asked, self._since = NOBODY, None, None

    def ask(self, sample: Sample) -> Recalled | None:
        """What the memory knows, where it is time to ask; None otherwise, and where it never knew anything."""
        labels = (sample.driver or None, sample.car or None, sample.track or None)
        if labels != self._labels:  # what is not sent any more holds
            driver, car, track = (new or old for new, old in zip(labels, self._labels, strict=True))
            self._labels = (driver, car, track)
        if self._labels == self._asked:
            return None
        if self._since is None or sample.t < self._since:
            self._since = sample.t
        if not all(self._labels) and sample.t - self._since < WAIT:
            return None
        self._asked = self._labels
        recalled = self._checked(self._memory.recall(*self._labels))
        if recalled is None and not self._has_answered:
            return None
        self._has_answered = True
        if recalled is None:
            recalled = Recalled()  # what was recalled of another is not for those who join
        driver, car, track = (name if name == label(name) else None for name in self._labels)  # else no text to record
        return replace(recalled, of=(driver, car, track))

    def _checked(self, recalled: Recalled | None) -> Recalled | None:
        try:
            return None if recalled is None else recalled.checked()
        except FormatError as error:
            self._say(f"{error}: going on without what is remembered of it")
            return None
