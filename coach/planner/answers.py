"""What the driver asks for: silence, words again, the last thing once more, what is left."""

from __future__ import annotations

from coach.planner.phrases import Phrases
from coach.planner.stores import Tank
from coach.planner.waiting import Dropped, Waiting
from coach.planner.wish import STATUS, Rank, Wish
from coach.vocabulary.actions import QUIET, REPEAT, SPEAK
from coach.vocabulary.actions import STATUS as ASKED_STATUS
from coach.vocabulary.events import Action

PATIENCE = 60.0
"""s after which an answer that found no room is out of date (choice)."""


class Answers:
    """Fed the actions and what is said."""

    def __init__(self) -> None:
        self.muted = False
        self.asked_to_speak = False
        self._last: tuple[Wish, str] | None = None

    def said(self, wish: Wish, text: str) -> None:
        """Something was said: this is what is repeated if asked for."""
        self._last = (wish, text)

    def act(self, action: Action, waiting: Waiting, tank: Tank, phrases: Phrases) -> Dropped:
        """Do what was asked for: answers go into `waiting`; what drops out of it comes back."""
        if action.action == QUIET:
            self.muted, self.asked_to_speak = True, False
            return waiting.clear("silent: asked for")
        if action.action == SPEAK:
            self.muted, self.asked_to_speak = False, True
        elif action.action == REPEAT:
            if self._last is None:
                return [(_answer(action, ()), "nothing was said yet")]
            said, text = self._last
            again = _answer(action, (text,), said.about)
            if text not in said.wide:
                again.corner, again.named = said.corner, said.named  # another corner may have been driven since
            return waiting.add(again)
        elif action.action == ASKED_STATUS:
            return self._status(action, waiting, tank, phrases)
        return []

    def _status(self, action: Action, waiting: Waiting, tank: Tank, phrases: Phrases) -> Dropped:
        """One number a sentence: three at once are not kept in mind (1.26 to 1.28)."""
        counts = (
            (phrases.fuel, tank.fuel_laps),
            (phrases.laps, tank.laps_left),
            (phrases.minutes, tank.minutes_left),
        )
        known = [say(count) for say, count in counts if count is not None]
        if not known:
            return [(_answer(action, ()), "the source sends neither fuel nor laps nor time left")]
        return [dropped for text in known for dropped in waiting.add(_answer(action, (text,)))]


def _answer(action: Action, texts: tuple[str, ...], about: str | None = None) -> Wish:
    return Wish(STATUS, Rank.ASKED, action.t, texts, about=about, lap=action.lap, until=action.t + PATIENCE)
