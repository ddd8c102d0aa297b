"""No voice at all, where a voice could be: for a session that was asked to be silent."""

from __future__ import annotations

from coach.vocabulary.events import Event
from voice import lengths
from voice.lengths import LengthTable


class Silent:
    """Takes what a `Voice` takes and does nothing; the planner's lengths are the shipped table's."""

    @property
    def table(self) -> LengthTable:
        """The shipped table."""
        return lengths.load()

    def take(self, event: Event) -> None:
        """Nothing."""

    def mute(self, on: bool) -> None:
        """Nothing."""

    def close(self, timeout: float = 2.0) -> None:
        """Nothing."""
